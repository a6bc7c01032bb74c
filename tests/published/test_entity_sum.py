"""The entity sum of intrinsic safety against worked examples.

Sources: two device manuals (makers withheld) that quote IEC 60079-14 for the five comparisons; a
third with the example 30 V, 300 ohm, 0.1 A, 0.75 W; a control drawing for 60 pF/ft and 0.20 uH/ft
of unknown cable; a foot is 0.3048 m exactly.  The marking 28 V, 300 ohm is arithmetic.
"""

from __future__ import annotations

import pytest

from diagnose.loops.entity import (
    CABLE_CAPACITANCE,
    CABLE_INDUCTANCE,
    CAUTION,
    Device,
    Source,
    compare,
    resistive_current,
    resistive_power,
)

SOURCE = Source(28.0, 93e-3, 0.65, 83e-9, 3.05e-3)
DEVICE = Device(30.0, 100e-3, 0.75, 5e-9, 0.1e-3)


def test_30_volts_behind_300_ohm():
    assert resistive_current(30, 300) == pytest.approx(0.1)
    assert resistive_power(30, 300) == pytest.approx(0.75)


def test_28_volts_behind_300_ohm():
    """28 / 300 = 93.3 mA; 28^2 / 1200 = 0.653 W, a quarter of open voltage times short current."""
    assert resistive_current(28, 300) == pytest.approx(93.3e-3, abs=0.05e-3)
    assert resistive_power(28, 300) == pytest.approx(0.653, abs=0.0005)
    assert resistive_power(28, 300) == pytest.approx(28 * resistive_current(28, 300) / 4)


def test_unknown_cable_per_metre():
    """197 pF/m and 0.66 uH/m, as the drawing's figures per foot come out."""
    capacitance, inductance = CABLE_CAPACITANCE, CABLE_INDUCTANCE
    assert capacitance == pytest.approx(197e-12, abs=0.5e-12)
    assert inductance == pytest.approx(0.66e-6, abs=0.005e-6)


def test_a_circuit_that_fits_holds_on_every_line():
    lines = compare(SOURCE, DEVICE, 200)
    assert [line.quantity for line in lines] == [
        "voltage", "current", "power", "capacitance", "inductance",
    ]  # fmt: skip
    assert all(line.holds for line in lines)
    assert lines[3].have == pytest.approx(5e-9 + 200 * 197e-12, rel=0.002)


@pytest.mark.parametrize(
    ("device", "length", "broken"),
    [
        (Device(26.0, 100e-3, 0.75), 1, "voltage"),
        (Device(30.0, 90e-3, 0.75), 1, "current"),
        (Device(30.0, 100e-3, 0.6), 1, "power"),
        (DEVICE, 400, "capacitance"),
        (Device(30.0, 100e-3, 0.75, 0.0, 3.04e-3), 100, "inductance"),
    ],
)
def test_each_line_can_break_alone(device, length, broken):
    """400 m x 197 pF/m + 5 nF = 83.8 nF > 83 nF; 3.04 mH + 66 uH > 3.05 mH."""
    lines = compare(SOURCE, device, length)
    assert [line.quantity for line in lines if not line.holds] == [broken]


def test_what_is_known_of_the_cable_goes_before_the_default():
    lines = compare(SOURCE, DEVICE, 400, (100e-12, 0.5e-6))
    assert lines[3].have == pytest.approx(45e-9)
    assert lines[4].have == pytest.approx(0.3e-3)


def test_the_sum_defers_to_a_person():
    assert "competent person decides" in CAUTION
