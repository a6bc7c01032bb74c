"""Lines stand on the bends along the severity that something done to the loop makes.

Sources: Ohm's law, written out here, for where the bend is; the engine with lines five times as
close for what comes of it (the judge in tests/judge has a case of it, ``tests/published``).
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from diagnose.inference.atlas import Atlas
from diagnose.inference.bends import circuits
from diagnose.inference.engine import Engine
from diagnose.inference.grid import EDGE, STEP
from diagnose.inference.measurement import Applied, Measurement
from diagnose.inference.readings import parse_lines
from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from small_loop import LOOP

DRIVEN = (Applied("LT-214", "driven", 0.012),)
SERIES = ("F1", "A1", "T4", "W3+", "TB1", "TB2", "W4+", "W4-", "W3-", "LK1", "LK2")
"""Parts of the small loop that the loop current passes, but for the sense resistor."""


def ohms(loop: Loop) -> float:
    """Resistance of the sound small loop without its transmitter."""
    inputs = [loop.part(name).values["input_resistance"] for name in ("LIC-214", "LAHH-214")]
    sense = 1 / (1 / loop.part("R1").values["resistance"] + sum(1 / ohm for ohm in inputs))
    total = sum(loop.part(name).values["resistance"] for name in SERIES)
    return total + sense + loop.part("G1").values["source_resistance"]


def severities(atlas: Atlas, key: tuple[str, str]) -> np.ndarray:
    """The severities of the lines of one fault."""
    (fault,) = (h for h in atlas.ground.hypotheses if h.key == key)
    found: np.ndarray = np.sort(fault.severity(atlas.lines.x[atlas.lines.h == fault.number]))
    return found


def test_lines_stand_beside_the_resistance_at_which_a_driven_transmitter_starves() -> None:
    engine = Engine(LOOP)
    transmitter = LOOP.part("LT-214").values
    drive, volts = 0.012, LOOP.part("G1").values["voltage"]
    # 0.012 A come through as long as the lift-off voltage is left: U = I (R + more) + lift-off.
    more = (volts - transmitter["lift_off"]) / drive - ohms(LOOP)
    # what the resistance of the joint itself was is part of the sum
    starves = more + LOOP.part("TB1").values["resistance"]
    driven = engine.atlas.bent([Measurement("process", (), DRIVEN)])
    own, bent = (severities(one, ("TB1", "high resistance")) for one in (engine.atlas, driven))
    beside = bent[np.argsort(np.abs(np.log(bent / starves)))[:2]]
    assert np.sort(np.log(beside / starves)) == pytest.approx([-EDGE, EDGE], abs=EDGE / 3)
    assert np.abs(np.log(own / starves)).min() > 10 * EDGE
    assert len(bent) == len(own) + 2


HUNTS = {
    "LT-216": (
        "LR-216 49.2 % with LT-216 replaced 12 mA", "LIC-216 53.4 %", "V JB11:1 JB11:2 11.36",
        "LR-216 0 % with LT-216 equalised",
    ),
    "FT-124": ("FR-124 49.0 % with FT-124 driven 12 mA", "FIC-124 50 %"),
    "TT-131": ("TI-131 49 % with TE-131 replaced 100 ohm", "TI-131 50.2 %"),
}  # fmt: skip
"""A current that falls just short of what the transmitter is made to drive."""


def believed(engine: Engine, lines: tuple[str, ...]) -> np.ndarray:
    belief, _ = engine.believe(engine.sort(parse_lines(lines, engine.loop)))
    found: np.ndarray = np.append(belief.probability[: len(engine.hypotheses)], belief.unmodelled)
    return found


@pytest.mark.parametrize("tag", HUNTS)
def test_closer_lines_believe_the_same(tag: str) -> None:
    loop = open_plant().load(tag)
    coarse, fine = (believed(Engine(loop, step=step), HUNTS[tag]) for step in (STEP, STEP / 5))
    assert np.abs(coarse - fine).max() < 0.02


def test_the_order_of_readings_does_not_matter() -> None:
    engine = Engine(open_plant().load("LT-216"))
    first, second, _, last = HUNTS["LT-216"]
    found = [believed(engine, lines) for lines in permutations((first, second, last))]
    for other in found[1:]:
        assert other == pytest.approx(found[0], abs=1e-6)


def test_where_nothing_bends_the_atlas_is_that_of_the_loop() -> None:
    engine = Engine(open_plant().load("LT-216"))
    lines = ("LIC-216 53.4 %", "V JB11:1 JB11:2 11.36")
    told = engine.sort(parse_lines(lines, engine.loop))
    assert not circuits(told.data)
    assert engine.benches.of(told.data).atlas is engine.atlas
    told = engine.sort(parse_lines((*lines, HUNTS["LT-216"][0]), engine.loop))
    bench = engine.benches.of(told.data)
    assert bench.atlas is not engine.atlas
    assert engine.benches.of(told.data[::-1]) is bench


def test_a_hunt_goes_on_after_room_was_made() -> None:
    """Half of what an atlas with more lines knows is known to the one that it was made from."""
    engine, lines = Engine(open_plant().load("LT-216")), HUNTS["LT-216"]
    before = believed(engine, lines)
    engine.benches.let_go()
    believed(engine, lines[1:3])
    assert believed(engine, lines) == pytest.approx(before, abs=1e-9)
