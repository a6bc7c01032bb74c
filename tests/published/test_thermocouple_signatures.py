"""How a thermocouple loop fails: what is shown, millivolts at the card, ohms of the loop.

Common practice, no source: a table of failures as instrument technicians keep it.  Process
500 degC, head 60 degC, cabinet 25 degC, type K unless stated.
"""

from __future__ import annotations

import pytest

from temperature_loops import Changes, action, fault, machine, seen

TC = "thermocouple-input"
HEAD: Changes = {("HT", "temperature"): 60.0}
CARD = ("X31:+", "X31:-")
TOP, BOTTOM = 660.0, -60.0


def broken(part: str, mode: str, severity: float = 0.0) -> Changes:
    return fault(machine(TC).loop, part, mode, severity)


def shown(part: str, mode: str, severity: float = 0.0, celsius: float = 500.0) -> float:
    return seen(TC, celsius, HEAD, broken(part, mode, severity)).shown()


def millivolts(part: str, mode: str, severity: float = 0.0) -> float:
    return seen(TC, 500.0, HEAD, broken(part, mode, severity)).millivolts(*CARD)


def loop_ohms(*changes: Changes) -> float:
    """Ohms of the loop at the card, everything at 25 degC: hot, its own volts falsify them."""
    cold: Changes = {("HT", "temperature"): 25.0}
    found = seen(TC, 25.0, cold, action(machine(TC).loop, "U1", "off"), *changes)
    return found.ohms(*CARD)


SOUND_MV = 19.644
OPENS = ["TE", "W3+", "W3-", "W3+.H", "W3-.H", "X31"]


@pytest.mark.parametrize("part", OPENS)
@pytest.mark.parametrize(("burnout", "side"), [(1.0, 1), (-1.0, -1)])
def test_open_goes_the_way_the_card_is_set(part: str, burnout: float, side: int) -> None:
    found = seen(TC, 500.0, HEAD, broken(part, "open"), {("U1", "burnout"): burnout}).shown()
    assert found > TOP if side > 0 else found < BOTTOM


@pytest.mark.parametrize("part", OPENS)
def test_open_floats_at_the_card_and_has_no_ohms(part: str) -> None:
    assert abs(millivolts(part, "open")) > 55
    off = action(machine(TC).loop, "U1", "off")
    assert seen(TC, 500.0, HEAD, off, broken(part, "open")).ohms(*CARD) > 1e6


@pytest.mark.parametrize(("part", "mode"), [("X31", "reversed"), ("TE", "reversed")])
def test_reversed_goes_the_wrong_way(part: str, mode: str) -> None:
    assert millivolts(part, mode) < 0
    assert shown(part, mode) < BOTTOM
    assert shown(part, mode, 0.0, 120.0) < shown(part, mode, 0.0, 80.0)
    assert loop_ohms(broken(part, mode)) == pytest.approx(loop_ohms(), abs=0.1)


def test_reversed_in_the_head_is_seen_in_the_head_alone() -> None:
    """Where the wires are swapped tells the sign of the volts between the terminals there."""
    head = seen(TC, 500.0, HEAD, broken("TE", "reversed")).millivolts("H:+", "H:-")
    card = seen(TC, 500.0, HEAD, broken("X31", "reversed")).millivolts("H:+", "H:-")
    assert (head < 0, card > 0) == (True, True)


def test_extension_reversed_at_both_ends_errs_by_twice_the_difference() -> None:
    """About -2 (60 - 25) K; nothing with head and card alike."""
    assert shown("W3", "reversed") - 500.0 == pytest.approx(-70.0, abs=5.0)
    assert 0 < SOUND_MV - millivolts("W3", "reversed") < 4


def test_copper_errs_by_the_difference() -> None:
    assert shown("W3", "copper") - 500.0 == pytest.approx(-35.0, abs=3.0)


def test_and_in_the_cold_the_sign_turns() -> None:
    """Head at -10 degC, card at 25 degC: both read high."""
    cold: Changes = {("HT", "temperature"): -10.0}
    for mode in ("reversed", "copper"):
        assert seen(TC, 500.0, cold, broken("W3", mode)).shown() > 530.0


@pytest.mark.parametrize(("part", "mode"), [("TE", "wrong type"), ("U1", "set for another type")])
def test_a_wrong_type_is_a_gain_error(part: str, mode: str) -> None:
    """More of it, the hotter: nothing like an offset."""
    errors = [shown(part, mode, 0.8, t) - t for t in (100.0, 300.0, 500.0)]
    assert errors[0] > errors[1] > errors[2]
    assert errors[2] < -60


def test_an_extension_of_another_type_is_an_offset() -> None:
    errors = [shown("W3", "wrong type", 1.28, t) - t for t in (100.0, 500.0)]
    assert errors[0] == pytest.approx(errors[1], abs=1.5)


def test_a_short_in_the_head_shows_the_head_and_has_few_ohms() -> None:
    """Not quite: some of the element's volts are left across a short of 50 mohm."""
    assert shown("I.H", "short", 0.05) == pytest.approx(60.0, abs=10.0)
    assert loop_ohms(broken("I.H", "short", 0.05)) < loop_ohms() - 2


def test_wet_terminals_read_low_towards_the_head() -> None:
    assert 60.0 < shown("I.H", "leakage", 100.0) < 495.0


def test_a_wrong_cold_junction_sensor_leaves_the_millivolts_alone() -> None:
    assert millivolts("XT", "sensor wrong", 12.0) == pytest.approx(SOUND_MV, abs=2e-3)
    assert shown("XT", "sensor wrong", 12.0) - 500.0 == pytest.approx(11.3, abs=0.3)
    assert shown("XT", "sensor wrong", -12.0) < 490.0


def test_a_degraded_element_reads_low_the_more_the_hotter_and_has_more_ohms() -> None:
    errors = [shown("TE", "degraded", 0.95, t) - t for t in (60.0, 300.0, 500.0)]
    assert errors[0] == pytest.approx(0.0, abs=0.1)
    assert errors[0] > errors[1] > errors[2]
    assert -40 < errors[2] < -15
    assert loop_ohms(broken("TE", "degraded", 0.95)) > loop_ohms() + 1


@pytest.mark.parametrize("part", ["E.+", "E.-"])
def test_a_second_earth_shifts_what_is_shown(part: str) -> None:
    """The junction is earthed by design; another earth lets current into the cable."""
    up, down = (shown(part, "earthed", volts) for volts in (0.02, -0.02))
    assert abs(up - down) > 20.0


def test_the_earthed_junction_is_no_fault() -> None:
    """0.5 ohm from minus to earth, and every degree as it should be."""
    off = action(machine(TC).loop, "U1", "off")
    assert seen(TC, 500.0, HEAD, off).ohms("H:-", "PE") == pytest.approx(0.5, abs=0.01)
    assert seen(TC, 500.0, HEAD).shown() == pytest.approx(500.0, abs=0.05)


def test_a_second_element_in_parallel_averages() -> None:
    """500 and 300 degC: near 400, as the curve is nearly straight."""
    assert shown("TE", "in parallel", 300.0 / 600.0) == pytest.approx(400.0, abs=2.0)


def test_a_sensor_off_the_bottom_of_its_well_reads_towards_ambient() -> None:
    found = shown("TW", "poor contact", 0.9)
    assert found == pytest.approx(25.0 + 0.9 * 475.0, abs=0.1)
    assert loop_ohms(broken("TW", "poor contact", 0.9)) == pytest.approx(loop_ohms(), abs=0.1)


def test_hot_its_own_volts_falsify_its_ohms() -> None:
    """20 mV beside the 0.12 mA of the meter are some 160 ohm, for or against."""
    found = seen(TC, 500.0, HEAD, action(machine(TC).loop, "U1", "off"))
    assert loop_ohms() == pytest.approx(31.0, abs=0.2)
    assert found.ohms(*CARD) > 150
    assert found.ohms(*reversed(CARD)) < 0.1


def test_a_bad_joint_hardly_shows_until_it_is_nearly_open() -> None:
    """The card draws nanoamperes: a kilohm is nothing, a megohm is a few tens of kelvins."""
    assert shown("X31", "high resistance", 1e3) == pytest.approx(500.0, abs=0.6)
    assert abs(shown("X31", "high resistance", 1e6) - 500.0) > 10.0
    assert loop_ohms(broken("X31", "high resistance", 1e3)) > 900


@pytest.mark.parametrize(("letter", "degrees"), [("J", 400.0), ("T", 300.0)])
def test_other_types_of_thermocouple(letter: str, degrees: float) -> None:
    """Sound whatever the type, if all of it is of that type."""
    number = float("KJT".index(letter))
    all_of_it: Changes = {(part, "type"): number for part in ("TE", "HT", "XT", "U1")}
    found = seen(TC, degrees, HEAD, all_of_it)
    assert found.shown() == pytest.approx(degrees, abs=0.05)
    table = {"J": 21.848 - 1.277, "T": 14.862 - 0.992}[letter]
    assert found.millivolts(*CARD) == pytest.approx(table, abs=2e-3)


def test_the_card_itself() -> None:
    assert shown("U1", "scaling", -0.1) == pytest.approx(440.0, abs=0.1)
    assert shown("U1", "input collapsed", 30.0) < 300.0
    stuck = [shown("U1", "frozen", 0.4, t) for t in (100.0, 500.0)]
    assert stuck == pytest.approx([240.0, 240.0])


def test_a_calibrator_in_the_head_proves_all_but_the_element() -> None:
    at_300 = action(machine(TC).loop, "TE", "replaced", 300.0)
    assert seen(TC, 500.0, HEAD, at_300).shown() == pytest.approx(300.0, abs=0.1)
    copper = broken("W3", "copper")
    assert seen(TC, 500.0, HEAD, copper, at_300).shown() < 275.0
