"""How a three-wire resistance thermometer fails: what the card shows, what ohms at the strip say.

Common practice, no source: a table of failures as instrument technicians keep it.  Arithmetic: IEC
60751, 138.51 ohm at 100 degC and 2.64 K/ohm there.
"""

from __future__ import annotations

import pytest

from diagnose.circuit.predictor import Predictor
from temperature_loops import Changes, action, fault, machine, seen

RTD = "rtd-input"
TOP, BOTTOM = 220.0, -20.0
"""End stops of the display, 0 to 200 degC with a tenth more."""

AB, BC, AC = ("X31:1", "X31:2"), ("X31:2", "X31:3"), ("X31:1", "X31:3")
FAR = 50e3


def broken(part: str, mode: str, severity: float = 0.0) -> Changes:
    return fault(machine(RTD).loop, part, mode, severity)


def shown(part: str, mode: str, severity: float = 0.0, celsius: float = 100.0) -> float:
    return seen(RTD, celsius, broken(part, mode, severity)).shown()


def ohms(part: str, mode: str, pair: tuple[str, str], severity: float = 0.0) -> float:
    """The card unplugged, as resistance must be read."""
    off = action(machine(RTD).loop, "U1", "off")
    return seen(RTD, 100.0, broken(part, mode, severity), off).ohms(*pair)


@pytest.mark.parametrize(
    ("part", "mode"),
    [("RT", "open"), ("W3A", "open"), ("W3A.H", "open"), ("W3A.X31", "open"), ("U1.A", "open")],
)
def test_an_open_element_or_single_lead_drives_the_card_to_the_top(part: str, mode: str) -> None:
    assert shown(part, mode) > TOP


@pytest.mark.parametrize("part", ["RT", "W3A", "W3A.H", "W3A.X31"])
def test_and_ohms_from_a_to_b_are_open_while_b_to_c_are_whole(part: str) -> None:
    assert ohms(part, "open", AB) > FAR
    assert ohms(part, "open", AC) > FAR
    assert ohms(part, "open", BC) < 10


def test_a_card_set_to_go_down_goes_down() -> None:
    down: Changes = {("U1", "burnout"): -1.0}
    assert seen(RTD, 100.0, broken("RT", "open"), down).shown() < BOTTOM


@pytest.mark.parametrize("part", ["W3B", "W3B.H", "W3B.X31", "U1.B"])
def test_one_of_the_paired_leads_open_full_scale(part: str) -> None:
    assert shown(part, "open") > TOP


@pytest.mark.parametrize("part", ["W3C", "W3C.H", "W3C.X31", "U1.C", "H.BC"])
def test_the_other_paired_lead_open_loses_the_compensation(part: str) -> None:
    """It reads high by the leads, 2.64 K/ohm, and goes on following the process."""
    lead = machine(RTD).loop.part("W3B").values["resistance"]
    found = shown(part, "open")
    assert found == pytest.approx(100.0 + 2.64 * 2 * lead, abs=0.3)
    assert shown(part, "open", celsius=150.0) - found == pytest.approx(50.0, abs=0.5)


@pytest.mark.parametrize("part", ["W3C", "W3C.H", "W3C.X31", "H.BC"])
def test_and_ohms_from_b_to_c_are_open_while_a_to_b_are_whole(part: str) -> None:
    assert ohms(part, "open", BC) > FAR
    assert ohms(part, "open", AB) == pytest.approx(142.4, abs=0.5)


@pytest.mark.parametrize("part", ["I.H", "I.AB", "I.AC"])
def test_a_short_shows_less_than_any_process(part: str) -> None:
    found = shown(part, "short", 0.05)
    assert found < -200.0
    assert ohms(part, "short", AB, 0.05) < 6


def test_moisture_reads_low_by_more_the_wetter_it_is() -> None:
    """138.5 ohm beside 10 kohm reads 5.0 K low."""
    assert shown("I.H", "leakage", 10e3) == pytest.approx(95.0, abs=0.06)
    assert shown("I.H", "leakage", 1e3) < shown("I.H", "leakage", 10e3)
    assert ohms("I.H", "leakage", AB, 10e3) < 138.51 + 4.0


@pytest.mark.parametrize(("part", "sign"), [("W3A.X31", 1), ("W3A.H", 1), ("W3B.X31", -1)])
def test_a_corroded_terminal(part: str, sign: int) -> None:
    """+2.64 K per ohm in the measured lead, -2.64 K in the compensating one."""
    more = 20.0
    found = shown(part, "high resistance", more) - 100.0
    assert found == pytest.approx(sign * 2.64 * more, rel=0.02)
    mismatch = ohms(part, "high resistance", AC, more) - ohms(part, "high resistance", AB, more)
    assert mismatch == pytest.approx(0.0 if sign > 0 else -more, abs=0.3)


def test_wired_as_two_wire_reads_high_by_both_leads() -> None:
    lead = machine(RTD).loop.part("W3A").values["resistance"]
    assert shown("U1", "wired as two-wire") == pytest.approx(100.0 + 2.64 * 2 * lead, abs=0.2)


@pytest.mark.parametrize(
    ("part", "mode", "side"),
    [("RT", "other nominal value", 1), ("U1", "set for another element", -1)],
)
def test_another_nominal_value_is_off_the_scale(part: str, mode: str, side: int) -> None:
    assert side * (shown(part, mode) - 100.0) > 200.0


def test_ohms_tell_an_element_of_another_nominal_value() -> None:
    found = ohms("RT", "other nominal value", AB)
    assert found == pytest.approx(1385 + 4, abs=1)
    assert ohms("U1", "set for another element", AB) == pytest.approx(142.4, abs=0.5)


def test_another_curve_is_right_at_the_ice_point_and_off_elsewhere() -> None:
    """A nickel element of 0.00618/K has 161.8 ohm at 100 degC, which a Pt100 has at 162 degC."""
    share = 0.618 / 0.3851
    assert shown("RT", "other curve", share, 0.0) == pytest.approx(0.0, abs=0.05)
    assert shown("RT", "other curve", share, 100.0) == pytest.approx(162.0, abs=0.5)


def test_a_drifted_element_is_off_at_the_ice_point_and_more_above() -> None:
    low, high = (shown("RT", "drift", 1.02, t) - t for t in (0.0, 200.0))
    assert low == pytest.approx(2.0 / 0.3908, rel=0.01)
    assert high > low
    assert ohms("RT", "drift", AB, 1.02) == pytest.approx(1.02 * 138.51 + 4, abs=0.3)


def test_a_sensor_off_the_bottom_of_its_well_reads_towards_ambient() -> None:
    """80 % of the way from 25 to 100 degC; its ohms are those of that temperature."""
    assert shown("TW", "poor contact", 0.8) == pytest.approx(85.0, abs=0.05)
    assert shown("TW", "poor contact", 0.8, 25.0) == pytest.approx(25.0, abs=0.05)


@pytest.mark.parametrize("part", ["E.H", "E.A", "E.B"])
def test_a_second_earth_shifts_what_is_shown(part: str) -> None:
    """The return of the card is earthed: volts between two earths drive current in the leads."""
    up, down = (shown(part, "earthed", volts) for volts in (0.05, -0.05))
    assert abs(up - down) > 5.0


@pytest.mark.parametrize("part", ["E.H", "E.A"])
def test_leakage_to_earth_reads_low(part: str) -> None:
    assert shown(part, "leakage", 5e3) < 99.0


def test_the_card_itself() -> None:
    assert shown("U1", "excitation dead") < BOTTOM
    assert shown("U1", "excitation off", 0.05) == pytest.approx(118.4, abs=0.5)
    assert shown("U1", "input collapsed", 1e3) < 60.0
    assert shown("U1", "scaling", 0.1) == pytest.approx(120.0, abs=0.05)
    stuck = [shown("U1", "frozen", 0.4, t) for t in (20.0, 180.0)]
    assert stuck == pytest.approx([80.0, 80.0])


def test_every_mode_of_every_part_can_be_seen_somewhere() -> None:
    """Nobody can find what moves nothing: each fault moves a voltage or a display.

    Left out are a bond that carries nothing while the loop is sound, and a gauge beside it.
    """
    known: Predictor = machine(RTD)
    for part in known.loop.parts:
        for mode in part.kind.modes:
            if part.name in ("E1", "LG"):
                continue
            size = mode.severity.low if mode.severity else 0.0
            found = seen(RTD, 150.0, broken(part.name, mode.name, size))
            sound = seen(RTD, 150.0)
            volts = [
                abs(found.point.voltages[node] - sound.point.voltages[node])
                for node in known.loop.nodes
            ]
            assert max(volts) > 20e-6 or abs(found.shown() - sound.shown()) > 0.1, (part.name, mode)
