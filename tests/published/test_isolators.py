"""What a galvanic isolator does to a loop, and a transmitter with a supply of its own.

Sources: Ohm's and Kirchhoff's laws and the 4-20 mA scale, worked on paper beside each number.
Which fault shows how: common practice, no source.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line
from diagnose.loops.kind import OPEN
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet

PLANT = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
OWN = Path(__file__).parents[1] / "sheets"
FLOW, DIRECT, FED, SUNK = "FT-118", "FT-124", "PT-119", "isolator_sink"
Changes = dict[tuple[str, str], float]
OUT = {FLOW: "A1.O", FED: "A5.O", SUNK: "A1.O"}
FIELD = {FLOW: "A1", FED: "A5", SUNK: "A1"}


@cache
def loop(tag: str) -> Loop:
    folder = OWN if tag == SUNK else PLANT
    return load_sheet(folder / f"{tag}.toml")


@cache
def predictor(tag: str) -> Predictor:
    return Predictor(loop(tag))


@cache
def engine(tag: str) -> Engine:
    return Engine(loop(tag))


def point(changes: Changes, tag: str = FLOW, process: float = 0.5) -> OperatingPoint:
    return operating_point(loop(tag), changes, process, None, predictor(tag))


def volts(found: OperatingPoint, a: str, b: str) -> float:
    return found.voltages[a] - found.voltages[b]


def across(found: OperatingPoint, part: str, tag: str) -> float:
    a, b, *_ = loop(tag).part(part).pins.values()
    return volts(found, a, b)


def signal(found: OperatingPoint, tag: str = FLOW) -> float:
    return across(found, "R1", tag)


def rank(*lines: str, tag: str = FLOW) -> Ranking:
    return engine(tag).rank([parse_line(line, engine(tag).loop) for line in lines], "cabinet")


def top(ranking: Ranking) -> tuple[str | None, str]:
    return ranking.hypotheses[0].part, ranking.hypotheses[0].fault


# --- sound ------------------------------------------------------------------------------------


@pytest.mark.parametrize("tag", [FLOW, DIRECT, FED, SUNK])
@pytest.mark.parametrize("process", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_the_bus_stands_at_1_to_5_volts(tag: str, process: float) -> None:
    """4-20 mA across 250 ohm; two receivers of 1 Mohm take 0.05 % of it."""
    assert signal(point({}, tag, process), tag) == pytest.approx(1 + 4 * process, rel=1e-3)


@pytest.mark.parametrize("tag", [FLOW, FED, SUNK])
def test_both_sides_carry_the_same_current_and_share_no_node(tag: str) -> None:
    found = point({}, tag, 0.25)
    assert abs(found.currents[OUT[tag]]) == pytest.approx(8e-3, rel=1e-3)
    assert abs(found.currents[FIELD[tag]]) == pytest.approx(8e-3, rel=1e-3)
    sides = [set(loop(tag).part(name).pins.values()) for name in (OUT[tag], FIELD[tag])]
    assert not sides[0] & sides[1]


def test_the_feed_gives_its_voltage_behind_its_resistance() -> None:
    """23 V behind 300 ohm: 17.0 V at 20 mA, enough for 12 V of lift-off and the cable."""
    found = point({}, FED, 1.0)
    assert across(found, "A5", FED) == pytest.approx(23 - 300 * 20e-3, abs=1e-3)
    assert found.regimes["PT-119"] == "regulating"


def test_a_powered_output_stands_at_what_its_load_takes() -> None:
    """12 mA through 100 ohm of input and two cores of 102 m, 24.5 ohm/km (IEC 60228, 0.75 mm2)."""
    cores = 2 * 0.102 * 24.5
    own = across(point({}, FLOW), "FT-118", FLOW)
    assert own == pytest.approx(12e-3 * (100 + cores), rel=2e-3)


# --- faults -----------------------------------------------------------------------------------


@pytest.mark.parametrize("tag", [FLOW, FED, SUNK])
def test_a_dead_output_leaves_the_field_side_right(tag: str) -> None:
    found = point({(OUT[tag], "alive"): 0.0}, tag)
    assert abs(found.currents[FIELD[tag]]) == pytest.approx(12e-3, rel=1e-3)
    assert signal(found, tag) == pytest.approx(0, abs=2e-3)


@pytest.mark.parametrize("tag", [FLOW, FED])
@pytest.mark.parametrize("process", [0.1, 0.5, 0.9])
def test_a_drifting_isolator_is_off_by_one_share_at_every_signal(tag: str, process: float) -> None:
    found = point({(OUT[tag], "gain_error"): -0.1}, tag, process)
    sides = [abs(found.currents[name]) for name in (OUT[tag], FIELD[tag])]
    assert sides[0] / sides[1] == pytest.approx(0.9, rel=1e-3)


@pytest.mark.parametrize("tag", [FLOW, FED])
def test_line_monitoring_holds_the_output_whatever_the_field_does(tag: str) -> None:
    forced = {(OUT[tag], "failed"): 1.0, (OUT[tag], "failed_current"): 3.5e-3}
    seen = [signal(point(forced, tag, process), tag) for process in (0.0, 1.0)]
    assert seen == pytest.approx([0.875, 0.875], rel=2e-3)


@pytest.mark.parametrize("tag", [FLOW, FED])
def test_without_power_the_isolator_gives_nothing(tag: str) -> None:
    found = point({("F1", "resistance"): OPEN}, tag)
    assert signal(found, tag) == pytest.approx(0, abs=2e-3)
    lives = abs(found.currents[FIELD[tag]]) > 10e-3
    assert lives == (tag == FLOW)  # a fed field side dies as well, a driven one lives on


def test_a_supply_too_low_for_the_isolator_is_no_power() -> None:
    """It needs 17 V; 16 V at the bar let the output fall, 18 V do not."""
    assert signal(point({("G1", "voltage"): 16.0})) == pytest.approx(0, abs=2e-3)
    assert signal(point({("G1", "voltage"): 18.0})) == pytest.approx(3.0, rel=2e-3)


@pytest.mark.parametrize("tag", [FLOW, DIRECT])
def test_a_transmitter_that_lost_its_own_supply_is_dark_and_silent(tag: str) -> None:
    found = point({("F2", "resistance"): OPEN}, tag)
    assert signal(found, tag) == pytest.approx(0, abs=2e-3)
    assert across(found, f"{tag}.P", tag) == pytest.approx(0, abs=0.01)


def test_power_terminals_without_a_load_stand_at_the_full_supply() -> None:
    """Dead behind its terminals, it draws nothing: no drop along fuse and cable."""
    dead = {("FT-118.P", "alive"): 0.0, ("FT-118.P", "resistance"): OPEN}
    found, sound = point(dead), point({})
    assert across(found, "FT-118.P", FLOW) == pytest.approx(24.0, abs=0.01)
    assert across(sound, "FT-118.P", FLOW) < 23.8
    assert signal(found) == pytest.approx(0, abs=2e-3)


def test_a_short_in_the_field_is_limited_and_drives_the_output_to_its_top() -> None:
    """30 mA at most; the signal stops at 22.4 mA."""
    found = point({("I.PT-119", "resistance"): 0.1}, FED)
    assert abs(found.currents["A5"]) == pytest.approx(30e-3, rel=2e-3)
    assert signal(found, FED) == pytest.approx(250 * 22.4e-3, rel=2e-3)


def test_a_short_across_a_driven_pair_takes_the_signal() -> None:
    """The transmitter is content: its current returns before it reaches the isolator."""
    found = point({("I.W55", "resistance"): 0.1})
    assert abs(found.currents["FT-118"]) == pytest.approx(12e-3, rel=1e-3)
    assert signal(found) == pytest.approx(0, abs=0.01)


def test_moisture_beside_a_driven_input_hardly_matters() -> None:
    """10 kohm beside 100 ohm and the cable takes 1 % at most: current goes where it is easy."""
    wet = signal(point({("I.FT-118", "resistance"): 10e3}))
    assert 0.98 < wet / 3.0 < 0.995


def test_one_earth_fault_of_a_floating_field_changes_nothing() -> None:
    """A single connection to earth closes no circuit; two of them do."""
    sound = signal(point({}))
    one = point({("E.FT-118-", "resistance"): 1.0})
    both = point({("E.FT-118-", "resistance"): 1.0, ("E.JB23+", "resistance"): 1.0})
    assert signal(one) == pytest.approx(sound, rel=1e-5)
    assert volts(one, "FT-118:4", "PE") == pytest.approx(0, abs=1e-6)
    assert signal(both) < 1.0


def test_an_open_field_pair_shows_the_voltage_that_the_output_can_give() -> None:
    """18 V at the transmitter, none behind the break."""
    found = point({("W55+.JB23", "resistance"): OPEN})
    assert across(found, "FT-118", FLOW) == pytest.approx(18, abs=0.01)
    assert across(found, "A1", FLOW) == pytest.approx(0, abs=1e-3)


def test_too_much_resistance_clips_a_driven_loop() -> None:
    """18 V carry 20 mA through (18 V - 20 mA x 50 ohm) / 20 mA = 850 ohm, and no more."""
    load = 850.0 - 100 - 2 * 0.102 * 24.5
    for ohms, whole in ((load - 20, True), (load + 60, False)):
        found = point({("W55+", "resistance"): ohms}, FLOW, 1.0)
        assert (signal(found) > 4.99) == whole


@pytest.mark.parametrize(("tag", "part"), [(FLOW, "FT-118"), (DIRECT, "FT-124"), (FLOW, "A1.O")])
def test_a_reversed_output_drives_the_other_way(tag: str, part: str) -> None:
    found = point({(part, "reversed"): 1.0}, tag)
    sense = found.currents[part]
    assert sense == pytest.approx(12e-3, rel=1e-3)
    assert point({}, tag).currents[part] == pytest.approx(-12e-3, rel=1e-3)
    assert signal(found, tag) == pytest.approx(0.0 if part == FLOW else -3.0, abs=5e-3)


# --- conclusions ------------------------------------------------------------------------------


def test_a_living_input_and_a_silent_output_is_the_isolator() -> None:
    """1.200 V across 100 ohm is 12 mA in the field; nothing comes out of the other side."""
    found = rank("complaint reads zero", "V A1:1 A1:2 1.20", "V A1:5 A1:6 0.00", "A1.P lit")
    assert top(found) == ("A1.O", "dead")
    assert found.hypotheses[0].probability > 0.8


def test_two_sides_that_differ_by_a_share_are_the_isolator() -> None:
    found = rank("mA X57:2 X57:1 12.00", "mA X55:3 X55:4 10.80", "V X55:7 X20:0 2.70")
    assert top(found) == ("A1.O", "drift")
    size = found.hypotheses[0].size
    assert size is not None
    assert size.low < -0.1 < size.high


def test_a_dark_display_and_no_volts_point_at_the_supply() -> None:
    found = rank("complaint reads zero", "FT-118.P dark", "V G2:+ G2:- 0.00")
    assert top(found) == ("G2", "dead")
    fuse = rank("complaint reads zero", "V G2:+ G2:- 24.00", "V X58:1 G2:- 0.00")
    assert top(fuse) == ("F2", "open")


def test_a_lit_display_that_reads_and_no_current_is_the_output_stage() -> None:
    found = rank("complaint reads zero", "FT-118 50 %", "V FT-118:3 FT-118:4 0.00", "A1.P lit")
    assert top(found) == ("FT-118", "output dead")
