"""Where straight lines mislead: ohms off the scale, a thermometer at the foot of its range.

Source: integrals over the process value and over tolerances by the midpoint rule, every point of
them solved by the judge's own circuit (``tests/judge``).
"""

from __future__ import annotations

from math import exp, log
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.sheet import load_sheet
from judge.model import Model
from judge.world import hypotheses


def _believed(plant: Path, tag: str, line: str) -> tuple[Model, dict[object, float], float]:
    """The judge's model of one reading; what the engine makes of it, and of the unmodelled."""
    loop = load_sheet(plant / "sheets" / f"{tag}.toml")
    reading = parse_line(line, loop)
    engine = Engine(loop)
    belief, _ = engine.believe(engine.sort([reading]))
    found = {h.key: float(belief.probability[h.number]) for h in engine.hypotheses}
    return Model(loop, [reading], hypotheses(loop)), found, belief.unmodelled


@pytest.mark.parametrize("volts", [0.1077, 0.1079, 0.1081, 0.1085])
def test_a_thermometer_at_the_foot_of_its_range(plant: Path, volts: float) -> None:
    """0.96 of a prior begin where the range does: a chord over the Pt100's curve misses that.

    It lies 30 microvolts under the curve (1 mA, -0.58e-4 ohm/K2 by IEC 60751), where a standard
    deviation of what is read is 300: the sound loop was believed 5 % too much.
    """
    model, found, _ = _believed(plant, "TT-131", f"V X31:1 PE {volts}")
    cases = model.cases
    p = (np.arange(1200) + 0.5) / 1000 - 0.1
    half, density = np.full(len(p), 0.5), []
    keys = [(None, "none"), ("TI-131.B", "open")]
    for key in keys:
        number = next(n for n, case in enumerate(cases) if (case.part, case.mode) == key)
        mean, covariance, *_ = model.predict(np.full(len(p), number), half, p)
        own = covariance[:, 0, 0]
        likely = np.exp(-(mean[:, 0] ** 2) / own / 2) / np.sqrt(2 * np.pi * own)
        worthless = 0.01 * model.margins[0].spoilt
        mass = float((0.99 * likely * model.process_density(p)).mean() * 1.2) + worthless
        density.append(cases[number].prior * mass)
    assert found[keys[0]] / found[keys[1]] == pytest.approx(density[0] / density[1], rel=0.02)


def test_no_tolerance_takes_a_sensor_beyond_the_scale(plant: Path) -> None:
    """A sensor whose drop is 1.0 V +-20 % lets nothing of 1.2 V through where it is 1.2 V or more.

    Then its leak of 1 Mohm is left, which no meter shows as an overload: for a sound loop that is
    a worthless reading (1 in 100), as likely then as under none of the modelled.
    """
    model, found, unmodelled = _believed(
        plant, "ZS-221", "ohm ZY-221:1 ZY-221:3 OL with ZY-221 off"
    )
    names = [(part.name, name) for part, name, _ in model.tolerances]
    drops = np.linspace(-4.5, 4.5, 181)
    off = np.zeros((len(drops), len(names)))
    off[:, names.index(("ZS-221", "drop"))] = drops
    for p in (0.2, 0.9):
        seen = model.moved(np.zeros(len(drops), int), np.full(len(drops), 0.5), drops * 0 + p, off)
        assert (seen[:, 0] < log(2e6) - log(60e6)).all()
    due = log(model.cases[0].prior * 0.01 / model.loop.shares.unmodelled)
    assert exp(log(found[None, "none"] / unmodelled) - due) == pytest.approx(1.0, abs=0.02)
