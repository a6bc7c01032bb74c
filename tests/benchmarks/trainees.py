"""Scores of simulated trainees, 200 drills each, with their spread.

By hand: `python tests/benchmarks/trainees.py [TAG [DRILLS]]`, a quarter of an hour on one core for
TE-140; a table every twenty drills.
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


def score(tag: str, name: str, seed: int) -> Score:
    """One drill of one trainee; the same seed hides the same fault for all."""
    drill = Drill(Setting(tag, seed=seed), engine(tag))
    TRAINEES[name](drill, np.random.default_rng([seed, 3]))
    return score_of(drill)


def table(tag: str, found: dict[str, list[Score]]) -> None:
    """Mean, spread and percentiles of the scores, and what they are made of."""
    count = len(next(iter(found.values())))
    print(f"{tag}, {count} drills each, drawn from the priors, difficulty 2")
    print("trainee     mean    sd   10 %   50 %   90 %  ratio  right  readings  min  unsafe  trips")
    base = 0.0
    for name, some in found.items():
        total = np.array([one.total for one in some])
        base = base or float(total.mean())
        low, middle, high = np.percentile(total, (10, 50, 90))
        keys = ("right", "readings", "minutes", "unsafe", "trips")
        means = [float(np.mean([getattr(one, key) for one in some])) for key in keys]
        right, readings, minutes, unsafe, trips = means
        print(
            f"{name:<11} {total.mean():4.1f}  {total.std():4.1f}  {low:5.1f}  {middle:5.1f}  "
            f"{high:5.1f}  {total.mean() / base:5.3f}  {right:5.3f}  {readings:8.1f}  "
            f"{minutes:3.0f}  {unsafe:6.2f}  {trips:5.2f}",
            flush=True,
        )


def main(tag: str = "TE-140", count: str = "200") -> None:
    found: dict[str, list[Score]] = {name: [] for name in TRAINEES}
    for seed in range(int(count)):
        for name in TRAINEES:
            found[name].append(score(tag, name, seed))
        if seed % 20 == 19 and seed + 1 < int(count):
            table(tag, found)
    table(tag, found)


if __name__ == "__main__":
    main(*sys.argv[1:])
