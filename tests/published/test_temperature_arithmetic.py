"""Temperature loops with faults, against arithmetic on the standards' tables.

Resistance: IEC 60751, 138.51 ohm at 100 degC and 0.3793 ohm/K there; the check values below follow
on paper (20 ohm of leads, 1 ohm of difference, 100 and 10 kohm across the element).
Thermocouple: ITS-90 millivolts of type K and J at 500, 80, 60, 25 and 22 degC, added and
subtracted as the junctions stand; temperatures by the inverse of the same tables.
"""

from __future__ import annotations

import pytest
import thermocouple_its90

from diagnose.loops.loop import Loop
from temperature_loops import Changes, action, fault, machine, seen

RTD, TC = "rtd-input", "thermocouple-input"
LEAD = "resistance"


def rtd() -> Loop:
    return machine(RTD).loop


def thermocouple() -> Loop:
    return machine(TC).loop


def more_ohms(core: str, ohms: float) -> Changes:
    return {(core, LEAD): rtd().part(core).values[LEAD] + ohms}


# --- resistance thermometer, at 100 degC ------------------------------------------------------


def test_a_sound_three_wire_loop_does_not_see_its_leads() -> None:
    leads: Changes = {(core, LEAD): 10.0 for core in ("W3A", "W3B", "W3C")}
    assert seen(RTD, 100.0, leads).shown() == pytest.approx(100.0, abs=0.01)


@pytest.mark.parametrize(("core", "kelvins"), [("W3A", 2.64), ("W3B", -2.64), ("W3C", 0.0)])
def test_one_ohm_of_difference(core: str, kelvins: float) -> None:
    """1 ohm / 0.3793 ohm/K = 2.64 K; in the return it is seen by neither."""
    found = seen(RTD, 100.0, more_ohms(core, 1.0)).shown()
    assert found - 100.0 == pytest.approx(kelvins, abs=0.01)


@pytest.mark.parametrize(("ohms", "celsius"), [(100e3, 99.5), (10e3, 95.0)])
def test_moisture_across_the_element(ohms: float, celsius: float) -> None:
    """138.506 ohm beside 100 kohm is 138.314 ohm, beside 10 kohm 136.614 ohm."""
    found = seen(RTD, 100.0, fault(rtd(), "I.H", "leakage", ohms)).shown()
    assert found == pytest.approx(celsius, abs=0.06)


def test_two_wires_of_ten_ohms_each() -> None:
    """138.506 + 20 ohm is 153.2 degC; the sheet's card takes its fixed allowance off first."""
    loop = machine("TT-132").loop
    leads: Changes = {("W32A", LEAD): 10.0, ("W32B", LEAD): 10.0}
    bare: Changes = {("TI-132", "allowance"): 0.0}
    assert seen(loop.tag, 100.0, leads, bare).shown("TI-132") == pytest.approx(153.2, abs=0.05)


def test_a_three_wire_card_wired_as_two_wire() -> None:
    """Both leads count: 20 ohm more, 53 K too high."""
    leads: Changes = {(core, LEAD): 10.0 for core in ("W3A", "W3B", "W3C")}
    found = seen(RTD, 100.0, leads, fault(rtd(), "U1", "wired as two-wire")).shown()
    assert found == pytest.approx(153.2, abs=0.1)


def test_four_wires_see_no_lead_at_all() -> None:
    ohms = {"A": 1.0, "B": 20.0, "C": 5.0, "D": 40.0}
    leads: Changes = {(f"W33{core}", LEAD): value for core, value in ohms.items()}
    assert seen("TT-133", 100.0, leads).shown("TI-133") == pytest.approx(100.0, abs=0.01)


def test_the_element_follows_from_three_readings_in_ohms() -> None:
    """R = (A-B) - (B-C) where the leads are alike: common practice, no source."""
    off = action(rtd(), "U1", "off")
    at = seen(RTD, 100.0, off)
    element = at.ohms("X31:1", "X31:2") - at.ohms("X31:2", "X31:3")
    assert element == pytest.approx(138.51, abs=0.02)
    assert at.ohms("X31:1", "X31:3") == pytest.approx(at.ohms("X31:1", "X31:2"), abs=0.02)


def test_the_excitation_fools_the_meter() -> None:
    """1 mA through 138.5 ohm are 0.1385 V beside the 1.2 V of the meter: far from 138.5 ohm."""
    live = seen(RTD, 100.0).ohms("U1:A", "U1:B")
    assert live > 500


# --- thermocouple: process 500 degC, head 60 degC, cabinet 25 degC ----------------------------

HEAD: Changes = {("HT", "temperature"): 60.0}
K = {500: 20.644, 80: 3.267, 60: 2.436, 25: 1.000, 22: 0.879}
"""ITS-90 table of type K, mV."""


def at(celsius: float, *changes: Changes) -> tuple[float, float]:
    """Millivolts at the card, and what it shows in degC."""
    found = seen(TC, celsius, HEAD, *changes)
    return found.millivolts("X31:+", "X31:-"), found.shown()


def test_a_sound_thermocouple() -> None:
    millivolts, shown = at(500.0)
    assert millivolts == pytest.approx(K[500] - K[25], abs=2e-3)
    assert shown == pytest.approx(500.0, abs=0.05)


def test_extension_cable_reversed_at_both_ends() -> None:
    """20.644 - 2.436 - (2.436 - 1.000) = 16.772 mV; with 1.000 mV added, 432.5 degC."""
    millivolts, shown = at(500.0, fault(thermocouple(), "W3", "reversed"))
    assert millivolts == pytest.approx(16.772, abs=2e-3)
    assert shown == pytest.approx(432.5, abs=0.1)


def test_copper_in_place_of_extension_cable() -> None:
    """20.644 - 2.436 = 18.208 mV, which is 466.3 degC."""
    millivolts, shown = at(500.0, fault(thermocouple(), "W3", "copper"))
    assert millivolts == pytest.approx(18.208, abs=2e-3)
    assert shown == pytest.approx(466.3, abs=0.1)


def test_extension_cable_of_type_j() -> None:
    """18.208 mV and what type J gives from 60 to 25 degC: 20.046 mV, 509.4 degC."""
    j, k = (thermocouple_its90.get(letter) for letter in "JK")
    share = (j.emf(60.0) - j.emf(25.0)) / (k.emf(60.0) - k.emf(25.0))
    millivolts, shown = at(500.0, fault(thermocouple(), "W3", "wrong type", share))
    assert millivolts == pytest.approx(20.046, abs=2e-3)
    assert shown == pytest.approx(509.4, abs=0.1)


def test_a_short_in_the_head_shows_the_head() -> None:
    millivolts, shown = at(500.0, {("I.H", LEAD): 1e-6})
    assert millivolts == pytest.approx(K[60] - K[25], abs=2e-3)
    assert shown == pytest.approx(60.0, abs=0.1)


def test_a_short_at_the_card_shows_the_cabinet() -> None:
    millivolts, shown = at(500.0, {("I.X31", LEAD): 1e-6})
    assert millivolts == pytest.approx(0.0, abs=1e-3)
    assert shown == pytest.approx(25.0, abs=0.1)


def test_thermocouple_reversed_at_the_card() -> None:
    """-19.644 mV: beyond the bottom of any range."""
    millivolts, shown = at(500.0, fault(thermocouple(), "X31", "reversed"))
    assert millivolts == pytest.approx(-19.644, abs=2e-3)
    assert shown < -200.0


def test_reversed_at_the_card_it_falls_as_the_process_rises() -> None:
    """Process 80 degC, card 22 degC: -2.388 mV and -39.5 degC."""
    cold: Changes = {("XT", "temperature"): 22.0}
    millivolts, shown = at(80.0, cold, fault(thermocouple(), "X31", "reversed"))
    assert millivolts == pytest.approx(-(K[80] - K[22]), abs=2e-3)
    assert shown == pytest.approx(-39.5, abs=0.1)
    assert at(90.0, cold, fault(thermocouple(), "X31", "reversed"))[1] < shown


def test_a_meter_in_the_head_reads_from_the_head() -> None:
    """20.644 - 2.436 = 18.208 mV between the terminals, whatever lies beyond them."""
    found = seen(TC, 500.0, HEAD, fault(thermocouple(), "W3", "copper"))
    assert found.millivolts("H:+", "H:-") == pytest.approx(18.208, abs=2e-3)


def test_with_equal_temperatures_a_wrong_cable_does_not_show() -> None:
    """The error is that of the difference between head and card: none where there is none."""
    even: Changes = {("HT", "temperature"): 25.0}
    for mode in ("reversed", "copper"):
        found = seen(TC, 500.0, even, fault(thermocouple(), "W3", mode)).shown()
        assert found == pytest.approx(500.0, abs=0.05)
