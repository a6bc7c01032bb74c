"""Tolerances that readings reveal together count as they are where the readings are.

By symmetry: a tapping that is blocked at a value and a sound loop at that value make the same
circuit, so that readings never tell them apart; which of the two is likelier hangs on how often
each is so, and not on the value (Bayes' rule).  Behind a supply that was read as well, the volts of
a transmitter tell the ohms between, by so much as their current makes of them (Ohm's law).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.inference.views import Points, sight
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parents[2] / "cases" / "larkmere" / "sheets" / "LT-214.toml"
READ = (
    Measurement("V", ("LI-214:+", "LI-214:-")),
    Measurement("V", ("X20:1", "X20:0")),
    Measurement("V", ("LT-214:+", "PE")),
    Measurement("V", ("LT-214:+", "LT-214:-"), (Applied("LT-214", "driven", 12e-3),)),
)
OFF = {("G1", "voltage"): -0.7, ("A1", "resistance"): 1.5}
"""By how many standard deviations the loop is not as its sheet says."""


def test_sound_against_blocked_hangs_on_no_value() -> None:
    engine = Engine(load_sheet(SHEET))
    index = engine.machine.wiring.index
    away = np.zeros(len(engine.observer.spreads))
    for key, off in OFF.items():
        away[engine.observer.numbers.index(index[key])] = off
    one = np.ones(1)
    odds = []
    for process in (0.3, 0.378, 0.472, 0.507):
        seen = sight(engine.atlas, Points(np.zeros(1, int), one / 2, process * one, one), READ)
        level = seen.level[:, 0] + np.einsum("ms,s->m", seen.slope[:, : len(away), 0], away)
        readings = [
            Reading(what, "value", float(value), rounding=0.0005)
            for what, value in zip(READ, level, strict=True)
        ]
        belief, _ = engine.believe(engine.sort(readings))
        blocked = belief.probability[engine.hypothesis(("T1", "blocked")).number]
        odds.append(belief.probability[0] / blocked)
    assert odds == pytest.approx([np.mean(odds)] * len(odds), rel=0.04)
