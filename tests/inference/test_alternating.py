"""A loop that mains feeds: which functions read it, and what a step on it needs first.

Limits of extra-low voltage, 50 V alternating and 120 V direct: IEC 61140, from memory.  Who may
touch mains, and that nothing is opened live: EN 50110-1 and NFPA 70E by their titles, from memory.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from diagnose.errors import ReadingError
from diagnose.inference.candidates import candidates
from diagnose.inference.cautions import CAUTIONS, beyond_extra_low, cautions_for, needs_for
from diagnose.inference.engine import Engine
from diagnose.inference.expected import expected_table
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import GENERIC
from diagnose.inference.readings import parse_line, parse_measurement
from diagnose.inference.world import World
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_type
from diagnose.terminal.naming import instruction
from small_loop import LOOP


@cache
def mains() -> Engine:
    return Engine(load_type("solenoid-output-ac"))


@pytest.fixture
def loop() -> Loop:
    return mains().loop


def test_a_loop_alternates_where_its_feed_does(loop: Loop) -> None:
    assert loop.alternating
    assert not LOOP.alternating
    assert not load_type("solenoid-output").alternating


def test_volts_are_advised_with_the_function_that_reads_them(loop: Loop) -> None:
    """Alternating ones, and the same at low impedance, which tells a ghost from a feed."""
    functions = {item.measurement.function for item in candidates(loop)}
    assert functions == {"shows", "VAC", "Vlow", "mA", "clamp", "ohm"}
    assert {item.measurement.function for item in candidates(LOOP)} >= {"V", "ohm", "mA"}
    assert not {"VAC", "Vlow"} & {item.measurement.function for item in candidates(LOOP)}


def test_every_advised_reading_can_be_typed_and_simulated(loop: Loop) -> None:
    engine = mains()
    world = World(
        engine.observer, engine.atlas.ground, engine.hypotheses[0], 0.5, 1.0,
        np.random.default_rng(1), mistakes=False,
    )  # fmt: skip
    for function in ("VAC", "Vlow", "mA", "clamp", "ohm"):
        some = next(c for c in engine.candidates if c.measurement.function == function)
        assert np.isfinite(world.read(some.measurement).value)


def test_direct_volts_say_nothing_of_it() -> None:
    """Nor do they change any belief: they read nothing under every hypothesis."""
    engine = mains()
    told = [parse_line(line, engine.loop) for line in ("HS lit", "ZO dark")]
    plain = engine.rank(told)
    more = engine.rank([*told, parse_line("V X21:3 X20:0 0.000", engine.loop)])
    assert [h.part for h in plain.hypotheses[:5]] == [h.part for h in more.hypotheses[:5]]
    for before, after in zip(plain.hypotheses[:5], more.hypotheses[:5], strict=True):
        assert after.probability == pytest.approx(before.probability, abs=0.02)


def test_alternating_volts_are_its_own_and_no_hum() -> None:
    engine = mains()
    reading = parse_line("VAC X21:3 X20:0 229", engine.loop)
    told = engine.sort([reading])  # type: ignore[list-item]
    assert len(told.data) == 1
    assert not told.hum


@pytest.mark.parametrize("line", ["VAC X21:3 X20:0 2300", "VAC X21:3 X20:0 480"])
def test_volts_beyond_the_feed_are_asked_about(loop: Loop, line: str) -> None:
    with pytest.raises(ReadingError, match="impossible on a loop of 230 V"):
        parse_line(line, loop)


def test_the_meter_is_set_to_alternating(loop: Loop) -> None:
    for line in ("Vlow X21:3 X20:0", "mA X21:2 X21:3", "VAC X21:3 X20:0"):
        step = parse_measurement(line, loop)
        assert instruction(step, loop, 200.0).startswith("AC ")
        assert "DC" not in instruction(step, loop, 200.0)


@pytest.mark.parametrize(
    ("line", "live", "work"),
    [
        ("VAC X21:3 X20:0", True, False),
        ("Vlow X21:3 X20:0", True, False),
        ("clamp W3L", True, False),
        ("ZO", False, False),
        ("ZO with HS commanded on", False, False),
        ("mA X21:2 X21:3", True, True),
        ("ohm Y1:L Y1:N with supply off", True, True),
        ("VAC X21:3 X20:0 with LK1 open", True, True),
        ("ZO with LK1 open", False, True),
        ("VAC X21:3 X20:0 with jumper X21:1 X21:2", True, True),
    ],
)
def test_mains_asks_for_licensed_people_and_for_isolation(
    loop: Loop, line: str, live: bool, work: bool
) -> None:
    step = parse_measurement(line, loop)
    found = cautions_for(step, loop)
    assert ("mains" in found) is live
    assert ("mains work" in found) is work
    isolated = "licensed person, feed isolated and proved dead"
    assert (isolated in needs_for(step, loop)) is work


def test_mains_cautions_name_who_and_what() -> None:
    assert "licensed" in CAUTIONS["mains"].text
    assert "category III" in CAUTIONS["mains"].text
    assert "proved dead" in CAUTIONS["mains work"].text
    assert CAUTIONS["mains work"].acknowledge


def test_extra_low_voltage_asks_for_none_of_it() -> None:
    step = Measurement("V", ("X21:7", "X20:0"))
    assert not {"mains", "mains work"} & set(cautions_for(step, LOOP))


def test_commanding_a_valve_by_hand_is_a_red_step(loop: Loop) -> None:
    step = parse_measurement("ZO with HS commanded on", loop)
    assert "output" in cautions_for(step, loop)
    assert CAUTIONS["output"].acknowledge


def test_the_proof_commands_the_valve_both_ways() -> None:
    """Commanded on, about 229 V and the lamp; off, what leaks (11 V) and no lamp."""
    proofs = mains().proof
    assert [(item.text, item.unit) for item in proofs] == [
        ("VAC X21:3 X20:0 with HS commanded on", "V"),
        ("ZO with HS commanded on", "lit"),
        ("VAC X21:3 X20:0 with HS commanded off", "V"),
        ("ZO with HS commanded off", "lit"),
    ]
    assert proofs[0].low < 229 < proofs[0].high
    assert proofs[2].low < 11.4 < proofs[2].high < 20
    assert (proofs[1].low, proofs[3].low) == (1.0, 0.0)


def test_the_volts_of_a_loop_are_dangerous_or_not(loop: Loop) -> None:
    assert beyond_extra_low(loop)
    assert not beyond_extra_low(LOOP)
    assert not beyond_extra_low(load_type("solenoid-output"))


def test_nothing_that_alternates_is_expected_below_zero() -> None:
    """A meter shows rms values, which have no sign: neither what is due nor what is advised has."""
    engine = mains()
    rows = expected_table(engine.loop, GENERIC, (0.0, 1.0)).rows
    rms = [row for row in rows if row.text.split()[0] in ("VAC", "clamp", "mA")]
    assert len(rms) > 5
    assert all(value.low >= 0 for row in rms for value in row.values)
    told = [parse_line(line, engine.loop) for line in ("complaint stays off", "HS lit")]
    steps = [item for item in engine.rank(told).next if item.text.split()[0] in ("VAC", "clamp")]
    assert steps
    assert all(one.low >= 0 for item in steps for one in item.expects)
    assert all(item.healthy[0] >= 0 for item in steps)
