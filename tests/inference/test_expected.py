"""The table of expected readings against handbook values and closed forms.

Sources: 4-20 mA over 250 ohm is 1-5 V (0/25/50/75/100 % = 4/8/12/16/20 mA, as in any handbook of
instrumentation); three receivers of 1 Mohm make 249.813 ohm of it (parallel resistances, by hand);
volts along the loop after the signature table of the reference loop, run in ngspice on a netlist
written by hand.  Bands: JCGM 100:2008, 4.3.7 (rectangular limits) and 6.3.3 (k = 2), by hand.
"""

from __future__ import annotations

from math import inf, sqrt
from pathlib import Path

import pytest

from diagnose.inference.data import STRAY
from diagnose.inference.expected import ExpectedRow, ExpectedTable, expected_table
from diagnose.inference.measurement import Applied, Condition
from diagnose.inference.meters import GENERIC, Meter
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet

BUS = 1 / (1 / 250 + 3 / 1e6)
FIVE = (0.0, 0.25, 0.5, 0.75, 1.0)


@pytest.fixture(scope="module")
def loop(sheets: Path) -> Loop:
    return load_sheet(sheets / "b3.toml")


@pytest.fixture(scope="module")
def table(loop: Loop) -> ExpectedTable:
    return expected_table(loop, GENERIC)


@pytest.fixture(scope="module")
def demo(plant: Path) -> ExpectedTable:
    return expected_table(load_sheet(plant / "sheets" / "LT-214.toml"), GENERIC)


def row(table: ExpectedTable, function: str, *points: str) -> ExpectedRow:
    """The one row of a measurement, whichever lead comes first."""
    (found,) = [
        row
        for row in table.rows
        if row.measurement.function == function and set(row.measurement.points) == set(points)
    ]
    return found


def values(row: ExpectedRow) -> list[float]:
    return [item.value for item in row.values]


def test_four_to_twenty_milliamperes_are_one_to_five_volts(table: ExpectedTable) -> None:
    """A leak of 50 Mohm in the transmitter adds 0.4 uA: 0.1 mV."""
    amperes = [4e-3, 8e-3, 12e-3, 16e-3, 20e-3]
    volts = row(table, "V", "d", "n")
    assert volts.unit == "V"
    assert values(volts) == pytest.approx([1, 2, 3, 4, 5], rel=1e-3)
    assert values(volts) == pytest.approx([i * BUS for i in amperes], abs=2e-4)
    assert values(row(table, "mA", "ps", "a")) == pytest.approx(amperes, abs=1e-6)
    assert values(row(table, "clamp", "W1+")) == pytest.approx(amperes, abs=1e-6)


@pytest.mark.parametrize(
    ("points", "four", "twelve", "twenty"),
    [
        (("a", "n"), 23.998, 23.994, 23.990),
        (("d", "n"), 0.999, 2.998, 4.996),
        (("b", "c"), 21.799, 17.396, 12.994),
        (("tp", "tn"), 21.638, 16.916, 12.194),
        (("tp", "PE"), 22.718, 20.154, 17.590),
        (("tn", "PE"), 1.079, 3.238, 5.396),
    ],
)
def test_signature_of_the_sound_loop(
    table: ExpectedTable, points: tuple[str, str], four: float, twelve: float, twenty: float
) -> None:
    """The meter's 10 Mohm takes up to 1.3 mV of it: 22 V / 10 Mohm through 570 ohm."""
    found = row(table, "V", *points)
    sign = 1 if found.measurement.points == points else -1
    seen = [sign * value for value in values(found)]
    assert [seen[0], seen[2], seen[4]] == pytest.approx([four, twelve, twenty], abs=2.5e-3)


def test_displays_show_the_process(demo: ExpectedTable) -> None:
    """Within the class of the display and the 0.1 % that four receivers take from the bus."""
    for part in ("LIC-214", "LR-214", "LI-214"):
        shown = row(demo, "shows", part)
        assert shown.unit == "1"
        assert values(shown) == pytest.approx(FIVE, abs=2e-3)
        assert all(item.low < at < item.high for at, item in zip(FIVE, shown.values, strict=True))


def test_a_trip_at_half_range_turns_at_three_volts(demo: ExpectedTable) -> None:
    """Dark below, lit above, either at the point itself."""
    lamp = row(demo, "shows", "LAHH-214")
    assert lamp.unit == "lit"
    assert [(item.low, item.high) for item in lamp.values] == [
        (0, 0), (0, 0), (0, 1), (1, 1), (1, 1),
    ]  # fmt: skip


def test_band_of_the_bus_voltage(table: ExpectedTable) -> None:
    """3 V: meter 0.1 % + 2 mV and resistor 0.1 %, each a limit over root three."""
    item = row(table, "V", "d", "n").values[2]
    each = 0.001 * item.value / sqrt(3)
    sd = sqrt(2 * each**2 + (2e-3) ** 2 / 3 + STRAY["V"] ** 2)
    assert item.high - item.value == pytest.approx(2 * sd, rel=0.01)
    assert item.value - item.low == pytest.approx(2 * sd, rel=0.01)


def test_a_worse_meter_has_a_wider_band(loop: Loop) -> None:
    specs = {name: GENERIC.functions[name] for name in GENERIC.functions}
    specs["V"] = specs["V"].__class__(2.0, 5, specs["V"].ranges)
    worse = row(expected_table(loop, Meter(functions=specs)), "V", "d", "n").values[2]
    assert worse.high - worse.low > 2 * 2 * 0.02 * 3 / sqrt(3)


def test_voltages_need_both_leads_at_one_place(loop: Loop, demo: ExpectedTable) -> None:
    pairs = {row.measurement.points for row in demo.rows if row.measurement.function == "V"}
    assert ("JB9:1", "JB9:2") in pairs
    assert not any({"JB9:1", "X21:4"} == set(pair) for pair in pairs)
    assert not any({"JB9:1", "X20:0"} == set(pair) for pair in pairs)  # too far to reach


def test_rows_go_from_place_to_place(plant: Path, demo: ExpectedTable) -> None:
    places = [place.name for place in load_sheet(plant / "sheets" / "LT-214.toml").places]
    met = [row.place for row in demo.rows]
    assert met == sorted(met, key=places.index)
    assert set(met) == set(places)


def test_a_driven_current_does_not_ask_the_process(loop: Loop) -> None:
    """12 mA by hand is 2.998 V at any level; the transmitter's own display still follows it."""
    driven: Condition = (Applied("TX", "driven", 12e-3),)
    table = expected_table(loop, GENERIC, (0.1, 0.9), driven)
    assert values(row(table, "V", "d", "n")) == pytest.approx([12e-3 * BUS] * 2, abs=2e-4)
    assert values(row(table, "shows", "TX")) == pytest.approx([0.1, 0.9])
    assert all(row.measurement.condition == driven for row in table.rows)
    assert "with TX driven 12 mA" in row(table, "V", "d", "n").text


def test_ohms_are_told_when_the_supply_is_off(loop: Loop, table: ExpectedTable) -> None:
    """249.813 ohm and 0.2 ohm of leads; 50 Mohm of transmitter; the band in ohms."""
    off = expected_table(loop, GENERIC, (0.5,), (Applied("G1", "off"),))
    (item,) = row(off, "ohm", "d", "n").values
    assert item.value == pytest.approx(BUS + 0.2, abs=2e-3)
    assert item.low < 250 < item.high
    assert not [r for r in table.rows if r.measurement.function == "ohm"]
    assert values(row(off, "V", "d", "n")) == pytest.approx([0.0], abs=1e-6)


def test_ohms_beyond_the_meter_are_infinite(loop: Loop) -> None:
    """An open link reads OL: 100 Gohm is far beyond 60 Mohm."""
    condition = (Applied("G1", "off"), Applied("LK1", "open"))
    item = row(expected_table(loop, GENERIC, (0.5,), condition), "ohm", "ps", "a").values[0]
    assert item.low > 1e6
    assert item.high == inf
