"""Wide tolerances that a reading puts far from their nominal values: no straight line holds there.

Source: the integral over these tolerances by a grid, every point of it solved by the judge's own
circuit (``tests/judge``).
"""

from __future__ import annotations

from math import exp, log, pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.loops.sheet import load_sheet
from judge.model import Model
from judge.world import hypotheses

CLAMP = Measurement("clamp", ("W62L",))
WIDE = (("K1", "impedance"), ("A1", "off_resistance"), ("G1", "voltage"))
"""What the residual current of an output that is off hangs on; all else moves it by 3 % of that."""

OFF = 0.5
"""Share of the process values at which the output is off: below the middle of two states."""


def density(model: Model, steps: int, wide: tuple[tuple[str, str], ...] = WIDE) -> float:
    """Density of one reading on the sound loop, by the midpoint rule over the wide tolerances."""
    names = [(part.name, name) for part, name, _ in model.tolerances]
    axis = (np.arange(steps) + 0.5) / steps * 9 - 4.5
    grid = np.stack([one.ravel() for one in np.meshgrid(*[axis] * len(wide))], axis=1)
    weight = np.exp(-(grid**2).sum(axis=1) / 2)
    off = np.zeros((len(grid), len(names)))
    off[:, [names.index(one) for one in wide]] = grid
    below = np.full(len(grid), 0.25)
    miss = model.moved(np.zeros(len(grid), int), below, below, off)[:, 0]
    own = float(model.fixed[0, 0])
    return float(weight @ np.exp(-(miss**2) / own / 2) / weight.sum() / sqrt(2 * pi * own))


@pytest.mark.parametrize("amperes", [1.35e-3, 1.55e-3, 1.75e-3, 2.08e-3, 2.3e-3])
def test_the_residual_current_of_an_output_that_is_off(plant: Path, amperes: float) -> None:
    """Through a suppressor of +-20 % and a triac that leaks by +-50 %: first order is 0.3 off."""
    loop = load_sheet(plant / "sheets" / "XV-222.toml")
    reading = Reading(CLAMP, "value", amperes, rounding=5e-6)
    cases = hypotheses(loop)
    model = Model(loop, [reading], cases)
    sound = OFF * cases[0].prior * (1 - 0.01) * density(model, 40)
    broad = loop.shares.unmodelled * model.margins[0].broad
    engine = Engine(loop)
    belief, _ = engine.believe(engine.sort([reading]))
    found = log(belief.probability[0] / belief.unmodelled)
    assert exp(found - log(sound / broad)) == pytest.approx(1.0, abs=0.08)


@pytest.mark.parametrize("amperes", [1.7e-4, 2.2e-4, 2.7e-4])
def test_the_leakage_of_a_channel_that_is_off(plant: Path, amperes: float) -> None:
    """24 V across 240 kohm that may be half as many: as 1/R, first order is 18 times too rare."""
    loop = load_sheet(plant / "sheets" / "XV-221.toml")
    reading = Reading(Measurement("clamp", ("W51+",)), "value", amperes, rounding=5e-6)
    cases = hypotheses(loop)
    model = Model(loop, [reading], cases)
    wide = (("A1", "off_resistance"), ("G1", "voltage"))
    # a channel that is on gives some 70 mA: off, or a worthless reading, on or off
    worthless = model.margins[0].broad
    sound = (1 - 0.01) * OFF * density(model, 300, wide) + 0.01 * worthless
    broad = loop.shares.unmodelled * worthless
    engine = Engine(loop)
    belief, _ = engine.believe(engine.sort([reading]))
    found = log(belief.probability[0] / belief.unmodelled)
    assert exp(found - log(cases[0].prior * sound / broad)) == pytest.approx(1.0, abs=0.12)


def test_readings_that_share_a_tolerance_follow_it_together(plant: Path) -> None:
    """At its low limit a controller's output is what the limit says, not where it may have stood.

    The display tells 19 %, the gauge 26 % of 160 kPa, which is 27 % of 20 to 100 kPa: the one
    contradicts the other by more than any tolerance, whatever is at its limit.
    """
    loop = load_sheet(plant / "sheets" / "LIC-214.toml")
    lamp = (Applied("AO1", "off"), Applied("G1", "off"), Applied("G2", "off"))
    readings = [
        Reading(Measurement("shows", ("LIC-214",)), "value", 0.19),
        Reading(Measurement("shows", ("PG3",)), "value", 0.26),
        Reading(Measurement("ohm", ("X41:9", "X41:8"), lamp), "value", 151.7),
    ]
    assert (0.26 * 160 - 20) / 80 - 0.19 > 0.07
    engine = Engine(loop).at(readings)
    belief, _ = engine.believe(engine.sort(readings))
    limit = engine.hypothesis(("LIC-214", "low limit")).number
    assert belief.probability[limit] < 0.1


@pytest.mark.parametrize("volts", [4.5, 4.9, 5.05, 5.1])
def test_a_sensor_that_draws_far_less_than_its_like(plant: Path, volts: float) -> None:
    """Its current is spread by +-8 %, and bends with that: first order is 0.3 off at 3 sd."""
    loop = load_sheet(plant / "sheets" / "ZS-221.toml")
    away = (Applied("ZS-221", "uncovered"),)
    reading = Reading(Measurement("V", ("JB32:1", "ZY-221:3"), away), "value", volts)
    cases = hypotheses(loop)
    model = Model(loop, [reading], cases)
    wide = (("ZS-221", "trim"), ("ZY-221", "voltage"), ("ZY-221", "source_resistance"))
    worthless = model.margins[0].broad
    sound = cases[0].prior * ((1 - 0.01) * density(model, 80, wide) + 0.01 * worthless)
    broad = loop.shares.unmodelled * worthless
    engine = Engine(loop)
    belief, _ = engine.believe(engine.sort([reading]))
    found = log(belief.probability[0] / belief.unmodelled)
    assert exp(found - log(sound / broad)) == pytest.approx(1.0, abs=0.08)
