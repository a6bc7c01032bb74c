"""Simulated trainees score in the order of what they are: a small, seeded version.

Two hundred drills each: tests/benchmarks/trainees.py.
"""

from statistics import mean

import numpy as np
import pytest

from diagnose.training.score import score_of
from diagnose.training.trainees import TRAINEES
from drill_stand import drill

SEEDS = (0,)


def test_who_follows_the_advice_scores_best_and_who_is_unsafe_worst() -> None:
    scores = {}
    for name, trainee in TRAINEES.items():
        totals = []
        for seed in SEEDS:
            d = drill("TE-140", draw="one", seed=seed, process=None)
            trainee(d, np.random.default_rng([seed, 3]))
            assert d.closed
            totals.append(score_of(d).total)
        scores[name] = mean(totals)
    assert list(TRAINEES) == ["advice", "half-split", "guess", "unsafe"]
    assert scores["advice"] > scores["half-split"] > scores["guess"]
    assert scores["unsafe"] <= 10
    assert scores["unsafe"] < scores["half-split"]


def test_a_trainee_whose_time_is_up_closes_all_the_same() -> None:
    d = drill(faults=("I.W3:leakage=10k",), complaint="reads high", minutes=6)
    TRAINEES["advice"](d, np.random.default_rng(1))
    assert d.closed
    assert d.over_time
    assert d.verdict


def test_a_careful_one_proves_the_meter_before_a_current() -> None:
    from diagnose.training.trainees import careful

    d = drill(fuse="blown")
    careful(d, "mA X21:3 X21:4")
    assert [s.command for s in d.steps] == [
        "operator", "bypass", "manual", "fuse", "new fuse", "jack mA", "mA X21:3 X21:4", "jack V",
    ]  # fmt: skip
    assert float(d.readings[0].line.split()[3]) == pytest.approx(12.0, abs=0.2)
    assert not [name for s in d.steps for name in s.mistakes]
