"""Output loops against arithmetic on paper, a textbook example and pint.

The textbook example is that of an open textbook on troubleshooting current loops: an I/P coil of
176 ohm has 0.70 V across it at 4 mA and 3.52 V at 20 mA.  20-100 kPa is the signal of IEC 60382.
"""

from __future__ import annotations

from functools import cache

import pint
import pytest

from diagnose.circuit.operating import OperatingPoint, operating_point
from diagnose.circuit.predictor import Predictor
from diagnose.inference.engine import Engine
from diagnose.library import demo_plant
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_type
from diagnose.terminal.indications import indications

FIVE = (0.0, 0.25, 0.5, 0.75, 1.0)
Changes = dict[tuple[str, str], float]
PSI = {
    end: float(pint.UnitRegistry().Quantity(psi, "psi").to("Pa").magnitude)
    for end, psi in (("low", 3.0), ("high", 15.0))
}


@cache
def machine(name: str) -> Predictor:
    return Predictor(load_type(name))


def point(name: str, process: float, changes: Changes | None = None) -> OperatingPoint:
    return operating_point(machine(name).loop, changes or {}, process, None, machine(name))


def shown(name: str, process: float, changes: Changes | None = None) -> dict[str, float]:
    """What is shown by part: fractions and Pa."""
    found = indications(machine(name), point(name, process, changes))
    return {item.part: item.value for item in found}


def across(found: OperatingPoint, a: str, b: str) -> float:
    return found.voltages[a] - found.voltages[b]


# -- the I/P transducer --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("process", "milliamperes", "volts"), [(0.0, 4.0, 0.70), (1.0, 20.0, 3.52)]
)
def test_the_coil_of_the_textbook(process: float, milliamperes: float, volts: float) -> None:
    found = point("current-output", process)
    assert found.currents["LY"] * 1e3 == pytest.approx(milliamperes, rel=1e-4)
    assert across(found, "LY:+", "LY:-") == pytest.approx(volts, abs=0.005)


@pytest.mark.parametrize(
    ("process", "kilopascals"), [*zip(FIVE, (20, 40, 60, 80, 100), strict=True)]
)
def test_milliamperes_become_kilopascals(process: float, kilopascals: float) -> None:
    seen = shown("current-output", process)
    assert seen["PG2"] / 1e3 == pytest.approx(kilopascals, abs=0.01)
    assert seen["PG3"] == seen["PG2"]
    assert seen["CV"] == pytest.approx(process, abs=1e-4)


@pytest.mark.parametrize(("process", "psi"), [*zip(FIVE, (3, 6, 9, 12, 15), strict=True)])
def test_milliamperes_become_psi_where_the_sheet_says_so(process: float, psi: float) -> None:
    spans: Changes = {(part, end): PSI[end] for part in ("LY.P", "CV") for end in PSI}
    seen = shown("current-output", process, spans)
    due = pint.UnitRegistry().Quantity(float(psi), "psi").to("Pa").magnitude
    assert seen["PG2"] == pytest.approx(due, rel=1e-4)
    assert seen["CV"] == pytest.approx(process, abs=1e-4)


def test_the_two_pressure_spans_differ_by_3_percent_at_the_top() -> None:
    """3 psi = 20.684 kPa and 15 psi = 103.421 kPa (pint); a valve for 20-100 kPa opens early."""
    loop = load_type("current-output")
    mode = loop.part("LY.P").kind.mode("other span")
    values = loop.part("LY.P").values
    other = {c.parameter: c.value(values[c.parameter], 0.0) for c in mode.changes}
    assert other == pytest.approx(PSI)
    assert PSI["high"] / 100e3 - 1 == pytest.approx(0.034, abs=0.0005)
    changes = {("LY.P", end): pascals for end, pascals in other.items()}
    middle = (PSI["low"] + PSI["high"]) / 2
    assert shown("current-output", 0.5, changes)["CV"] == pytest.approx(
        (middle - 20e3) / 80e3, abs=1e-4
    )
    back = {c.parameter: c.value(other[c.parameter], 0.0) for c in mode.changes}
    assert back == pytest.approx({"low": 20e3, "high": 100e3})


@pytest.mark.parametrize("process", FIVE)
def test_no_outlet_is_above_its_air(process: float) -> None:
    seen = shown("current-output", process, {("AS", "pressure"): 55e3})
    assert seen["PG2"] == pytest.approx(min(20e3 + 80e3 * process, 55e3), abs=10)
    assert seen["PG1"] == 55e3


# -- compliance ----------------------------------------------------------------------------------


def resistance(name: str) -> float:
    """Everything that the output sees, without the part A1: volts of the card over its current."""
    found = point(name, 0.5, {("A1", "resistance"): 1e-3})
    return across(found, "K1:+", "K1:-") / found.currents["LY"]


def test_a_load_of_compliance_over_20_milliamperes_is_the_most() -> None:
    """18 V / 20 mA = 900 ohm."""
    most = 18.0 / 20e-3 - resistance("current-output")
    found = point("current-output", 1.0, {("A1", "resistance"): most - 0.5})
    assert found.currents["LY"] == pytest.approx(20e-3, rel=1e-4)
    assert (found.regimes["K1"], across(found, "K1:+", "K1:-") < 18) == ("regulating", True)
    more = point("current-output", 1.0, {("A1", "resistance"): most + 90})
    assert more.regimes["K1"] == "giving up"
    # The channel gives way by its slope of 50 ohm: (18 V + 20 mA * 50 ohm) / (990 ohm + 50 ohm).
    assert more.currents["LY"] == pytest.approx(19.0 / (990 + 50), rel=1e-4)


def test_too_much_resistance_spoils_the_top_of_the_range_only() -> None:
    """With 1200 ohm, 18 V reach to 15 mA: 69 % of range."""
    heavy: Changes = {("A1", "resistance"): 1200 - resistance("current-output")}
    low, high = (shown("current-output", process, heavy)["CV"] for process in (0.6, 1.0))
    assert low == pytest.approx(0.6, abs=1e-3)
    assert high == pytest.approx(((19.0 / 1250) - 4e-3) / 16e-3, abs=1e-3)


def test_an_open_loop_shows_the_compliance_at_the_card() -> None:
    """Common practice, no source: 15 to 30 V at the terminals of an output that drives nothing."""
    for name in ("current-output", "positioner-output"):
        found = point(name, 0.0, {("F1", "resistance"): 1e11})
        assert 18.0 < across(found, "K1:+", "K1:-") < 19.0
        lit = {i.part: i.lit for i in indications(machine(name), found)}
        assert lit["K1"]


# -- the positioner ------------------------------------------------------------------------------


def test_a_positioner_is_a_load_of_constant_voltage() -> None:
    """8 to 12 V at any current (common practice, no source): no coil, no ohms to infer from."""
    volts = [across(point("positioner-output", p), "ZC:+", "ZC:-") for p in FIVE]
    assert all(8 < v < 12 for v in volts)
    assert volts[-1] - volts[0] == pytest.approx(16e-3 * 50, rel=1e-3)
    assert volts[-1] / volts[0] < 1.1


def test_the_loop_resistance_that_a_positioner_leaves() -> None:
    """(18 V - 9 V - 20 mA * 50 ohm) / 20 mA = 400 ohm."""
    found = point("positioner-output", 0.5)
    wires = (across(found, "K1:+", "K1:-") - across(found, "ZC:+", "ZC:-")) / found.currents["ZC"]
    for more, full in ((400 - wires - 1, True), (400 - wires + 20, False)):
        changes: Changes = {("F1", "resistance"): 1.0 + more}
        current = point("positioner-output", 1.0, changes).currents["ZC"]
        assert (current > 19.99e-3) == full


@pytest.mark.parametrize("milliamperes", [3.0, 3.5])
def test_a_positioner_dies_below_3_6_milliamperes(milliamperes: float) -> None:
    fixed: Changes = {("K1", "failed"): 1.0, ("K1", "failed_current"): milliamperes * 1e-3}
    seen = shown("positioner-output", 0.5, fixed)
    assert (seen["CV"], seen["PG2"]) == (0.0, 0.0)


@pytest.mark.parametrize("process", FIVE)
def test_a_positioner_brings_the_stem_to_its_target(process: float) -> None:
    """80 to 240 kPa on the actuator for the whole travel."""
    seen = shown("positioner-output", process)
    assert seen["CV"] == pytest.approx(process, abs=2e-4)
    assert seen["PG2"] == pytest.approx(80e3 + 160e3 * process, abs=50)


# -- proof ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("tag", "station"), [("LV-214", "LIC-214"), ("FV-118", "FIC-118")])
def test_a_repair_is_proved_by_the_stem_at_five_points(tag: str, station: str) -> None:
    proofs = Engine(open_plant(demo_plant()).load(tag)).proof
    assert [p.text for p in proofs] == [
        f"{tag} with {station} driven {percent} %" for percent in (0, 25, 50, 75, 100)
    ]
    for proof, due in zip(proofs, FIVE, strict=True):
        assert proof.low < due < proof.high
        assert proof.high - proof.low < 0.2
