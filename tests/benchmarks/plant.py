"""A plant of 2,000 loops from its instrument index: import, finding, start-up.

    python tests/benchmarks/plant.py [LOOPS [SEED]]

1. a seeded index of all loop types with the mess of real lists is imported, as CSV and as a
   spreadsheet, and imported again; each planted mistake is looked for in the report;
2. start-up of ``rank`` in that plant against the demo plant, the same loop in both, caches warm;
3. finding in it.
Times are wall clock and CPU of this machine; nothing is asserted, since machines differ, but the
exit code is 1 where a planted mistake is not found or something else is called wrong.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from diagnose.loops.index.importing import Imported, import_index  # noqa: E402
from diagnose.loops.index.mapping import read_mapping  # noqa: E402
from diagnose.loops.index.tables import read_grid  # noqa: E402
from diagnose.loops.new_plant import new_plant  # noqa: E402
from messy_index import Messy, mapping_text, messy  # noqa: E402

READING = ("complaint reads high", "LIC-214 60 %")


def timed(what: str, action: Callable[[], object]) -> object:
    """Run an action and print what it took."""
    wall, cpu = time.perf_counter(), sum(os.times()[:4])
    result = action()
    print(f"{what:<40}{time.perf_counter() - wall:7.1f} s, CPU {sum(os.times()[:4]) - cpu:6.2f} s")
    return result


def as_spreadsheet(made: Messy, path: Path) -> Path:
    """The index as an XLSX with its title and its groups merged."""
    import openpyxl

    book = openpyxl.Workbook()
    for row in made.index:
        book.active.append([cell or None for cell in row])
    for cells in book.active.iter_rows():
        for cell in cells:
            if cell.data_type == "f":  # a tag that looks like a formula was typed as text
                cell.data_type = "s"
    groups = [n for n, text in enumerate(made.index[1]) if text] + [len(made.index[1])]
    for first, after in pairwise(groups):
        book.active.merge_cells(None, 2, first + 1, 2, after)
    book.save(path)
    return path


def bring(folder: Path, paths: dict[str, Path], page: Path | None = None) -> Imported:
    """The whole way from files to sheets."""
    files = paths | ({"index": page} if page else {})
    grids = {name: read_grid(path) for name, path in files.items()}
    return import_index(folder, read_mapping(folder / "index.toml"), grids)


def judge(made: Messy, done: Imported) -> bool:
    """Whether each planted mistake is found and named, and nothing else called wrong."""
    rows = {(row.table, row.number): row for row in done.rows}
    missed = [
        mistake
        for mistake in made.mistakes
        if not any(mistake.word in note.text for note in rows[mistake.table, mistake.row].notes)
        or (rows[mistake.table, mistake.row].result == "rejected") != (mistake.result == "rejected")
    ]
    planted = {(mistake.table, mistake.row) for mistake in made.mistakes}
    wrong = {
        (row.table, row.number)
        for row in done.rows
        if any(note.kind == "problem" for note in row.notes)
    }
    # The first loop names the cable that the list tells in two ways.
    extra = wrong - planted - {("index", 4)}
    kinds = len({mistake.word for mistake in made.mistakes})
    print(f"planted mistakes: {len(made.mistakes)} of {kinds} kinds, found and named: "
          f"{len(made.mistakes) - len(missed)}; other rows called wrong: {len(extra)}")  # fmt: skip
    for item in [*missed, *extra][:10]:
        print(f"  {item}")
    return not missed and not extra


def counts(done: Imported) -> str:
    """What became of the rows of the index."""
    results = ("new", "changed", "unchanged", "rejected", "skipped")
    return ", ".join(f"{done.count(result)} {result}" for result in results)


def run(words: tuple[str, ...], folder: Path | None = None) -> Callable[[], None]:
    """A whole process in a folder; compiled bytecode is kept as an install would."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPATH"] = str(ROOT)
    command = [sys.executable, "-m", "diagnose", *words]
    return lambda: subprocess.run(
        command, check=False, capture_output=True, cwd=folder or ROOT, env=environment
    )  # type: ignore[func-returns-value]


def start_up(folder: Path, runs: int = 15) -> None:
    """``rank`` on one and the same loop in both plants, in turn; the ratio of the medians."""
    shutil.copy(ROOT / "cases" / "larkmere" / "sheets" / "LT-214.toml", folder / "sheets")
    shutil.copy(ROOT / "cases" / "larkmere" / "plant.toml", folder / "plant.toml")
    for name, tag in (("tag as written", "LT-214"), ("tag in small letters", "lt214")):
        demo = run(("rank", tag, *READING))
        large = run(("rank", tag, *READING), folder)
        demo(), large()  # what is derived of the loop is known from here on
        times: dict[str, list[float]] = {"demo": [], "large": []}
        for _ in range(runs):
            for which, action in (("demo", demo), ("large", large)):
                start = resource()
                action()
                times[which].append(resource() - start)
        small, big = (statistics.median(times[which]) for which in ("demo", "large"))
        print(f"rank, {name:<22} demo plant {small:.3f} s, this plant {big:.3f} s CPU, "
              f"ratio {big / small:.2f}")  # fmt: skip


def resource() -> float:
    """CPU seconds of the children so far: other work of the machine does not count."""
    spent = os.times()
    return spent.children_user + spent.children_system


def main(loops: int, seed: int) -> int:
    """All of it; 1 where the import missed something."""
    with tempfile.TemporaryDirectory() as home:
        os.environ["DIAGNOSE_CACHE"] = str(Path(home) / "derived")
        folder = Path(home) / "plant"
        new_plant(folder, "Invented works")
        (folder / "index.toml").write_text(mapping_text(), encoding="utf-8")
        made = messy(loops, seed)
        paths = made.write(folder)
        page = as_spreadsheet(made, folder / "index.xlsx")
        print(f"{loops} loops of all types, seed {seed}: {len(made.index)} rows")
        done = timed("import, CSV", lambda: bring(folder, paths))
        print(f"  {counts(done)}")
        good = judge(made, done)
        again = timed("import again, nothing changed", lambda: bring(folder, paths))
        print(f"  {counts(again)}")
        sheet = timed("import again, from a spreadsheet", lambda: bring(folder, paths, page))
        print(f"  {counts(sheet)}")
        good &= judge(made, sheet)
        start_up(folder)
        timed("find, first after the import", run(("find", "JB7"), folder))
        timed("find, again", run(("find", "JB7"), folder))
        timed("find, a slip of the finger", run(("find", "lye vesel 1007"), folder))
        timed(
            "python -c pass (baseline)",
            lambda: subprocess.run([sys.executable, "-c", ""], check=True),
        )
    return 0 if good else 1


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:3]]
    sys.exit(main(*(words + [2000, 1][len(words) :])))
