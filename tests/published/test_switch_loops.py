"""Proximity sensor and monitored contact on a switch amplifier: currents, signatures, conclusions.

Sources.  8.2 V behind 1 kohm, switching between 1.2 and 2.1 mA: IEC 60947-5-6:1999, as secondary
pages quote it; line resistance at most 50 ohm: its clause 5.6, an excerpt of the AS/NZS edition.
Currents at given resistances: Ohm's law, I = 8.2 V / (1000 ohm + R).  Thresholds of line
monitoring: from memory.  Signatures and conclusions: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from diagnose.circuit.operating import Attachment, OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.signals import level
from diagnose.inference.cautions import cautions_for
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import describe, parse_line, parse_measurement
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type
from spice import moved

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"

SENSOR, CONTACT = "proximity-input", "monitored-contact"
AWAY, THERE = 0.0, 1.0
LOW, HIGH = 0.0, 1.0
Changes = dict[tuple[str, str], float]


@cache
def loop(sort: str) -> Loop:
    return load_type(sort)


@cache
def machine(sort: str) -> Predictor:
    return Predictor(loop(sort))


def fault(sort: str, part: str, mode: str, severity: float = 0.0) -> Changes:
    found = loop(sort).part(part)
    return moved(loop(sort), found, found.kind.mode(mode).changes, severity)


def done(sort: str, part: str, action: str, value: float = 0.0) -> Changes:
    found = loop(sort).part(part)
    changes = next(item for item in found.kind.actions if item.name == action).changes
    return moved(loop(sort), found, changes, value)


def point(
    sort: str, process: float, changes: Changes | None = None, meter: Attachment | None = None
) -> OperatingPoint:
    return operating_point(loop(sort), changes or {}, process, meter, machine(sort))


def ma(found: OperatingPoint) -> float:
    """Milliamperes out of the amplifier."""
    return -found.currents["A2"] * 1e3


def volts(found: OperatingPoint, a: str, b: str) -> float:
    return found.voltages[a] - found.voltages[b]


def lit(sort: str, found: OperatingPoint, *parts: str) -> tuple[bool, ...]:
    """Which lamps are lit."""
    wiring = machine(sort).wiring
    at = [found.voltages[node] for node in wiring.nodes]
    lamps = [loop(sort).part(name) for name in parts]
    return tuple(
        float(level(wiring, lamp, lamp.kind.shows, found.columns, at)) > 0
        for lamp in lamps
        if lamp.kind.shows
    )


def lamps(sort: str, found: OperatingPoint) -> tuple[bool, ...]:
    """Power, output, line fault, control room."""
    return lit(sort, found, "P2", "Q2", "H2", "K2")


# --- the amplifier -------------------------------------------------------------------------------

OPEN_LINK: Changes = {("LK1", "resistance"): 1e12}


def across(ohms: float) -> OperatingPoint:
    """Nothing but a resistance at the terminals of the amplifier."""
    return point(SENSOR, AWAY, OPEN_LINK, Attachment("A2:1", "A2:3", 1 / ohms))


@pytest.mark.parametrize(
    ("ohms", "current"),
    [(1e-6, 8.20), (100, 7.455), (360, 6.029), (1e3, 4.10), (2905, 2.10), (5833, 1.20),
     (10e3, 0.745), (22.4e3, 0.35), (81e3, 0.10), (163e3, 0.05)],
)  # fmt: skip
def test_current_at_a_resistance(ohms: float, current: float) -> None:
    assert ma(across(ohms)) == pytest.approx(current, abs=0.006)


def test_the_switching_band_is_seven_to_six_volts_at_the_terminals() -> None:
    """8.2 V - 1.2 mA x 1 kohm = 7.0 V; 8.2 V - 2.1 mA x 1 kohm = 6.1 V."""
    assert volts(across(5833), "A2:1", "A2:3") == pytest.approx(7.0, abs=0.005)
    assert volts(across(2905), "A2:1", "A2:3") == pytest.approx(6.1, abs=0.005)
    assert volts(across(1e12), "A2:1", "A2:3") == pytest.approx(8.2, abs=1e-6)


def test_the_output_has_turned_at_both_edges_of_the_band() -> None:
    """This one is on at a small current."""
    assert lit(SENSOR, across(5833), "Q2") == (True,)
    assert lit(SENSOR, across(2905), "Q2") == (False,)


@pytest.mark.parametrize(
    ("ohms", "reported"),
    [(1e12, True), (163e3, True), (22.4e3, False), (360, False), (100, True), (1e-6, True)],
)
def test_line_faults_are_reported_outside_their_thresholds(ohms: float, reported: bool) -> None:
    """A break somewhere between 0.05 and 0.35 mA, a short between 100 and 360 ohm (from memory)."""
    found = across(ohms)
    assert lit(SENSOR, found, "H2") == (reported,)
    if reported:
        assert lit(SENSOR, found, "Q2", "K2") == (False, False)


# --- the sensor ----------------------------------------------------------------------------------


def test_the_sound_sensor_stands_clear_of_the_band_on_either_side() -> None:
    away, there = point(SENSOR, AWAY), point(SENSOR, THERE)
    assert ma(away) > 2.1 and volts(away, "JB7:1", "JB7:2") < 6.1
    assert ma(there) < 1.2 and volts(there, "JB7:1", "JB7:2") > 7.0
    assert lamps(SENSOR, away) == (True, False, False, False)
    assert lamps(SENSOR, there) == (True, True, False, True)


@pytest.mark.parametrize("sort", [SENSOR, CONTACT])
def test_the_line_has_less_than_fifty_ohms(sort: str) -> None:
    kinds = ("core", "termination", "link")
    parts = [part for part in loop(sort).parts if part.kind.name in kinds]
    assert 0 < sum(part.values["resistance"] for part in parts) < 50


def test_between_its_states_the_current_passes_through_the_band() -> None:
    currents = [ma(point(SENSOR, at / 20)) for at in range(21)]
    assert currents == sorted(currents, reverse=True)
    assert any(1.2 < current < 2.1 for current in currents)


def test_a_lost_target_is_a_sound_circuit_that_says_away() -> None:
    lost = point(SENSOR, THERE, fault(SENSOR, "T1", "missing", 0.0))
    assert lost.voltages == pytest.approx(point(SENSOR, AWAY).voltages, abs=1e-9)
    assert lamps(SENSOR, lost) == (True, False, False, False)


def test_a_grown_gap_leaves_the_current_in_the_band() -> None:
    """Half of the movement: half way between the two currents."""
    grown = point(SENSOR, THERE, fault(SENSOR, "T1", "missing", 0.5))
    assert 1.2 < ma(grown) < 2.3


@pytest.mark.parametrize(
    ("part", "mode"), [("W6+", "open"), ("LK1", "open"), ("W5-.JB7", "open"), ("B1", "dead")]
)
@pytest.mark.parametrize("at", [AWAY, THERE])
def test_a_broken_wire_is_reported_and_holds_the_output_off(
    part: str, mode: str, at: float
) -> None:
    broken = point(SENSOR, at, fault(SENSOR, part, mode))
    assert ma(broken) < 0.05
    assert volts(broken, "A2:1", "A2:3") == pytest.approx(8.2, abs=0.05)
    assert lamps(SENSOR, broken) == (True, False, True, False)


@pytest.mark.parametrize("part", ["I.JB7", "I.B1", "I.W5"])
def test_a_short_is_reported_and_holds_the_output_off(part: str) -> None:
    shorted = point(SENSOR, THERE, fault(SENSOR, part, "short", 1.0))
    assert ma(shorted) > 6.5 and volts(shorted, "A2:1", "A2:3") < 0.1
    assert lamps(SENSOR, shorted) == (True, False, True, False)


def test_moisture_shifts_the_current_and_masks_a_break() -> None:
    """10 kohm across the pair: 0.745 mA flow with nothing behind, well above a break."""
    wet = fault(SENSOR, "I.JB7", "leakage", 10e3)
    added = ma(point(SENSOR, THERE, wet)) - ma(point(SENSOR, THERE))
    assert 0.4 < added < 0.8
    masked = point(SENSOR, AWAY, wet | fault(SENSOR, "W6+", "open"))
    assert ma(masked) == pytest.approx(0.745, abs=0.002)
    assert volts(masked, "A2:1", "A2:3") == pytest.approx(7.45, abs=0.01)
    # Away, and yet it says there: the break is seen by nobody.
    assert lamps(SENSOR, masked) == (True, True, False, True)


def test_more_moisture_takes_the_output_off() -> None:
    soaked = point(SENSOR, THERE, fault(SENSOR, "I.JB7", "leakage", 3e3))
    assert ma(soaked) > 2.1
    assert lamps(SENSOR, soaked) == (True, False, False, False)


@pytest.mark.parametrize("wanted", [2.1, 1.2])
def test_line_resistance_pulls_the_large_current_into_the_band_and_through_it(
    wanted: float,
) -> None:
    """8.2 V = 1 V + I x (1 kohm + 1057 ohm of the sensor + line); its leak of 1 Mohm left out."""
    of_sensor = (8.2 - 3.5 - 1.0) / 3.5e-3
    line = 7.2 / (wanted * 1e-3) - 1e3 - of_sensor
    slow = point(SENSOR, AWAY, fault(SENSOR, "W5+.JB7", "high resistance", line))
    assert ma(slow) == pytest.approx(wanted, rel=0.01)
    assert lit(SENSOR, slow, "H2") == (False,)
    assert lit(SENSOR, slow, "Q2") == (wanted < 1.65,)


def test_a_reversed_sensor_looks_like_an_open_line() -> None:
    backwards = point(SENSOR, AWAY, fault(SENSOR, "B1", "reversed"))
    assert ma(backwards) < 0.05
    assert lamps(SENSOR, backwards) == (True, False, True, False)


def test_a_sensor_of_the_other_sense_says_the_opposite() -> None:
    other = fault(SENSOR, "B1", "other sense")
    assert ma(point(SENSOR, AWAY, other)) == pytest.approx(ma(point(SENSOR, THERE)), rel=1e-9)
    assert ma(point(SENSOR, THERE, other)) == pytest.approx(ma(point(SENSOR, AWAY)), rel=1e-9)


@pytest.mark.parametrize(
    ("part", "mode", "away", "there"),
    [
        ("Q2", "inverted", (True, True, False, True), (True, False, False, False)),
        ("Q2", "stuck on", (True, True, False, True), (True, True, False, True)),
        ("Q2", "stuck off", (True, False, False, False), (True, False, False, False)),
        ("K2", "welded", (True, False, False, True), (True, True, False, True)),
        ("K2", "does not close", (True, False, False, False), (True, True, False, False)),
        ("H2", "stays lit", (True, False, True, False), (True, True, True, True)),
        ("A2", "dead", (False,) * 4, (False,) * 4),
    ],
)
def test_lamps_when_the_amplifier_fails(
    part: str, mode: str, away: tuple[bool, ...], there: tuple[bool, ...]
) -> None:
    """The current is right, unless the amplifier is without power; only what is told is wrong."""
    changes = fault(SENSOR, part, mode)
    assert lamps(SENSOR, point(SENSOR, AWAY, changes)) == away
    assert lamps(SENSOR, point(SENSOR, THERE, changes)) == there
    current = 0.0 if part == "A2" else ma(point(SENSOR, THERE))
    assert ma(point(SENSOR, THERE, changes)) == pytest.approx(current, abs=1e-6)


def test_steel_before_the_sensor_tells_a_lost_target_from_a_dead_sensor() -> None:
    steel = done(SENSOR, "B1", "covered")
    lost = fault(SENSOR, "T1", "missing", 0.0) | steel
    frozen = fault(SENSOR, "B1", "frozen", 0.0) | steel
    assert lamps(SENSOR, point(SENSOR, AWAY, lost)) == (True, True, False, True)
    assert lamps(SENSOR, point(SENSOR, AWAY, frozen)) == (True, False, False, False)


def test_a_known_resistor_in_place_of_the_sensor() -> None:
    """8.2 V / (1 kohm + 1 kohm + 6 ohm of line) = 4.09 mA, whatever ails the sensor."""
    held = fault(SENSOR, "B1", "dead") | done(SENSOR, "B1", "replaced", 1e3)
    ohms = 24.5e-3 * 2 * 125 + 11 * 0.005
    assert ma(point(SENSOR, AWAY, held)) == pytest.approx(8.2e3 / (2000 + ohms), rel=1e-4)


# --- the contact ---------------------------------------------------------------------------------


def test_the_sound_contact() -> None:
    """Open 8.2 / 11 kohm = 0.745 mA; closed 1 kohm beside 10 kohm: 8.2 / 1909 = 4.30 mA."""
    line = 24.5e-3 * 2 * 128
    assert ma(point(CONTACT, LOW)) == pytest.approx(0.745, abs=0.001)
    closed = 8.2e3 / (1e3 + line + 1 / (1 / 1e3 + 1 / 10e3))
    assert closed == pytest.approx(4.30, abs=0.02)
    assert ma(point(CONTACT, HIGH)) == pytest.approx(closed, rel=1e-3)
    # The alarm is lit while the relay is dropped.
    assert lamps(CONTACT, point(CONTACT, LOW)) == (True, False, False, True)
    assert lamps(CONTACT, point(CONTACT, HIGH)) == (True, True, False, False)


@pytest.mark.parametrize("at", [LOW, HIGH])
def test_broken_wire_short_and_no_power_all_raise_the_alarm(at: float) -> None:
    broken = point(CONTACT, at, fault(CONTACT, "W5+", "open"))
    shorted = point(CONTACT, at, fault(CONTACT, "I.JB7", "short", 1.0))
    dead = point(CONTACT, at, fault(CONTACT, "A2", "dead"))
    assert lamps(CONTACT, broken) == (True, False, True, True)
    assert lamps(CONTACT, shorted) == (True, False, True, True)
    assert lamps(CONTACT, dead) == (False, False, False, True)
    assert (ma(broken) < 0.05, ma(shorted) > 6.5, ma(dead) < 0.01) == (True, True, True)


def test_a_plain_contact_where_the_line_is_watched_is_a_line_fault_in_either_state() -> None:
    """Closed 8.2 mA and 0 V; open nothing and 8.2 V."""
    plain = fault(CONTACT, "S1", "plain")
    closed, opened = point(CONTACT, HIGH, plain), point(CONTACT, LOW, plain)
    assert ma(closed) == pytest.approx(8.2, abs=0.06)
    assert ma(opened) == pytest.approx(0.0, abs=1e-3)
    assert volts(opened, "A2:1", "A2:3") == pytest.approx(8.2, abs=1e-3)
    assert lamps(CONTACT, closed) == lamps(CONTACT, opened) == (True, False, True, True)


def test_ten_kilohms_of_moisture_are_the_resistor_across_the_pair() -> None:
    """Behind them nobody sees a break: the amplifier reads an open contact."""
    masked = fault(CONTACT, "I.JB7", "leakage", 10e3) | fault(CONTACT, "W6+", "open")
    for at in (LOW, HIGH):
        found = point(CONTACT, at, masked)
        assert ma(found) == pytest.approx(0.745, abs=0.001)
        assert lamps(CONTACT, found) == lamps(CONTACT, point(CONTACT, LOW))


def test_moisture_beside_the_resistors_holds_an_open_contact_on() -> None:
    """2 kohm: 8.2 V / (1 kohm + 2 kohm beside 10 kohm) = 3.1 mA, as if it were closed."""
    wet = point(CONTACT, LOW, fault(CONTACT, "I.S1", "leakage", 2e3))
    assert ma(wet) == pytest.approx(8.2e3 / (1000 + 1 / (1 / 2e3 + 1 / 10e3)), rel=0.01)
    assert lamps(CONTACT, wet) == (True, True, False, False)


@pytest.mark.parametrize(
    ("part", "mode", "severity", "opened", "closed"),
    [
        ("RE", "open", 0.0, 0.0, 4.10),
        ("RE", "short", 1.0, 8.2, 8.2),
        ("RS", "short", 1.0, 0.745, 8.2),
        ("RS", "open", 0.0, 0.745, 0.745),
        ("S1", "does not close", 0.0, 0.745, 0.745),
        ("S1", "welded", 0.0, 4.30, 4.30),
        ("T1", "hangs up", 0.0, 4.30, 4.30),
        ("T1", "hangs down", 0.0, 0.745, 0.745),
    ],
)
def test_currents_of_the_switch_head(
    part: str, mode: str, severity: float, opened: float, closed: float
) -> None:
    """Ohm's law on 1 kohm, 1 kohm in series and 10 kohm across; the line adds 6 ohm."""
    changes = fault(CONTACT, part, mode, severity)
    assert ma(point(CONTACT, LOW, changes)) == pytest.approx(opened, abs=0.06)
    assert ma(point(CONTACT, HIGH, changes)) == pytest.approx(closed, abs=0.07)


def test_a_dirty_contact_stays_in_the_band() -> None:
    """3.5 kohm: 4.5 kohm beside 10 kohm pass 8.2 V / 4103 ohm = 2.0 mA."""
    dirty = point(CONTACT, HIGH, fault(CONTACT, "S1", "high resistance", 3.5e3))
    assert ma(dirty) == pytest.approx(8.2e3 / (1000 + 1 / (1 / 4.5e3 + 1 / 10e3)), rel=0.01)


@pytest.mark.parametrize("sort", [SENSOR, CONTACT])
def test_one_earth_changes_nothing_and_two_are_a_short(sort: str) -> None:
    """The pair floats: a single connection closes no circuit."""
    plus, minus = (fault(sort, f"E.JB7{side}", "earthed") for side in "+-")
    for changes in (plus, minus):
        assert ma(point(sort, HIGH, changes)) == pytest.approx(ma(point(sort, HIGH)), abs=1e-4)
    assert ma(point(sort, HIGH, plus | minus)) > 7.5


# --- what follows --------------------------------------------------------------------------------


@cache
def engine(sort: str) -> Engine:
    return Engine(loop(sort))


def rank(sort: str, *lines: str) -> Ranking:
    return engine(sort).rank([parse_line(line, loop(sort)) for line in lines])


def chance(ranking: Ranking, *keys: tuple[str | None, str]) -> float:
    return sum(h.probability for h in ranking.hypotheses if (h.part, h.fault) in keys)


def opens(sort: str) -> Iterable[tuple[str | None, str]]:
    return [h.key for h in engine(sort).hypotheses if h.key[1] == "open" and h.part != "RE"]


def test_a_healthy_current_and_a_dark_lamp_turn_the_eye_to_the_target() -> None:
    ranking = rank(SENSOR, "complaint stays off", "V A2:1 A2:3 4.70", "LG 100 %", "H2 dark")
    assert chance(ranking, ("T1", "missing")) > 0.7
    assert ranking.hypotheses[0].part == "T1"


def test_a_dark_power_lamp_alone_speaks_of_the_power() -> None:
    """Its supply, its fuse and itself are one fault here (common practice, no source)."""
    loop = load_sheet(SHEETS / "ZS-221.toml")
    told = ("complaint stays off", "ZY-221.P dark")
    ranking = Engine(loop).rank([parse_line(line, loop) for line in told])
    assert (ranking.hypotheses[0].part, ranking.hypotheses[0].fault) == ("ZY-221", "dead")
    assert ranking.unexplained < ranking.hypotheses[0].probability


def test_eight_volts_at_the_amplifier_and_nothing_in_the_line() -> None:
    ranking = rank(SENSOR, "V A2:1 A2:3 8.20", "H2 lit", "clamp W5+ 0.00")
    found = chance(ranking, *opens(SENSOR), ("B1", "dead"), ("B1", "reversed"))
    assert found > 0.95
    assert chance(ranking, ("B1", "dead")) < 0.5


def test_eight_volts_at_the_junction_box_leave_the_sensor_and_its_cable() -> None:
    ranking = rank(SENSOR, "V A2:1 A2:3 8.20", "H2 lit", "V JB7:1 JB7:2 8.20")
    near = ("W6+", "open"), ("W6-", "open"), ("W6+.JB7", "open"), ("W6-.JB7", "open")
    assert chance(ranking, *near, ("B1", "dead"), ("B1", "reversed")) > 0.95


def test_after_work_a_reversed_sensor_comes_to_the_front() -> None:
    lines = ("V A2:1 A2:3 8.20", "V JB7:1 JB7:2 8.20")
    before, after = rank(SENSOR, *lines), rank(SENSOR, "context work", *lines)
    assert chance(after, ("B1", "reversed")) > 4 * chance(before, ("B1", "reversed"))


def test_a_right_output_lamp_and_a_wrong_control_room_mean_the_relay() -> None:
    ranking = rank(SENSOR, "V A2:1 A2:3 7.39", "Q2 lit", "K2 dark")
    assert chance(ranking, ("K2", "does not close")) > 0.8


def test_a_wrong_output_lamp_at_a_right_current_means_the_stage() -> None:
    ranking = rank(SENSOR, "V A2:1 A2:3 7.39", "Q2 dark", "K2 dark", "H2 dark")
    stage = [("Q2", mode) for mode in ("inverted", "stuck off", "switch point wrong")]
    assert chance(ranking, *stage) > 0.8
    told = rank(SENSOR, "V A2:1 A2:3 7.39", "Q2 dark", "Q2 lit with B1 uncovered")
    assert chance(told, ("Q2", "inverted")) > 0.8


def test_all_lamps_dark_mean_no_power() -> None:
    ranking = rank(SENSOR, "P2 dark", "Q2 dark", "V A2:1 A2:3 0.00")
    assert chance(ranking, ("A2", "dead")) > 0.9


def test_three_quarters_of_a_milliampere_have_several_causes() -> None:
    """An open contact, a break behind moisture, a resistor gone: the level decides."""
    line = "mA LK1 0.745"
    low = rank(CONTACT, line, "LG 0 %").hypotheses[0]
    assert (low.part, low.fault) == (None, "none")
    high = rank(CONTACT, line, "LG 100 %", "K2 lit")
    causes = [("RS", "open"), ("S1", "does not close"), ("T1", "hangs down")]
    assert chance(high, *causes) > 0.85
    assert all(0.01 < chance(high, cause) < 0.95 for cause in causes)
    # Closed by hand the contact carries: the float is to blame.
    worked = rank(CONTACT, line, "LG 100 %", "V S1:1 S1:2 3.9 with S1 closed")
    assert chance(worked, ("T1", "hangs down")) > 0.9


def test_volts_in_the_switch_head_tell_contact_from_series_resistor() -> None:
    """No current: an open contact has all 7.45 V, an open resistor in series with it as well."""
    lines = ("LG 100 %", "K2 lit")
    contact = rank(CONTACT, *lines, "V S1:3 S1:2 7.45")
    assert chance(contact, ("S1", "does not close"), ("T1", "hangs down")) > 0.9
    resistor = rank(CONTACT, *lines, "V S1:1 S1:3 7.45")
    assert chance(resistor, ("RS", "open")) > 0.9


def test_after_work_line_faults_in_both_states_mean_a_plain_contact() -> None:
    ranking = rank(
        CONTACT, "context work", "H2 lit", "V A2:1 A2:3 8.20 with S1 released",
        "V A2:1 A2:3 0.06 with S1 closed",
    )  # fmt: skip
    assert chance(ranking, ("S1", "plain")) > 0.9


@pytest.mark.parametrize(
    "typed",
    ["K2 with B1 covered", "V JB7:1 JB7:2 with B1 replaced 1000 ohm", "V A2:1 A2:3 with A2 off"],
)
def test_conditions_are_typed_and_told_alike(typed: str) -> None:
    assert describe(parse_measurement(typed, loop(SENSOR)), loop(SENSOR)) == typed


def test_what_is_done_by_hand_is_cautioned() -> None:
    steel = parse_measurement("K2 with B1 covered", loop(SENSOR))
    assert "by hand" in cautions_for(steel, loop(SENSOR))
    trip = replace(loop(CONTACT), role=frozenset({"trip"}))
    assert {"by hand", "trip"} <= set(
        cautions_for(parse_measurement("K2 with S1 closed", trip), trip)
    )


@pytest.mark.parametrize(
    ("sort", "words", "values"),
    [
        (SENSOR, ("covered", "uncovered"), (7.39, 4.72)),
        (CONTACT, ("closed", "released"), (3.92, 7.455)),
    ],
)
def test_a_repair_is_proved_in_both_states(
    sort: str, words: tuple[str, ...], values: tuple[float, ...]
) -> None:
    """Volts at the amplifier: 8.2 V less 1 kohm x the currents above."""
    proofs = engine(sort).proof
    assert len(proofs) == 2
    for proof, word, value in zip(proofs, words, values, strict=True):
        assert proof.text.endswith(word)
        assert proof.low < value < proof.high
        assert proof.high - proof.low < 1.0
