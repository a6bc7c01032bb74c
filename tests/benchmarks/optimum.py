"""What policies cost against the exact optimum, on small problems taken from the demo plant.

    python tests/benchmarks/optimum.py [PROBLEMS FOR EACH LOOP]

The baseline, 1.000, is the least expected cost, by dynamic programming over all that can still be
true; minutes are those of the advice: walking, working, handling, and a charge for disturbing.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402

from decision_problems import plant_problems  # noqa: E402
from diagnose.inference.ahead import LookAhead  # noqa: E402
from diagnose.inference.deciding import Optimum, at_random, greedy_gain, greedy_rate  # noqa: E402
from diagnose.inference.decisions import cost  # noqa: E402
from diagnose.inference.planning import BREADTH  # noqa: E402

POLICIES = {
    "random": at_random(np.random.default_rng(1)),
    "gain": greedy_gain,
    "gain per minute": greedy_rate,
    "one step of look-ahead": LookAhead(6),
    "two steps of look-ahead": LookAhead(6, 6),
    "as two steps are evaluated": LookAhead(deep=BREADTH),
}


def main(each: int) -> None:
    """All policies on all problems."""
    some = [problem for _, problem in plant_problems(each, seed=5)]
    start = time.process_time()
    best = np.array([Optimum(problem).cost() for problem in some])
    spent = time.process_time() - start
    print(f"{len(some)} problems of 8 faults and 8 measurements; the optimum takes {spent:.1f} s")
    print(f"{'policy':<28}{'mean':>8}{'95 %':>8}{'worst':>8}{'time':>8}")
    for name, policy in POLICIES.items():
        start = time.process_time()
        found = np.array([cost(problem, policy) for problem in some]) / best
        ratio = (time.process_time() - start) / spent
        figures = found.mean(), np.quantile(found, 0.95), found.max(), ratio
        print(f"{name:<28}" + "".join(f"{figure:8.3f}" for figure in figures))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
