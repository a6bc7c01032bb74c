"""The engine's posterior against the brute-force judge, on as many random cases as asked for.

    python tests/benchmarks/judge_cases.py --all --cases 10 --seed 1 --keep found.jsonl
    python tests/benchmarks/judge_cases.py --all --only TE-140 --cases 10 --seed 1 --case 4 6
    python tests/benchmarks/judge_cases.py --table found.jsonl
    python tests/benchmarks/judge_cases.py --cases 30 --seed 1
    python tests/benchmarks/judge_cases.py --sheet tests/sheets/b3.toml --plain

``--all`` takes every sheet of the demo plant, ``--cases`` of each: 2 to 5 readings, one case in
five with a worthless reading, one in five with two faults in truth.  ``--two`` makes all cases of
two faults, with 4 to 6 readings.  The judge draws severities, process and tolerances through the
whole circuit there, and weighs pairs of faults where single ones leave doubt; from some seconds to
half a minute a case.  A case counts as judged where every hypothesis over 1 % has an effective
sample size of 1,000 and no probability a standard error over 0.006; where the draws are not enough
that is said, and the case stands apart in the table.  ``--keep`` adds what was found to a file, and
``--table`` prints the tables of such files.

Without ``--all`` it integrates one sheet by quadrature alone, about 15 s a case of the demo loop,
one of the reference loop 1 s with ``--plain`` (tolerances to first order also where the transmitter
bends; right where its lift-off is exact).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from diagnose.inference.engine import Engine  # noqa: E402
from diagnose.loops.sheet import load_sheet  # noqa: E402
from judge.comparison import Named, compare, compare_drawn  # noqa: E402
from judge.generator import Case, everywhere_cases, random_cases, two_fault_cases  # noqa: E402
from judge.posterior import SLICES  # noqa: E402

SHEETS = ROOT / "cases" / "larkmere" / "sheets"
SHEET = SHEETS / "LT-214.toml"
GOAL = 0.02


Found = dict[str, Any]
"""What came out for one case, as it is kept."""


def found_in(engine: Engine, case: Case, number: int, seed: int) -> Found:
    """Compares one case."""
    one = compare_drawn(engine, case.readings)
    engine_, judge = one.pairs[one.worst]
    return {
        "tag": engine.loop.tag,
        "type": engine.loop.type,
        "seed": seed,
        "number": number,
        "readings": len(case.readings),
        "truth": [case.truth[0] or "", case.truth[1]],
        "double": " + " in (case.truth[0] or ""),
        "wrong": case.worthless is not None,
        "doubtful": one.doubtful,
        "largest": one.largest,
        "worst": named(one.worst),
        "engine": engine_,
        "judge": judge,
        "two": one.two,
        "converged": one.converged,
        "error": one.error,
        "effective": min(one.effective, 1e9),
        "straight": one.straight,
    }


def named(key: Named) -> str:
    """A hypothesis in words."""
    if isinstance(key, frozenset):
        return " and ".join(sorted(named(one) for one in key))
    return f"{key[0] or ''} {key[1]}".strip()


def line(one: Found) -> str:
    """One case: its truth, the largest difference and where it lies."""
    doubt = (
        ""
        if one["converged"]
        else (f"  NOT JUDGED (error {one['error']:.4f}, effective {one['effective']:.0f})")
    )
    pairs = f"; pairs {one['two'][0]:.3f}, {one['two'][1]:.3f}" if one["doubtful"] else ""
    return (
        f"{one['number']:4} {one['readings']:2} {one['largest']:8.4f}  {one['worst']}: engine"
        f" {one['engine']:.4f}, judge {one['judge']:.4f}{pairs};"
        f" truth {' '.join(one['truth'])}{', a wrong reading' if one['wrong'] else ''}{doubt}"
    )


HEAD = f"{'':34} cases judged   largest     mean   median  over {GOAL}"


def row(name: str, some: Sequence[Found]) -> str:
    """The line of some cases in a table; figures are of those that were judged."""
    off = np.array([one["largest"] for one in some if one["converged"]])
    if not len(off):
        return f"{name:34} {len(some):5} {0:6}"
    return (
        f"{name:34} {len(some):5} {len(off):6}   {off.max():7.4f}  {off.mean():7.4f}"
        f"  {np.median(off):7.4f} {(off > GOAL).sum():5}"
    )


def table(found: Sequence[Found]) -> None:
    """All cases by loop type, and by kind of case."""
    print(HEAD)
    for name in sorted({one["type"] for one in found}):
        print(row(name, [one for one in found if one["type"] == name]))
    kinds = {
        "one fault or none": lambda one: not one["double"],
        "two faults": lambda one: one["double"],
        "no wrong reading": lambda one: not one["wrong"],
        "a wrong reading": lambda one: one["wrong"],
        "pairs not weighed": lambda one: not one["doubtful"],
        "pairs weighed": lambda one: one["doubtful"],
        "pairs hold over 10 %": lambda one: max(one["two"]) > 0.1,
    }
    print()
    for name, kind in kinds.items():
        print(row(name, [one for one in found if kind(one)]))
    print(row("all", found))


def every_sheet(options: argparse.Namespace) -> None:
    """All sheets of the demo plant, or some; each case, then the tables."""
    found: list[Found] = []
    paths = [SHEETS / f"{tag}.toml" for tag in options.only] or sorted(SHEETS.glob("*.toml"))
    for path in paths:
        engine = Engine(load_sheet(path))
        print(f"{path.stem} ({engine.loop.type})")
        make = two_fault_cases if options.two else everywhere_cases
        for number, case in enumerate(make(engine.loop, options.cases, options.seed)):
            if options.case and number not in options.case:
                continue
            found.append(found_in(engine, case, number, options.seed))
            print(line(found[-1]), flush=True)
            if options.keep:
                with options.keep.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(found[-1]) + "\n")
    table(found)


def kept(paths: Sequence[Path]) -> list[Found]:
    """What was kept in files."""
    lines = [text for path in paths for text in path.read_text(encoding="utf-8").splitlines()]
    return [json.loads(text) for text in lines]


def one_sheet(sheet: Path, cases: int, seed: int, plain: bool) -> None:
    """One sheet by quadrature: every case, the largest and the mean difference."""
    engine = Engine(load_sheet(sheet))
    slices = (1, 1) if plain else SLICES
    print("case readings difference  worst hypothesis")
    off, converged = [], 0
    for number, case in enumerate(random_cases(engine.loop, cases, seed)):
        found = compare(engine, case.readings, slices)
        off.append(found.largest)
        converged += found.converged
        engine_, judge = found.pairs[found.worst]
        print(
            f"{number:4} {len(case.readings):8} {found.largest:10.4f}  {named(found.worst)}: engine"
            f" {engine_:.4f}, judge {judge:.4f}{'' if found.converged else '  NOT CONVERGED'}",
            flush=True,
        )
    over = sum(x > GOAL for x in off)
    print(
        f"largest {np.max(off):.4f}, mean {np.mean(off):.4f}, over 0.02: {over} of {len(off)};"
        f" judge converged in {converged}"
    )


def main() -> None:
    """Compare and print every case, the largest and the mean difference."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--all", action="store_true", help="every sheet of the demo plant")
    parser.add_argument("--only", nargs="*", default=[], metavar="TAG", help="some of them")
    parser.add_argument("--sheet", type=Path, default=SHEET)
    parser.add_argument("--cases", type=int, default=30, help="of each sheet")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--case", type=int, nargs="*", metavar="N", help="some cases, by number")
    parser.add_argument("--plain", action="store_true", help="do not slice the headroom")
    parser.add_argument("--two", action="store_true", help="two faults in every case")
    parser.add_argument("--keep", type=Path, metavar="FILE", help="add what was found to a file")
    parser.add_argument("--table", type=Path, nargs="+", metavar="FILE", help="print kept results")
    options = parser.parse_args()
    if options.table:
        table(kept(options.table))
    elif options.all:
        every_sheet(options)
    else:
        one_sheet(options.sheet, options.cases, options.seed, options.plain)


if __name__ == "__main__":
    main()
