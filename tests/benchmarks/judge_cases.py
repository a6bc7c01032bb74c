"""The engine's posterior against the brute-force judge, on as many random cases as asked for.

    python tests/benchmarks/judge_cases.py --cases 30 --seed 1
    python tests/benchmarks/judge_cases.py --sheet tests/sheets/b3.toml --plain

A case of the demo loop takes the judge about 15 s, one of the reference loop 1 s with ``--plain``
(tolerances to first order also where the transmitter bends; right where its lift-off is exact).
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from diagnose.inference.engine import Engine  # noqa: E402
from diagnose.loops.sheet import load_sheet  # noqa: E402
from judge.comparison import Comparison, compare  # noqa: E402
from judge.generator import Case, random_cases  # noqa: E402
from judge.posterior import SLICES  # noqa: E402

SHEET = ROOT / "cases" / "larkmere" / "sheets" / "LT-214.toml"


def row(number: int, case: Case, found: Comparison) -> str:
    """One case: its truth, the largest difference and where it lies."""
    part, mode = found.worst
    engine, judge = found.pairs[found.worst]
    doubt = "" if found.converged else "  NOT CONVERGED"
    return (
        f"{number:4} {len(case.readings):8} {found.largest:10.4f}  {part or ''} {mode}: engine"
        f" {engine:.4f}, judge {judge:.4f}; truth {case.truth[0] or ''} {case.truth[1]}{doubt}"
    )


def main() -> None:
    """Compare and print every case, the largest and the mean difference."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sheet", type=Path, default=SHEET)
    parser.add_argument("--cases", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plain", action="store_true", help="do not slice the headroom")
    options = parser.parse_args()
    engine = Engine(load_sheet(options.sheet))
    slices = (1, 1) if options.plain else SLICES
    print("case readings difference  worst hypothesis")
    off, converged = [], 0
    for number, case in enumerate(random_cases(engine.loop, options.cases, options.seed)):
        found = compare(engine, case.readings, slices)
        off.append(found.largest)
        converged += found.converged
        print(row(number, case, found), flush=True)
    over = sum(x > 0.02 for x in off)
    print(
        f"largest {np.max(off):.4f}, mean {np.mean(off):.4f}, over 0.02: {over} of {len(off)};"
        f" judge converged in {converged}"
    )


if __name__ == "__main__":
    main()
