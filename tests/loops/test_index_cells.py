"""A cell of an index is understood as people type it, or refused with a sentence.

Units are checked against pint, a general-purpose library; what is typed is common practice, no
source.
"""

import pint
import pytest

from diagnose.errors import QuantityError
from diagnose.loops.index.cells import (
    COMMA,
    EITHER,
    POINT,
    area_text,
    cleaned,
    habit,
    name_text,
    quantity_text,
    range_texts,
)
from diagnose.loops.index.tables import Exact
from diagnose.quantities import parse_quantity

UREG = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("cell", "unit", "si", "meant"),
    [
        ("120", "m", "m", "120 m"),
        (" 120 m ", "m", "m", "120 m"),
        ("390 ft", "m", "m", "390 ft"),
        ("390", "ft", "m", "390 ft"),
        ("0,12 km", "m", "m", "0.12 km"),
        ("1.250,5 m", "m", "m", "1250.5 m"),
        ("1,250.5 m", "m", "m", "1250.5 m"),
        ("250R", "ohm", "ohm", "250 ohm"),
        ("24VDC", "V", "V", "24 V"),
        ("0,75 mm\u00b2", "mm2", "m2", "0.75 mm**2"),
        ("2 x 1,5 mm2", "mm2", "m2", "1.5 mm**2"),
        ("1 Pr x 0,75 qmm", "mm2", "m2", "0.75 mm**2"),
        ("1.5", "mm2", "m2", "1.5 mm**2"),
    ],
)
def test_a_quantity_is_what_it_says(cell: str, unit: str, si: str, meant: str) -> None:
    text = quantity_text(cleaned(cell), EITHER, unit)
    wanted = UREG.Quantity(meant).to(UREG.Unit("m**2" if si == "m2" else si)).magnitude
    assert parse_quantity(text, si) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("cell", ["18 AWG", "AWG18", "awg 18", "#18 ga"])
def test_a_wire_gauge_stays_one(cell: str) -> None:
    assert quantity_text(cleaned(cell), EITHER, "mm2") == "AWG 18"


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("12O m", "is not a number with a unit"),
        ("120 kg", "'kg' is no unit of length"),
        ("-5", "not between 0 and 1000 m"),
        ("99999", "not between 0 and 1000 m"),
        ("1,250 m", "can mean 1250 or 1.250"),
        ("about 100", "is not a number"),
    ],
)
def test_what_is_no_length_is_refused(cell: str, told: str) -> None:
    with pytest.raises(QuantityError, match=told.replace(".", r"\.")):
        quantity_text(cleaned(cell), EITHER, "m", 1000)


@pytest.mark.parametrize(
    ("cells", "mark"),
    [
        (["0,75", "12,5 m"], COMMA), (["0.75"], POINT), (["0.75", "0,5"], EITHER),
        (["1.800", "2,500"], EITHER), (["1.250,5"], COMMA), (["120", "x"], EITHER),
        ([Exact("0.75"), "0,5"], COMMA),
    ],
)  # fmt: skip
def test_the_decimal_mark_of_a_file_is_seen(cells: list[str], mark: str) -> None:
    assert habit(cells) == mark


def test_the_mark_of_the_file_settles_what_one_cell_leaves_open() -> None:
    assert quantity_text("1,250", COMMA, "m") == "1.25 m"
    assert quantity_text("1,250", POINT, "m") == "1250 m"
    assert quantity_text(Exact("1.125"), COMMA, "m") == "1.125 m"


@pytest.mark.parametrize(
    ("cell", "ends"),
    [
        ("0-1800 mm", ("0 mm", "1800 mm")),
        ("0 ... 1,8 m", ("0 m", "1.8 m")),
        ("-100...150 kPa", ("-100 kPa", "150 kPa")),
        ("-1-5 bar", ("-1 bar", "5 bar")),
        ("-100 - -50 mbar", ("-100 mbar", "-50 mbar")),
        ("0 to 100 %", ("0 %", "100 %")),
        ("0..600 \u00b0C", ("0 degC", "600 degC")),
        ("0 deg C to 600 deg C", ("0 degC", "600 degC")),
        ("0\u201340 m\u00b3/h", ("0 m3/h", "40 m3/h")),
        ("0 m to 1800 mm", ("0 mm", "1800 mm")),
        ("0-100", ("0 %", "100 %")),
    ],
)
def test_a_range_in_one_cell(cell: str, ends: tuple[str, str]) -> None:
    assert range_texts("", "", "", cleaned(cell), EITHER) == ends


def test_ends_in_two_units_become_one() -> None:
    """0 degC is 32 degF (pint); a metre is 1000 mm."""
    low, high = range_texts("0 degC", "212 degF", "", "", EITHER) or ("", "")
    assert (low, high) == (f"{UREG.Quantity(0, 'degC').to('degF').magnitude:.6g} degF", "212 degF")
    assert range_texts("100 cm", "2", "m", "", EITHER) == ("1 m", "2 m")


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        (("", "", "", "x-y"), "no range"), (("0", "", "mm", ""), "missing"),
        (("0", "1800", "", ""), "no unit"), (("5", "5", "bar", ""), "both ends"),
        (("0 mm", "5 bar", "", ""), "are in mm and bar"), (("", "", "", "4-20 mA"), "the signal"),
        (("0", "1.200 mm", "", ""), "can mean"),
    ],
)  # fmt: skip
def test_what_is_no_range_is_refused(cells: tuple[str, str, str, str], told: str) -> None:
    with pytest.raises(QuantityError, match=told):
        range_texts(*cells, EITHER)


def test_areas_and_names() -> None:
    written = ["Zone1", "Z 2", "ex-zone 21", "non-hazardous"]
    assert [area_text(cell) for cell in written] == ["zone 1", "zone 2", "zone 21", "safe"]
    with pytest.raises(ValueError, match="is no area"):
        area_text("class I")
    assert name_text("JB 9", "box") == "JB-9"
    assert name_text("1034", "cable") == "W1034"
    with pytest.raises(ValueError, match="is no name"):
        name_text("=cmd|x")


@pytest.mark.parametrize("cell", ["", " - ", "N/A", "tbd", "?", "\u00a0"])
def test_a_cell_that_says_nothing_is_empty(cell: str) -> None:
    assert cleaned(cell) == ""


def test_a_cell_is_one_printable_line() -> None:
    assert cleaned(" LT\u2011214\u00a0\n x\x1b[2J ") == "LT-214 x [2J"
