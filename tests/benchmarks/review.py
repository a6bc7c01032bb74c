"""How long a review of very many cases takes, and what memory: `python tests/benchmarks/review.py`.

    python tests/benchmarks/review.py 10000 100000 [1000000] [--keep FOLDER]

For each number, a folder of so many generated case files is written (a short loop, some 10 kB a
case, one file each), then reviewed twice in processes of their own: the first time every file is
taken apart and the digest written, the second time only the digest is read.  The baselines of the
same run are the reader that folds a case event by event, timed on 300 of the files, and a bare loop
that opens and reads every file and does nothing else: what the system itself takes for them.
With ``--one-file``, the same cases written one after the other into one file are reviewed as well.
One million files need 12 GB of disk; generated files are removed unless ``--keep`` is given.
With ``--copied``, the last folder is made of hard links to the one before and its digest of that
one's rows under other names: then only the later review is timed, which is the one that recurs.
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
from collections.abc import Sequence
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from tempfile import mkdtemp

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402

LOOPS_PER_CASE = 0.05
CAUSES = (
    ("W3+", "open"), ("TB1", "high resistance"), ("R1", "drift"), ("F1", "open"),
    ("G1", "dead"), ("LT-214", "zero error"),
)  # fmt: skip

CHILD = """
import json, resource, sys, time
sys.path.insert(0, sys.argv[1])
start = time.perf_counter()
from diagnose.review.records import Records, Source
from diagnose.review.review import review
records = Records.open([Source(sys.argv[2], "generated")])
opened = time.perf_counter()
found = review(records)
end = time.perf_counter()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps({
    "cases": found.endings.cases, "confirmed": found.endings.confirmed,
    "open": opened - start, "review": end - opened, "all": end - start,
    "processor": used.ru_utime + used.ru_stime, "MB": peak,
}))
"""


VARIANTS = 500
"""Hunts written out; a case is one of them with a tag and a day of its own."""


def generate(folder: Path, count: int) -> None:
    """Write case files: one complaint, four readings with their rankings, a cause or none."""
    rng = np.random.default_rng(1)
    variants = [_hunt(rng) for _ in range(VARIANTS)]
    tags = max(20, round(count * LOOPS_PER_CASE))
    folder.mkdir(parents=True, exist_ok=True)
    first = date(2020, 1, 1)
    for number, (tag, day, variant) in enumerate(
        zip(
            rng.integers(tags, size=count).tolist(),
            rng.integers(5 * 365, size=count).tolist(),
            rng.integers(VARIANTS, size=count).tolist(),
            strict=True,
        )
    ):
        name, when = f"LT-{tag:05d}", (first + timedelta(days=day)).isoformat()
        text = variants[variant].replace(b"{tag}", name.encode()).replace(b"{day}", when.encode())
        with open(folder / f"{name}_{when}_{number:07d}.jsonl", "wb") as file:
            file.write(text)


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


def reviewed(folder: Path) -> dict[str, float]:
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
        paths = [Path(entry.path) for entry, _ in zip(entries, range(300), strict=False)]
    start = time.process_time()
    for path in paths:
        assert read_case(path).case.tag
    return (time.process_time() - start) / len(paths)


BARE = """
import os, sys, time
start, begun = time.perf_counter(), time.process_time()
with os.scandir(sys.argv[1]) as entries:
    names = [entry.name for entry in entries]
folder, size = os.open(sys.argv[1], os.O_RDONLY), 0
for name in names:
    file = os.open(name, os.O_RDONLY, dir_fd=folder)
    size += len(os.read(file, 1 << 24))
    os.close(file)
print(time.perf_counter() - start, time.process_time() - begun)
"""


def bare(folder: Path) -> tuple[float, float]:
    """Wall and processor seconds of a loop that reads the files and does nothing with them."""
    done = subprocess.run(
        [sys.executable, "-c", BARE, str(folder)], capture_output=True, text=True, check=True
    )
    wall, processor = map(float, done.stdout.split())
    return wall, processor


def joined(folder: Path, path: Path) -> None:
    """All files of a folder in one."""
    with path.open("wb") as whole:
        for name in sorted(os.listdir(folder)):
            whole.write((folder / name).read_bytes())


def growth(numbers: Sequence[int], values: Sequence[float]) -> str:
    """The exponent of a power of the number of cases that fits best; 1 is proportional."""
    if len(numbers) < 2:
        return "-"
    slope = np.polyfit([math.log(n) for n in numbers], [math.log(v) for v in values], 1)[0]
    return f"{slope:.2f}"


def copied(small: Path, folder: Path, count: int) -> None:
    """A folder of ``count`` links to the files of a smaller one, and its digest."""
    from diagnose.review.digests import digest_path
    from diagnose.review.records import Records

    names = sorted(entry.name for entry in os.scandir(small))
    folder.mkdir()
    copies = count // len(names)
    for copy in range(copies):
        for name in names:
            os.link(small / name, folder / f"{name[:-6]}-{copy:03d}.jsonl")
    engine = Records.of_rows([]).engine
    engine.execute(
        "copy (select d.* replace (d.name || '-' || lpad(c.range::VARCHAR, 3, '0') as name) "
        f"from read_parquet('{digest_path(small, 'generated')}') d, range({copies}) c) "
        f"to '{digest_path(folder, 'generated')}' (format parquet)"
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("cases", nargs="*", type=int, default=[10_000, 100_000])
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--copied", action="store_true")
    parser.add_argument("--one-file", action="store_true")
    wanted = parser.parse_args()
    base = wanted.keep or Path(mkdtemp(prefix="review-"))
    os.environ["DIAGNOSE_CACHE"] = str(base / "cache")
    rows: dict[str, dict[int, dict[str, float]]] = {}
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start", flush=True)
    print("cases      review     all s  processor s  peak MB  per case ms  to folding  to reading",
          flush=True)  # fmt: skip
    one = 0.0
    for place, count in enumerate(wanted.cases):
        folder = base / f"cases-{count}"
        last = wanted.copied and place and place == len(wanted.cases) - 1
        if last:
            copied(base / f"cases-{wanted.cases[place - 1]}", folder, count)
        elif not folder.is_dir():
            generate(folder, count)
        one = one if last else folded(folder)
        wall, read = bare(folder)
        print(f"{count:<10} {'read':<8} {wall:7.1f} {read:12.1f}", flush=True)
        kinds = ["later"] if last else ["first", "later"]
        kinds += ["one file"] if wanted.one_file else []
        for name in kinds:
            if name == "one file":
                joined(folder, base / "all.jsonl")
            found = reviewed(base / "all.jsonl" if name == "one file" else folder)
            assert found["cases"] == count
            rows.setdefault(name, {})[count] = found
            each = found["processor"] / count
            print(
                f"{count:<10} {name:<8} {found['all']:7.1f} {found['processor']:12.1f} "
                f"{found['MB']:8.0f} {1000 * each:12.3f} {each / one:11.3f} "
                f"{found['processor'] / read:11.2f}",
                flush=True,
            )
    for name, figures in rows.items():
        for figure in ("processor", "MB"):
            fitted = growth([*figures], [found[figure] for found in figures.values()])
            print(f"growth of {figure:<10} {name}: cases to the power {fitted}")
    if not wanted.keep:
        shutil.rmtree(base)
    (base / "all.jsonl").unlink(missing_ok=True)


if __name__ == "__main__":
    main()
