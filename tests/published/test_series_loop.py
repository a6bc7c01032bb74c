"""A loop with everything in series: signatures of its faults, and what follows from readings.

Volts and amperes: Ohm's and Kirchhoff's laws on the numbers of ``models/series-input.toml``, worked
out beside each check.  4/12/20 mA across 250 ohm are 1/3/5 V (Kuphaldt, "Lessons in Industrial
Instrumentation", chapter on current loops, from memory).  What a technician concludes: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from diagnose.circuit.operating import Attachment, OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.circuit.signals import level
from diagnose.inference.cautions import cautions_for, disturbs, needs_for
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import GENERIC
from diagnose.inference.observe import Observer
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import describe, parse_line, parse_measurement
from diagnose.inference.views import Points, sight
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_type
from diagnose.terminal.naming import instruction
from spice import moved

Changes = dict[tuple[str, str], float]

SENSE = 1 / (1 / 250 + 1 / 1e6)
"""A sense resistor with the megohm of its receiver across it, ohm."""


@cache
def loop() -> Loop:
    return load_type("series-input")


@cache
def machine() -> Predictor:
    return Predictor(loop())


def ma(milliamperes: float) -> Changes:
    """The transmitter asks for a fixed current."""
    return {("TX", "failed"): 1.0, ("TX", "failed_current"): milliamperes * 1e-3}


def fault(part: str, mode: str, severity: float = 0.0) -> Changes:
    found = loop().part(part)
    return moved(loop(), found, found.kind.mode(mode).changes, severity)


def point(changes: Changes, meter: Attachment | None = None) -> OperatingPoint:
    return operating_point(loop(), changes, 0.5, meter, machine())


def volts(found: OperatingPoint, a: str, b: str) -> float:
    return found.voltages[a] - found.voltages[b]


def shown(found: OperatingPoint, part: str) -> float:
    """What a display shows, fraction of range, without its end stops."""
    display = loop().part(part)
    at = [found.voltages[node] for node in machine().wiring.nodes]
    assert display.kind.shows is not None
    return float(level(machine().wiring, display, display.kind.shows, found.columns, at))


# --- the sound loop ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("current", "across"), [(4, 1.0), (8, 2.0), (12, 3.0), (16, 4.0), (20, 5.0)]
)
def test_one_current_serves_both_receivers_and_the_indicator(current: float, across: float) -> None:
    """The megohm of the receiver takes 250 ppm; the transmitter's leak of 0.4 uA adds 0.1 mV."""
    found = point(ma(current))
    for a, b in (("X21:5", "X21:6"), ("X40:1", "X40:2")):
        assert volts(found, a, b) == pytest.approx(across * SENSE / 250, abs=0.12e-3)
    for name in ("U1", "U2", "P1"):
        assert shown(found, name) == pytest.approx((current - 4) / 16, abs=1e-3)


def test_the_drops_add_up_to_the_supply() -> None:
    """At 20 mA: 24 V = transmitter + 0.63 + 5 ohm (diode) + 1.1 V + 10 ohm (indicator) + the rest.

    Cores at 20 degC (IEC 60228 class 2, 24.5 ohm/km): plus 135 m, minus 5 + 10 + 120 m, panel 50 m.
    """
    cores = 24.5e-3 * (135 + 135 + 50)
    ohms = 0.5 + 1.0 + cores + 2 * SENSE + 5.0 + 10.0
    left = 24.0 - 0.63 - 1.1 - 20e-3 * ohms
    # Two dozen joints of 5 mohm make 3 mV; diode and indicator leak microamperes beside.
    assert volts(point(ma(20)), "TX:+", "TX:T") == pytest.approx(left, abs=4e-3)
    assert left > 10.5


# --- the test diode ------------------------------------------------------------------------------


def across(changes: Changes, burden: float) -> float:
    """Milliamperes that a meter across the test terminals shows."""
    found = point(changes, Attachment("TX:T", "TX:-", 1 / burden))
    return found.attached / burden * 1e3


@pytest.mark.parametrize("current", [4.0, 12.0, 20.0])
def test_a_meter_of_low_burden_takes_the_whole_current(current: float) -> None:
    """4 ohm x 20 mA = 80 mV: the junction, at 0.63 V, carries nothing.

    The transmitter's own leak, 24 V / 50 Mohm, flows through the meter as well.
    """
    assert across(ma(current), 4.0) == pytest.approx(current, abs=0.5e-3)


def test_a_meter_of_high_burden_shares_with_the_diode_and_reads_low() -> None:
    """v / 100 + (v - 0.63) / 5 = 20 mA: v = 0.6952 V, of which the meter takes 6.95 mA."""
    v = (20e-3 + 0.63 / 5) / (1 / 100 + 1 / 5)
    assert across(ma(20), 100.0) == pytest.approx(v / 100 * 1e3, rel=1e-4)


def test_an_open_diode_stops_the_loop_and_the_meter_restores_it() -> None:
    dead = point(ma(12) | fault("D1", "open"))
    assert volts(dead, "X21:5", "X21:6") == pytest.approx(0.0, abs=1e-3)
    assert volts(dead, "TX:T", "TX:-") > 10
    assert across(ma(12) | fault("D1", "open"), 4.0) == pytest.approx(12.0, rel=1e-4)


def test_a_shorted_diode_divides_the_current_and_leaves_the_loop_right() -> None:
    """1 ohm beside 4 ohm of the meter: a fifth of 12 mA."""
    shorted = ma(12) | fault("D1", "short", 1.0)
    assert across(shorted, 4.0) == pytest.approx(12.0 / 5, rel=1e-4)
    assert volts(point(shorted), "X21:5", "X21:6") == pytest.approx(3.0, rel=1e-3)
    assert volts(point(shorted), "TX:T", "TX:-") == pytest.approx(12e-3, rel=1e-3)


# --- the indicator -------------------------------------------------------------------------------


def test_an_open_indicator_stops_everything() -> None:
    found = point(ma(12) | fault("P1", "open"))
    assert abs(found.currents["R1"]) < 1e-6 and abs(found.currents["R2"]) < 1e-6
    assert volts(found, "P1:+", "P1:-") > 10


@pytest.mark.parametrize("mode", ["short", "display dead"])
def test_a_blank_indicator_leaves_the_receivers_right(mode: str) -> None:
    found = point(ma(12) | fault("P1", mode, 1.0))
    assert shown(found, "P1") < -0.15
    assert shown(found, "U1") == pytest.approx(0.5, abs=1e-3)
    own = volts(found, "P1:+", "P1:-")
    assert own == pytest.approx(12e-3 * 1.0 if mode == "short" else 1.1 + 12e-3 * 10, rel=1e-3)


def test_an_indicator_that_takes_too_much_clips_the_loop_at_the_top_only() -> None:
    """6 V instead of 1.1 V: right at 12 mA, starved at 20 mA.

    Starved, the transmitter passes 20 mA x (v - 8.5) / 2 V; with 24 - 0.63 - 6 V behind the other
    resistances of 530 ohm that is a straight line, to be solved for the current.
    """
    hungry = fault("P1", "drop too high", 6.0)
    assert volts(point(ma(12) | hungry), "X21:5", "X21:6") == pytest.approx(3.0, rel=1e-3)
    ohms = 0.5 + 1.0 + 24.5e-3 * 320 + 2 * SENSE + 5.0 + 10.0 + 26 * 0.005
    current = (24 - 0.63 - 6 - 8.5) / (ohms + 2 / 20e-3)
    found = point(ma(20) | hungry)
    assert found.regimes["TX"] == "starved"
    assert found.currents["R1"] == pytest.approx(current, rel=2e-3)
    assert current < 20e-3
    for name in ("U1", "U2", "P1"):
        assert shown(found, name) == pytest.approx((current - 4e-3) / 16e-3, abs=5e-3)


def test_a_display_that_stands_still_shows_its_value_at_every_current() -> None:
    for current in (4.0, 20.0):
        stuck = point(ma(current) | fault("P1", "display stuck", 0.37))
        assert shown(stuck, "P1") == pytest.approx(0.37)


# --- two receivers in series ---------------------------------------------------------------------


def test_an_earthed_common_of_the_first_receiver_bridges_the_second_resistor() -> None:
    """The way round 250 ohm: common wire (25 m, 0.61 ohm), 1 ohm to earth, the bond of 0.05 ohm.

    12 mA x 1.66 ohm leave 20 mV of 3 V; what drops along the common wire shows at the first
    receiver, 7 mV too much.
    """
    found = point(ma(12) | fault("E.U1-", "earthed", 0.0))
    assert volts(found, "X40:1", "X40:2") == pytest.approx(12e-3 * 1.66, rel=0.02)
    assert shown(found, "U1") == pytest.approx(0.5 + 12e-3 * 0.61 / 4, abs=3e-4)
    assert shown(found, "U2") < -0.2


@pytest.mark.parametrize(("lame", "well"), [("U1", "U2"), ("U2", "U1")])
def test_a_second_resistor_halves_one_receiver_only(lame: str, well: str) -> None:
    """125 ohm x 12 mA = 1.5 V are 12.5 % of range."""
    found = point(ma(12) | fault(lame, "second resistor"))
    assert shown(found, lame) == pytest.approx(0.125, abs=1e-3)
    assert shown(found, well) == pytest.approx(0.5, abs=1e-3)


@pytest.mark.parametrize(
    ("part", "mode"),
    [("N1", "open"), ("N2.X20", "open"), ("X21.R1", "open"), ("W5-.P1", "open"), ("F1", "open"),
     ("LK1", "open"), ("R2", "open"), ("R1", "open"), ("TX", "dead"), ("D1", "open")],
)  # fmt: skip
def test_whatever_opens_stops_both(part: str, mode: str) -> None:
    """In series there is one current; what is left are the leak of the transmitter and megohms."""
    found = point(ma(12) | fault(part, mode))
    for name in {"R1", "R2"} - {part}:
        assert abs(found.currents[name]) < 0.1e-3


def test_an_open_sense_resistor_takes_all_the_volts_there_are() -> None:
    """The transmitter stops at 8.5 V; its own receiver then sees the rest, the other nothing."""
    found = point(ma(12) | fault("R1", "open"))
    rest = 24.0 - 8.5 - 0.63 - 1.1
    assert volts(found, "X21:5", "X21:6") == pytest.approx(rest, abs=0.7)
    assert shown(found, "U1") > 2
    assert shown(found, "U2") < -0.2


def test_moisture_across_the_transmitter_reads_high_everywhere() -> None:
    """10 kohm across transmitter and diode: I = 12 mA + v / 10 kohm, v = 24 - 1.1 - (R - 5) I."""
    ohms = 0.5 + 1.0 + 24.5e-3 * 320 + 2 * SENSE + 10.0 + 26 * 0.005
    current = (12e-3 + (24 - 1.1) / 10e3) / (1 + ohms / 10e3)
    found = point(ma(12) | fault("I.TX", "leakage", 10e3))
    for name in ("U1", "U2", "P1"):
        assert shown(found, name) == pytest.approx((current - 4e-3) / 16e-3, abs=1e-3)


# --- a meter across the test terminals, as a step ------------------------------------------------

TEST = Measurement("mA", ("TX:T", "TX:-"))
SERIES = Measurement("mA", ("X21:1", "X21:2"))


def test_the_test_terminals_are_read_without_opening_the_loop() -> None:
    assert not disturbs(TEST, loop()) and disturbs(SERIES, loop())
    assert "open loop" not in cautions_for(TEST, loop())
    assert {"series current", "live volts", "zone"} <= set(cautions_for(TEST, loop()))
    assert "open loop" in cautions_for(SERIES, loop())
    control = replace(loop(), role=frozenset({"control"}))
    assert "loop in manual" not in needs_for(TEST, control)
    assert "loop in manual" in needs_for(SERIES, control)
    offered = {c.measurement: c for c in engine().candidates}
    assert not offered[TEST].interrupts and not offered[TEST].moves_signal
    assert offered[SERIES].interrupts
    assert "open nothing" in instruction(TEST, loop(), 12e-3)
    assert "open between" in instruction(SERIES, loop(), 12e-3)


@pytest.mark.parametrize("typed", ["mA TX:T TX:-", "mA D1", "mA TX:T"])
def test_it_is_typed_like_any_current(typed: str) -> None:
    assert parse_measurement(typed, loop()) == TEST
    assert describe(TEST, loop()) == "mA TX:T TX:-"


def test_the_observer_sees_what_the_circuit_says() -> None:
    """Against the current of the loop, and against the current divider above."""
    observer = Observer(machine(), replace(GENERIC, burden=100.0))
    columns = machine().columns({machine().wiring.index[k]: v for k, v in ma(20).items()}, 0.5)
    state = observer.base(columns, 1, ())
    process = np.array([0.5])
    assert observer.level(TEST, state, process)[0] == pytest.approx(6.952e-3, rel=1e-3)
    # In series the 100 ohm take 2 V, more than the transmitter can spare.
    assert observer.level(SERIES, state, process)[0] < 19.5e-3


@pytest.mark.parametrize("mode", ["open", "short"])
def test_advice_foresees_what_the_meter_across_will_show(mode: str) -> None:
    """Against the circuit with the meter clipped on, at the middle of the fault's range."""
    known = engine()
    h = known.hypothesis(("D1", mode))
    points = Points(np.array([h.number]), np.array([0.5]), np.array([0.5]), np.ones(1))
    seen = sight(known.atlas, points, [TEST, SERIES])
    severity = 1.0 if mode == "short" else 0.0
    assert mode == "open" or h.severity(np.array([0.5]))[0] == pytest.approx(severity)
    found = point(fault("D1", mode, severity), Attachment("TX:T", "TX:-", 1 / GENERIC.burden))
    assert seen.level[0, 0] == pytest.approx(found.attached / GENERIC.burden, rel=1e-6)
    assert seen.level[1, 0] == pytest.approx(0.0 if mode == "open" else 12e-3, abs=1e-5)


# --- what follows --------------------------------------------------------------------------------


@cache
def engine() -> Engine:
    return Engine(loop())


def rank(*lines: str, known: Engine | None = None) -> Ranking:
    return (known or engine()).rank([parse_line(line, loop()) for line in lines])


def chance(ranking: Ranking, *keys: tuple[str | None, str]) -> float:
    return sum(h.probability for h in ranking.hypotheses if (h.part, h.fault) in keys)


def letting_hum_in(known: Engine) -> set[tuple[str | None, str]]:
    return {h.key for h in known.hypotheses if h.mode is not None and h.mode.hum}


def test_current_that_only_flows_through_the_meter_means_an_open_test_diode() -> None:
    """A protector that takes the return to earth passes current too, meter or no meter."""
    lines = ("complaint reads zero", "V X21:5 X21:6 0.000", "U2 -10 %", "mA TX:T TX:- 12.03")
    first = rank(*lines)
    assert chance(first, ("D1", "open")) > 0.4
    assert chance(first, ("D1", "open"), ("FV2", "short")) > 0.8
    assert chance(rank(*lines, "V TX:T TX:- 13.9"), ("D1", "open")) > 0.9


def test_a_volt_across_the_indicator_and_a_blank_display_mean_a_dead_display() -> None:
    lines = ("V X21:5 X21:6 2.999", "P1 -15 %", "V P1:+ P1:- 1.22")
    ranking = rank("complaint disagree", *lines)
    assert chance(ranking, ("P1", "display dead")) > 0.8


def test_one_receiver_at_nothing_and_the_common_at_earth() -> None:
    """3 V stand at the common of the first receiver when all is well."""
    lines = ("U1 50.0 %", "U2 -10 %", "V X21:5 X21:6 3.00", "V U1:- PE 0.013")
    bridged = chance(rank(*lines), ("E.U1-", "earthed"), ("R2", "short"))
    assert bridged > 0.8
    # The current goes on to the panel if its resistor is bridged, and leaves before it if not.
    assert chance(rank(*lines, "clamp N1 0.08"), ("E.U1-", "earthed")) > 0.9
    assert chance(rank(*lines, "clamp N1 12.0"), ("R2", "short")) > 0.9


@pytest.mark.parametrize(
    ("where", "rms"), [("X21:5 X21:6", 0.088), ("X40:1 X40:2", 0.088), ("X21:5 X20:0", 0.177)]
)
def test_the_signal_that_rides_on_the_current_is_no_hum(where: str, rms: float) -> None:
    """+-0.5 mA about the direct current: 0.125 V peak, 88 mV rms across 250 ohm (from memory)."""
    assert rms == pytest.approx(0.5e-3 / 2**0.5 * (500 if "X20" in where else 250), abs=1e-3)
    line = "V X21:5 X21:6 3.00"
    bare, heard = rank(line), rank(line, f"VAC {where} {rms}")
    hums = letting_hum_in(engine())
    assert hums
    assert chance(heard, *hums) <= chance(bare, *hums) + 0.01
    assert chance(heard, (None, "none")) >= chance(bare, (None, "none")) - 0.01


def test_the_same_where_nothing_signals_is_hum() -> None:
    """Silent wiring with 88 mV of alternating volts has a second way to earth, or a bad supply."""
    silent = Engine(replace(loop(), signalling=False))
    line = "V X21:5 X21:6 3.00"
    bare = rank(line, known=silent)
    heard = rank(line, "VAC X21:5 X21:6 0.088", known=silent)
    hums = letting_hum_in(silent)
    assert chance(heard, *hums) > 3 * chance(bare, *hums)


def test_more_than_the_signal_is_hum_all_the_same() -> None:
    line = "V X21:5 X21:6 3.00"
    hums = letting_hum_in(engine())
    heard = rank(line, "VAC X21:5 X21:6 0.400")
    assert chance(heard, *hums) > 3 * chance(rank(line), *hums)


def test_alternating_volts_where_no_signal_drops_are_hum() -> None:
    """0.5 mA across a closed link leave microvolts: 88 mV there come from elsewhere."""
    line = "V X21:5 X21:6 3.00"
    hums: Iterable[tuple[str | None, str]] = letting_hum_in(engine())
    heard = rank(line, "VAC X20:0 PE 0.088")
    assert chance(heard, *hums) > 3 * chance(rank(line), *hums)
