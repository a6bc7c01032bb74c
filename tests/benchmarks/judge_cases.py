"""The engine's posterior against the brute-force judge, on as many random cases as asked for.

    python tests/benchmarks/judge_cases.py --all --cases 10 --seed 1
    python tests/benchmarks/judge_cases.py --cases 30 --seed 1
    python tests/benchmarks/judge_cases.py --sheet tests/sheets/b3.toml --plain

``--all`` takes every sheet of the demo plant, ``--cases`` of each: 2 to 5 readings, one case in
five with a worthless reading, one in five with two faults in truth (judged among single faults, as
the judge knows no pairs).  The judge draws severities, process and tolerances through the whole
circuit there; some seconds a case.  Without ``--all`` it integrates one sheet by quadrature alone,
about 15 s a case of the demo loop, one of the reference loop 1 s with ``--plain`` (tolerances to
first order also where the transmitter bends; right where its lift-off is exact).
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from diagnose.inference.engine import Engine  # noqa: E402
from diagnose.loops.sheet import load_sheet  # noqa: E402
from judge.comparison import Comparison, compare, compare_drawn  # noqa: E402
from judge.generator import Case, everywhere_cases, random_cases  # noqa: E402
from judge.posterior import SLICES  # noqa: E402

SHEETS = ROOT / "cases" / "larkmere" / "sheets"
SHEET = SHEETS / "LT-214.toml"
GOAL = 0.02


@dataclass
class Tally:
    """What came out for one loop type."""

    off: list[float] = field(default_factory=list)
    straight: list[float] = field(default_factory=list)
    converged: int = 0
    wrong: int = 0
    double: int = 0

    def add(self, case: Case, found: Comparison) -> None:
        """One more case."""
        self.off.append(found.largest)
        self.straight.append(found.straight)
        self.converged += found.converged
        self.wrong += case.worthless is not None
        self.double += " + " in (case.truth[0] or "")

    def row(self, name: str) -> str:
        """The line of a loop type in the table."""
        over = sum(x > GOAL for x in self.off)
        return (
            f"{name:18} {len(self.off):5} {self.wrong:5} {self.double:5}   {max(self.off):7.4f}"
            f"  {np.mean(self.off):7.4f}  {np.median(self.off):7.4f} {over:5}"
            f" {self.converged:9}   {max(self.straight):7.4f}"
        )


HEAD = "loop type          cases wrong pairs   largest     mean   median  over converged  straight"


def row(number: int, case: Case, found: Comparison) -> str:
    """One case: its truth, the largest difference and where it lies."""
    part, mode = found.worst
    engine, judge = found.pairs[found.worst]
    doubt = "" if found.converged else f"  NOT CONVERGED (error {found.error:.4f})"
    return (
        f"{number:4} {len(case.readings):8} {found.largest:10.4f}  {part or ''} {mode}: engine"
        f" {engine:.4f}, judge {judge:.4f}; truth {case.truth[0] or ''} {case.truth[1]}{doubt}"
    )


def every_sheet(cases: int, seed: int, only: list[str]) -> None:
    """All sheets of the demo plant, or some; each case, then the table by loop type."""
    tallies: dict[str, Tally] = {}
    paths = [SHEETS / f"{tag}.toml" for tag in only] or sorted(SHEETS.glob("*.toml"))
    for path in paths:
        engine = Engine(load_sheet(path))
        print(f"{path.stem} ({engine.loop.type})")
        for number, case in enumerate(everywhere_cases(engine.loop, cases, seed)):
            found = compare_drawn(engine, case.readings)
            tallies.setdefault(engine.loop.type, Tally()).add(case, found)
            print(row(number, case, found), flush=True)
    print(HEAD)
    whole = Tally()
    for name, tally in sorted(tallies.items()):
        print(tally.row(name))
        whole.off += tally.off
        whole.straight += tally.straight
        whole.converged += tally.converged
        whole.wrong, whole.double = whole.wrong + tally.wrong, whole.double + tally.double
    print(whole.row("all"))


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
        print(row(number, case, found), flush=True)
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
    parser.add_argument("--plain", action="store_true", help="do not slice the headroom")
    options = parser.parse_args()
    if options.all:
        every_sheet(options.cases, options.seed, options.only)
    else:
        one_sheet(options.sheet, options.cases, options.seed, options.plain)


if __name__ == "__main__":
    main()
