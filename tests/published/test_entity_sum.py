"""The entity sum of intrinsic safety against worked examples.

Sources: two device manuals (makers withheld) that quote IEC 60079-14 for the five comparisons; a
third with the example 30 V, 300 ohm, 0.1 A, 0.75 W; a control drawing for 60 pF/ft and 0.20 uH/ft
of unknown cable; a foot is 0.3048 m exactly.  The marking 28 V, 300 ohm is arithmetic.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.circuit.entity_sums import EntitySum, entity_sums, safe_wiring
from diagnose.loops.entity import (
    CABLE_CAPACITANCE,
    CABLE_INDUCTANCE,
    CAUTION,
    Comparison,
    Device,
    Source,
    compare,
    resistive_current,
    resistive_power,
)
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type

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


# -- the sum of a sheet: markings as above, cable as the sheet has it ------------------------------

GIVES = {"Uo": 28.0, "Io": 93e-3, "Po": 0.65, "Co": 83e-9, "Lo": 3.05e-3}
TAKES = {"Ui": 30.0, "Ii": 100e-3, "Pi": 0.75, "Ci": 5e-9, "Li": 0.1e-3}
SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"


def marked(loop: Loop, told: dict[str, dict[str, float]]) -> Loop:
    """A loop with facts of some parts."""
    parts = [replace(p, facts={**p.facts, **told.get(p.name, {})}) for p in loop.parts]
    assert told.keys() <= {part.name for part in parts}
    return replace(loop, parts=tuple(parts))


def summed(loop: Loop) -> EntitySum:
    [one] = entity_sums(loop)
    return one


@pytest.mark.parametrize(
    ("tag", "source", "device", "metres"),
    [
        pytest.param("PT-305", "Z1+", "PT-305", 140 + 20, id="barrier of two channels"),
        pytest.param("PT-306", "Z1+", "PT-306", 160 + 25, id="return on the earth rail"),
        pytest.param("PT-119", "A5", "PT-119", 120 + 15, id="isolator"),
        pytest.param("ZS-221", "ZY-221", "ZS-221", 90 + 10, id="switch amplifier"),
    ],
)
def test_the_cable_of_a_sheet_counts_once_however_many_cores(tag, source, device, metres):
    """The lengths are those of the demo sheets; 197 pF/m and 0.656 uH/m where nothing is known."""
    one = summed(marked(load_sheet(SHEETS / f"{tag}.toml"), {source: GIVES, device: TAKES}))
    assert one.length == metres
    assert one.holds
    assert [line.compared.quantity for line in one.lines] == [
        "voltage", "current", "power", "capacitance", "inductance",
    ]  # fmt: skip
    capacitance, inductance = one.lines[3].compared, one.lines[4].compared
    assert capacitance.have == pytest.approx(5e-9 + metres * 60e-12 / 0.3048)
    assert inductance.have == pytest.approx(0.1e-3 + metres * 0.2e-6 / 0.3048)
    assert (capacitance.most, inductance.most) == (83e-9, 3.05e-3)


def barrier(told: dict[str, dict[str, float]]) -> Loop:
    return marked(load_type("barrier-input"), told)


def test_the_cable_of_the_sheet_goes_before_the_default():
    """120 m x 300 pF/m + 15 m x 200 pF/m + 5 nF = 44 nF; 135 m x 1 uH/m + 0.1 mH = 0.235 mH."""
    cables = {
        "W3+": {"capacitance": 300e-12, "inductance": 1e-6},
        "W4+": {"capacitance": 200e-12, "inductance": 1e-6},
    }
    one = summed(barrier({"Z1+": GIVES, "TX": TAKES, **cables}))
    assert one.lines[3].compared.have == pytest.approx(44e-9)
    assert one.lines[4].compared.have == pytest.approx(0.235e-3)
    assert one.missing == ()


def test_a_device_that_may_take_less_than_the_source_gives_is_named():
    one = summed(barrier({"Z1+": GIVES, "TX": {**TAKES, "Ui": 26.0}}))
    broken = [line for line in one.lines if not line.compared.holds]
    assert [(line.device, line.compared.quantity) for line in broken] == [("TX", "voltage")]
    assert not one.holds


def test_devices_in_series_share_what_may_be_connected():
    """Own capacitances add up: 5 nF + 10 nF; each device has ratings of its own."""
    loop = load_type("barrier-input")
    core = loop.part("W4+")
    near = replace(core, pins={**core.pins, "b": "FI:+"})
    shown = next(p for p in load_type("series-input").parts if p.kind.name == "series_indicator")
    pins = {"plus": "FI:+", "minus": core.pins["b"]}
    shown = replace(shown, name="FI", pins=pins, place="transmitter")
    parts = tuple(near if part is core else part for part in loop.parts)
    loop = replace(loop, parts=(*parts, shown))
    one = summed(marked(loop, {"Z1+": GIVES, "TX": TAKES, "FI": {**TAKES, "Ci": 10e-9}}))
    assert {line.device for line in one.lines} == {"TX", "FI", ""}
    assert one.lines[-2].compared.have == pytest.approx(15e-9 + 135 * 60e-12 / 0.3048)


def test_what_a_sheet_does_not_tell_is_named_and_not_assumed():
    assert safe_wiring(barrier({}))
    assert entity_sums(barrier({})) == ()
    one = summed(barrier({"Z1+": {"Uo": 28.0}, "TX": {"Ui": 30.0}}))
    assert one.lines == ()
    assert one.missing[0] == "Z1+ lacks Io, Po, Co, Lo: nothing is compared"
    one = summed(barrier({"Z1+": GIVES, "TX": {"Ui": 30.0}}))
    assert one.missing[0] == "TX lacks Ii, Pi, Ci, Li"
    assert {line.device for line in one.lines} == {""}


@pytest.mark.parametrize(("own", "lumped"), [(1e-9, True), (0.8e-9, False)])
def test_lumped_capacitance_and_inductance_are_told(own, lumped):
    """More than 1 % of both: 1 nF of 83 nF is, 0.8 nF is not (the rule is from memory)."""
    takes = {**TAKES, "Ci": own, "Li": 0.1e-3}
    assert summed(barrier({"Z1+": GIVES, "TX": takes})).lumped is lumped


def test_what_is_just_as_much_as_may_be_holds():
    """Uo <= Ui, Co >= Ci + Cc: the signs of the standard allow equality (IEC 60079-25, memory)."""
    assert Comparison("voltage", "V", 28.0, 28.0).holds
    assert not Comparison("voltage", "V", 28.1, 28.0).holds
