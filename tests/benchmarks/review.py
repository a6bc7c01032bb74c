"""How long a review of very many cases takes, and what memory: `python tests/benchmarks/review.py`.

    python tests/benchmarks/review.py 10000 100000 [1000000] [--keep FOLDER] [--cold]
        [--one-file] [--packs-only]

For each number, so many cases are written (a short loop, some 10 kB a case) in two forms: one file
each, and closed cases packed by the month as `diagnose cases pack` does it.  Each form is reviewed
twice in a process of its own: the first time every case is taken apart and the digest written, the
second time only the digest is read.  All four must come to the same answer.

Baselines of the same run: `read`, a bare loop on every core that opens and reads the files in the
order in which they lie on the disk, and does nothing else (what the system itself takes for them);
and the reader that folds a case event by event, timed on 300 of the files.

Processor time and memory include the processes that a review starts; the peak is that of the first
process and, for each further one, that of the largest: more was never held at once.
`--cold` has the system forget all files before each first review (Linux, as root), `--one-file`
also reviews the cases written one after the other into one file, `--packs-only` leaves out the
reviews of separate files: writing and removing a million takes far longer than to review them.
A million cases need 22 GB of disk and are removed in the end unless `--keep` is given.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta, timezone
from itertools import groupby
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402

LOOPS_PER_CASE = 0.05
CAUSES = (
    ("W3+", "open"), ("TB1", "high resistance"), ("R1", "drift"), ("F1", "open"),
    ("G1", "dead"), ("LT-214", "zero error"),
)  # fmt: skip

CHILD = """
import hashlib, json, resource, sys, time
sys.path.insert(0, sys.argv[1])
start = time.perf_counter()
from diagnose.review.processes import cores
from diagnose.review.records import Records, Source
from diagnose.review.review import review
records = Records.open([Source(sys.argv[2], "generated")])
opened = time.perf_counter()
found = review(records)
end = time.perf_counter()
own = resource.getrusage(resource.RUSAGE_SELF)
others = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps({
    "cases": found.endings.cases, "answer": hashlib.sha256(repr(found).encode()).hexdigest(),
    "opening": opened - start, "all": end - start,
    "processor": own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime,
    "MB": (own.ru_maxrss + cores() * others.ru_maxrss) / 1024,
}))
"""


FOLDED = 300
"""Cases on which the reader that folds event by event is timed."""

VARIANTS = 500
"""Hunts written out; a case is one of them with a tag and a day of its own."""


def generate(count: int) -> Iterator[tuple[str, str, bytes]]:
    """Month, name and text of cases: a complaint, four readings with rankings, a cause or none.

    They come month by month.
    """
    rng = np.random.default_rng(1)
    variants = [_hunt(rng) for _ in range(VARIANTS)]
    tags = max(20, round(count * LOOPS_PER_CASE))
    days = np.sort(rng.integers(5 * 365, size=count)).tolist()
    first = date(2020, 1, 1)
    for number, (tag, day, variant) in enumerate(
        zip(
            rng.integers(tags, size=count).tolist(),
            days,
            rng.integers(VARIANTS, size=count).tolist(),
            strict=True,
        )
    ):
        name, when = f"LT-{tag:05d}", (first + timedelta(days=day)).isoformat()
        text = variants[variant].replace(b"{tag}", name.encode()).replace(b"{day}", when.encode())
        yield when[:7], f"{name}_{when}_{number:07d}", text


def in_files(folder: Path, count: int) -> None:
    """One file each."""
    folder.mkdir(parents=True)
    for _, name, text in generate(count):
        with open(folder / f"{name}.jsonl", "wb") as file:
            file.write(text)


def in_packs(folder: Path, count: int) -> None:
    """One file for all cases of a month."""
    from diagnose.casework.packs import PACK, write_pack

    folder.mkdir(parents=True)
    for month, cases in groupby(generate(count), key=lambda case: case[0]):
        write_pack(folder / f"{month}{PACK}", ((name, text) for _, name, text in cases))


def _hunt(rng: np.random.Generator) -> bytes:
    """The lines of one hunt, with marks where its tag and its day belong."""
    from diagnose.casework import events as e
    from diagnose.casework.events import to_record
    from diagnose.loops.record import loop_to_record
    from small_loop import LOOP

    at = datetime(2000, 1, 1, 6, tzinfo=timezone(timedelta(hours=1)))
    opened = to_record(e.Opened("{tag}", loop_to_record(LOOP), "0.1.0", "two-wire-input"), 1, at)
    text = json.dumps(opened) + "\n" + "".join(_lines(rng, at))
    return text.replace("2000-01-01", "{day}").encode()


def _lines(rng: np.random.Generator, at: datetime) -> list[str]:
    part, fault = CAUSES[int(rng.choice(len(CAUSES), p=(0.3, 0.25, 0.1, 0.1, 0.05, 0.2)))]
    others = [cause for cause in CAUSES if cause != (part, fault)]
    told: list[dict[str, object]] = [{"event": "complained", "text": "complaint reads low"}]
    for step in range(4):
        lead = min(0.98, 0.3 + 0.2 * step + 0.1 * rng.random())
        top = [[part, fault, [], round(lead, 6)]]
        top += [[*other, [], round((1 - lead) / 6, 6)] for other in others]
        told += [
            {"event": "ranked", "top": top, "unexplained": round((1 - lead) / 6, 6),
             "versions": {"diagnose": "0.1.0", "engine": "0123456789ab", "numpy": "2"}},
            {"event": "advice given", "text": "V X21:7 X20:0", "gain_bits": 0.5, "minutes": 3.0},
            {"event": "reading", "text": "V X21:7 X20:0 3.1 V", "place": "cabinet",
             "minutes": 3.0, "advised": True},
        ]  # fmt: skip
    if rng.random() < 0.6:
        told.append({"event": "cause confirmed", "part": part, "fault": fault, "evidence": "seen"})
        told.append({"event": "closed", "ending": "cause confirmed"})
    else:
        told.append({"event": "closed", "ending": "cause not found"})
    lines = []
    for number, record in enumerate(told, 2):
        at += timedelta(minutes=1)
        head = {"schema": 1, "number": number, "event": record.pop("event"), "at": at.isoformat()}
        lines.append(json.dumps(head | record) + "\n")
    return lines


def reviewed(folder: Path) -> dict[str, Any]:
    """One review in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(ROOT), str(folder)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return json.loads(done.stdout)


def folded(folder: Path) -> float:
    """Seconds a case for the reader that folds events one by one."""
    from diagnose.casework.reader import read_case

    with os.scandir(folder) as entries:
        paths = [Path(entry.path) for entry, _ in zip(entries, range(FOLDED), strict=False)]
    start = time.process_time()
    for path in paths:
        assert read_case(path).case.tag
    return (time.process_time() - start) / len(paths)


BARE = """
import os, sys, time
with os.scandir(sys.argv[1]) as entries:
    names = [name for _, name in sorted((entry.inode(), entry.name) for entry in entries)]
place, parts = int(sys.argv[2]), int(sys.argv[3])
folder, size = os.open(sys.argv[1], os.O_RDONLY), 0
for name in names[place * len(names) // parts:(place + 1) * len(names) // parts]:
    file = os.open(name, os.O_RDONLY, dir_fd=folder)
    while found := len(os.read(file, 1 << 16)):
        size += found
        if found < 1 << 16:
            break
    os.close(file)
print(time.process_time(), size)
"""


def bare(folder: Path) -> dict[str, float]:
    """Wall and processor seconds of loops, one a core, that read the files and do nothing more."""
    parts = os.cpu_count() or 1
    start = time.perf_counter()
    at_work = [
        subprocess.Popen(
            [sys.executable, "-c", BARE, str(folder), str(part), str(parts)],
            stdout=subprocess.PIPE, text=True,
        )
        for part in range(parts)
    ]  # fmt: skip
    told = [child.communicate()[0].split() for child in at_work]
    return {
        "all": time.perf_counter() - start,
        "processor": sum(float(used) for used, _ in told),
        "bytes": sum(int(size) for _, size in told),
    }


def forget() -> None:
    """Have the system forget what it holds of files."""
    os.sync()
    Path("/proc/sys/vm/drop_caches").write_text("3\n", encoding="ascii")


def growth(numbers: Sequence[int], values: Sequence[float]) -> str:
    """The exponent of a power of the number of cases that fits best; 1 is proportional."""
    if len(numbers) < 2:
        return "-"
    slope = np.polyfit([math.log(n) for n in numbers], [math.log(v) for v in values], 1)[0]
    return f"{slope:.2f}"


Figures = dict[str, dict[int, dict[str, Any]]]


def show(name: str, count: int, found: Mapping[str, Any], read: float, fold: float) -> None:
    """One line of the table."""
    each = found["processor"] / count
    peak = f"{found['MB']:8.0f}" if "MB" in found else f"{'-':>8}"
    print(
        f"{count:<9} {name:<14} {found['all']:8.1f} {found['processor']:12.1f} {peak} "
        f"{1000 * each:12.3f} {each / fold:11.3f} {found['processor'] / read:11.2f}  "
        f"{os.getloadavg()[0]:4.1f}",
        flush=True,
    )


def measure(base: Path, count: int, wanted: argparse.Namespace, figures: Figures) -> None:
    """All that is timed at one number of cases."""
    few = min(count, FOLDED) if wanted.packs_only else count
    files, packs, answers = base / f"files-{few}", base / f"packs-{count}", set()
    for folder, write, number in ((files, in_files, few), (packs, in_packs, count)):
        if not folder.is_dir():
            write(folder, number)
    fold, cold = folded(files), wanted.cold
    sources = [("packs", packs)] if wanted.packs_only else [("files", files), ("packs", packs)]
    if wanted.one_file:
        whole = base / f"whole-{count}.jsonl"
        with whole.open("wb") as file:
            file.writelines(text for _, _, text in generate(count))
        sources.append(("one file", whole))
    read = 0.0
    for name, source in sources:
        if source.is_dir():
            if cold:
                forget()
            found = bare(source)
            read = found["processor"]
            show(f"{name} read", count, found, read, fold)
        for kind in ("first", "later") if source.is_dir() else ("first",):
            if cold and kind == "first":
                forget()
            found = reviewed(source)
            assert found["cases"] == count
            if source.is_dir():  # of one file, the cases have other names
                answers.add(found["answer"])
            figures.setdefault(f"{name} {kind}", {})[count] = found
            show(f"{name} {kind}", count, found, read, fold)
    assert len(answers) == 1, "the forms do not come to the same answer"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("cases", nargs="*", type=int, default=[10_000, 100_000])
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--cold", action="store_true")
    parser.add_argument("--one-file", action="store_true")
    parser.add_argument("--packs-only", action="store_true")
    wanted = parser.parse_args()
    base = wanted.keep or Path(mkdtemp(prefix="review-"))
    os.environ["DIAGNOSE_CACHE"] = mkdtemp(prefix="cache-", dir=base)
    figures: Figures = {}
    print(f"{os.cpu_count()} cores{', files forgotten before each first look' * wanted.cold}")
    print("cases     what              wall s  processor s  peak MB  per case ms  to folding  "
          "to reading  load", flush=True)  # fmt: skip
    try:
        for count in wanted.cases:
            measure(base, count, wanted, figures)
    finally:
        shutil.rmtree(os.environ["DIAGNOSE_CACHE"])
        if not wanted.keep:
            shutil.rmtree(base)
    for name, found in figures.items():
        told = [
            f"{figure} {growth([*found], [item[figure] for item in found.values()])}"
            for figure in ("all", "processor", "MB")
        ]
        print(f"growth of {name}, as a power of the number of cases: {', '.join(told)}")


if __name__ == "__main__":
    main()
