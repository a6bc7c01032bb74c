"""What a shunt-diode barrier does to a loop, sound and broken.

Sources: Ohm's and Kirchhoff's laws, worked on paper beside each number.  Which fault shows how:
common practice, no source; IEC 60079-14 for the earth of a barrier as a safety matter.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.inference.cautions import cautions_for
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line
from diagnose.loops.kind import OPEN
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
TWO, ONE = "PT-305", "PT-306"
Changes = dict[tuple[str, str], float]

FUSE_BLOWN: Changes = {("Z1+", "resistance"): OPEN}
EARTH_LOST: Changes = {("E2", "resistance"): OPEN}
CORES = 2 * (0.14 + 0.02) * 24.5
"""Both cores of PT-305, ohm: IEC 60228 class 2, 0.75 mm2, at 20 C."""


@cache
def loop(tag: str) -> Loop:
    return load_sheet(SHEETS / f"{tag}.toml")


@cache
def predictor(tag: str) -> Predictor:
    return Predictor(loop(tag))


@cache
def engine(tag: str) -> Engine:
    return Engine(loop(tag))


def point(changes: Changes, tag: str = TWO, process: float = 0.5) -> OperatingPoint:
    return operating_point(loop(tag), changes, process, None, predictor(tag))


def volts(found: OperatingPoint, a: str, b: str) -> float:
    return found.voltages[a] - found.voltages[b]


def signal(found: OperatingPoint, tag: str = TWO) -> float:
    a, b = loop(tag).part("R1").pins.values()
    return volts(found, a, b)


def rank(*lines: str, tag: str = TWO, place: str = "cabinet") -> Ranking:
    return engine(tag).rank([parse_line(line, engine(tag).loop) for line in lines], place)


def top(ranking: Ranking) -> tuple[str | None, str]:
    return ranking.hypotheses[0].part, ranking.hypotheses[0].fault


# --- sound ------------------------------------------------------------------------------------


def test_the_sound_loop_adds_up_as_on_paper() -> None:
    """24 V - 12 mA x (0.5 + 1 + 330 + cores + 25 + 250) ohm - 0.9 V at the transmitter."""
    found = point({})
    own = volts(found, "PT-305:+", "PT-305:-")
    paper = 24 - 0.9 - 12e-3 * (0.5 + 1 + 330 + CORES + 25 + 250)
    assert own == pytest.approx(paper, abs=0.01)
    assert volts(found, "Z1:1", "Z1:3") == pytest.approx(12e-3 * 330, abs=1e-3)
    assert volts(found, "Z1:4", "Z1:2") == pytest.approx(0.9 + 12e-3 * 25, abs=1e-3)


@pytest.mark.parametrize("tag", [TWO, ONE])
@pytest.mark.parametrize("process", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_the_bus_stands_at_1_to_5_volts(tag: str, process: float) -> None:
    """4-20 mA across 250 ohm; two receivers of 1 Mohm take 0.05 % of it."""
    assert signal(point({}, tag, process), tag) == pytest.approx(1 + 4 * process, rel=1e-3)


@pytest.mark.parametrize("tag", [TWO, ONE])
def test_both_forms_can_signal_a_failure_high(tag: str) -> None:
    high = {(tag, "failed"): 1.0, (tag, "failed_current"): 21.5e-3}
    assert point(high, tag).regimes[tag] == "regulating"


# --- faults -----------------------------------------------------------------------------------


@pytest.mark.parametrize("tag", [TWO, ONE])
def test_a_blown_channel_leaves_its_safe_side_live_and_its_field_side_dead(tag: str) -> None:
    found = point(FUSE_BLOWN, tag)
    assert volts(found, "Z1:1", "X20:0") == pytest.approx(24, abs=0.01)
    assert volts(found, "Z1:3", "X20:0") == pytest.approx(0, abs=0.1)
    assert found.currents[tag] == pytest.approx(0, abs=1e-6)
    assert signal(found, tag) == pytest.approx(0, abs=1e-3)


def test_a_blown_return_channel_lifts_the_field_to_the_supply() -> None:
    """Nothing flows, so nothing drops: both cores stand at 24 V but for what the diodes leak."""
    found = point({("Z1-", "resistance"): OPEN, ("Z1-", "blocks"): OPEN})
    assert volts(found, "Z1:3", "X20:0") == pytest.approx(24, abs=0.01)
    assert volts(found, "Z1:4", "X20:0") > 3
    assert volts(found, "Z1:2", "X20:0") == pytest.approx(0, abs=1e-3)


def test_an_aged_channel_is_right_below_and_clips_above() -> None:
    """500 ohm instead of 330: 20 mA would leave 24 - 0.9 - 20 mA x 784 ohm = 7.4 V of 9 V."""
    aged = {("Z1+", "resistance"): 500.0}
    assert signal(point(aged, process=0.25)) == pytest.approx(2.0, rel=1e-3)
    clipped = point(aged, process=1.0)
    assert signal(clipped) < 4.9
    assert clipped.regimes["PT-305"] == "starved"
    drop = volts(clipped, "Z1:1", "Z1:3")
    assert drop / clipped.currents["Z1+"] == pytest.approx(500, rel=1e-6)


@pytest.mark.parametrize("ohms", [1e3, 10e3])
def test_leaking_diodes_of_the_supply_channel_load_the_supply_and_spare_the_signal(ohms) -> None:
    """Current + exceeds current - by what stands across the diodes over their resistance."""
    found = point({("Z1+", "leak"): ohms})
    across = volts(found, "Z1:1", "Z1:E")
    gap = found.currents["F1"] - found.currents["R1"]
    assert gap == pytest.approx(across / ohms, abs=10e-6)  # receivers take 6 uA of it
    assert found.currents["W51+"] == pytest.approx(12e-3, rel=1e-4)
    assert signal(found) == pytest.approx(3.0, rel=1e-3)


def test_leaking_diodes_of_a_sense_resistor_in_front_read_high() -> None:
    """PT-306 measures in the supply leg: what the barrier leaks is measured as well."""
    found = point({("Z1+", "leak"): 10e3}, ONE)
    leak = volts(found, "Z1:1", "Z1:E") / 10e3
    assert signal(found, ONE) == pytest.approx(250 * (12e-3 + leak), rel=1e-3)


def test_leaking_diodes_of_the_return_channel_steal_signal() -> None:
    found = point({("Z1-", "leak"): 1e3})
    stolen = volts(found, "Z1:4", "Z1:E") / 1e3
    assert found.currents["W51-"] == pytest.approx(12e-3, rel=1e-4)
    assert found.currents["R1"] == pytest.approx(12e-3 - stolen, rel=2e-3)
    assert stolen > 2e-3


def test_a_supply_above_the_working_voltage_flows_through_the_diodes() -> None:
    """30 V: (30 - 27 - 1.51 ohm x 12 mA) / (10 + 1.51) ohm = 0.259 A beside the loop current."""
    found = point({("G1", "voltage"): 30.0})
    beside = found.currents["F1"] - found.currents["W51+"]
    assert beside == pytest.approx((3 - 1.51 * 12e-3) / 11.51, rel=0.02)
    assert signal(found) == pytest.approx(3.0, rel=1e-3)
    assert point({}).currents["F1"] - point({}).currents["W51+"] < 10e-6


@pytest.mark.parametrize("tag", [TWO, ONE])
@pytest.mark.parametrize("ohms", [2.0, 200.0, OPEN])
def test_a_lost_earth_shows_in_no_signal(tag: str, ohms: float) -> None:
    sound, lost = point({}, tag), point({("E2", "resistance"): ohms}, tag)
    assert signal(lost, tag) == pytest.approx(signal(sound, tag), rel=5e-4)
    assert lost.currents[tag] == pytest.approx(sound.currents[tag], rel=1e-6)


def test_a_shorted_return_diode_shows_only_as_its_missing_drop() -> None:
    found = point({("Z1-", "drop"): 0.0, ("Z1-", "blocks"): 10.0})
    assert signal(found) == pytest.approx(3.0, rel=1e-3)
    assert volts(found, "Z1:4", "Z1:2") < 0.2


def test_the_strap_of_a_single_channel_is_its_return() -> None:
    found = point({("E3", "resistance"): OPEN, ("E2", "resistance"): 0.1}, ONE)
    assert signal(found, ONE) == pytest.approx(0, abs=1e-3)
    assert volts(found, "Z1:E", "X20:0") > 10


# --- conclusions ------------------------------------------------------------------------------


def test_live_in_front_and_dead_behind_is_the_channel() -> None:
    found = rank("complaint reads zero", "V Z1:1 X20:0 23.99", "V Z1:3 X20:0 0.01")
    assert top(found) == ("Z1+", "fuse blown")
    assert found.hypotheses[0].probability > 0.9


def test_more_current_in_front_of_the_barrier_than_behind_is_its_diodes() -> None:
    """2.4 mA at 24 V is 10 kohm."""
    found = rank("V X51:7 X20:0 2.998", "mA F1 14.40", "clamp W51+ 12.00")
    assert top(found) == ("Z1+", "diodes leak")
    size = found.hypotheses[0].size
    assert size is not None
    assert size.low < 10e3 < size.high


def test_the_same_gap_behind_the_barrier_is_a_core() -> None:
    """24 V - 330 ohm x 14.0 mA = 19.4 V at the core; 2 mA there are 9.7 kohm to earth."""
    readings = ("V X51:7 X20:0 2.998", "mA F1 14.00", "clamp W51+ 14.00", "V Z1:3 X20:0 19.36")
    found = rank(*readings, "PT-305 50 %")
    leaks = {("E.JB21+", "leakage"), ("E.PT-305+", "leakage")}
    share = sum(i.probability for i in found.hypotheses if (i.part, i.fault) in leaks)
    assert share > 0.9


def test_ohms_over_the_earth_bond_find_what_no_signal_shows() -> None:
    found = rank("ohm Z1:E PE 48 with supply off")
    assert top(found) == ("E2", "high resistance")


def test_a_rail_that_floats_has_lost_its_earth() -> None:
    """Nothing holds it but the return channel, whose diodes conduct backwards 0.7 V above it."""
    floats = volts(point(EARTH_LOST), "Z1:E", "Z1:4")
    assert floats == pytest.approx(0.7, abs=0.01)
    sound = ("PIC-305 50 %", "PT-305 50 %")
    found = rank(*sound, "V Z1:E PE 4.9", "ohm Z1:E PE OL with supply off")
    assert top(found) == ("E2", "lost")
    doubted = rank(*sound, "ohm Z1:E PE OL with supply off")
    assert [suspect.index for suspect in doubted.suspects] == [3]


def test_a_latent_defect_is_no_rival_for_a_complaint() -> None:
    """A bad barrier earth cannot make a reading low: a complaint leaves it a floor only."""
    before = rank("complaint reads low")
    bad = [i.probability for i in before.hypotheses if i.part == "E2"]
    assert sum(bad) < 0.01


# --- cautions ---------------------------------------------------------------------------------


def test_every_step_with_a_meter_minds_the_certified_wiring() -> None:
    for line, minded in (
        ("V Z1:1 X20:0 24", True),
        ("ohm Z1:1 Z1:3 330 with supply off", True),
        ("PIC-305 50 %", False),
    ):
        keys = cautions_for(parse_line(line, loop(TWO)).measurement, loop(TWO))
        assert ("intrinsic safety" in keys) == minded


def test_no_advice_opens_an_earth() -> None:
    """A barrier keeps its earth until its field side is disconnected: IEC 60079-14."""
    for tag in (TWO, ONE):
        earths = [part for part in loop(tag).parts if part.name in ("E2", "E3")]
        assert earths
        assert not any(part.kind.opens_at or part.kind.actions for part in earths)
