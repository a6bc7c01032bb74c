"""Scores of simulated trainees, 200 drills each, with their spread.

By hand: `python tests/benchmarks/trainees.py [TAG [DRILLS]]` (an hour on one core for TT-131).
The baseline is the trainee who follows the advice; ratios are to its mean score in the same run.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402

from diagnose.training.drill import Drill  # noqa: E402
from diagnose.training.score import Score, score_of  # noqa: E402
from diagnose.training.setting import Setting  # noqa: E402
from diagnose.training.trainees import TRAINEES  # noqa: E402
from drill_stand import engine  # noqa: E402


def scores(tag: str, name: str, count: int) -> list[Score]:
    """The same drills for every trainee: seeds from 0 on."""
    found = []
    for seed in range(count):
        drill = Drill(Setting(tag, seed=seed), engine(tag))
        TRAINEES[name](drill, np.random.default_rng([seed, 3]))
        found.append(score_of(drill))
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{name} {seed + 1} of {count}")
    return found


def main(tag: str = "TT-131", count: str = "200") -> None:
    print(f"{tag}, {count} drills each, drawn from the priors, difficulty 2")
    print("trainee     mean   sd   10 %   50 %   90 %   ratio  right  readings  min  unsafe  trips")
    base = None
    for name in TRAINEES:
        found = scores(tag, name, int(count))
        total = np.array([score.total for score in found])
        base = base or float(total.mean())
        low, middle, high = np.percentile(total, (10, 50, 90))
        means = [
            float(np.mean([getattr(score, key) for score in found]))
            for key in ("right", "readings", "minutes", "unsafe", "trips")
        ]
        right, readings, minutes, unsafe, trips = means
        print(
            f"{name:<11} {total.mean():5.1f} {total.std():4.1f}  {low:5.1f}  {middle:5.1f}  "
            f"{high:5.1f}  {total.mean() / base:5.3f}  {right:5.3f}  {readings:8.1f}  "
            f"{minutes:3.0f}  {unsafe:6.2f}  {trips:5.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main(*sys.argv[1:])
