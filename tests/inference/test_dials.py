"""A dial has a unit and no percent; units that hold a digit; shares that may be slips.

That gauges, thermometers and sight glasses are marked in engineering units is common practice, no
source; conversions are arithmetic on the ranges of the sheets.
"""

import pytest

from diagnose.inference.expected import expected_table
from diagnose.inference.measurement import Reading
from diagnose.inference.meters import GENERIC
from diagnose.inference.readings import describe, parse_line
from diagnose.loops.plant import open_plant


@pytest.mark.parametrize(
    ("tag", "line", "share", "kept"),
    [
        ("TT-131", "TG-131 94", 94 / 200, "TG-131 94 degC"),  # 0 to 200 degC
        ("TT-131", "TG-131 47 %", 0.47, "TG-131 94 degC"),
        ("TT-131", "TG-131 201.2 degF", (201.2 - 32) / 1.8 / 200, "TG-131 94 degC"),
        ("LT-214", "LG-214 900", 0.5, "LG-214 900 mm"),  # 0 to 1800 mm
        ("PT-305", "PG-305 20", 120 / 250, "PG-305 20 kPa"),  # -100 to 150 kPa
        ("PT-305", "PIC-305 60", 0.6, "PIC-305 60 %"),  # a receiver shows either
        ("FT-118", "FI-118 10", 0.25, "FI-118 10 m3/h"),  # 0 to 40 m3/h
        ("FT-118", "FIC-118 25 m3/h", 0.625, "FIC-118 62.5 %"),
        ("ZS-221", "ZG-221 5", 0.05, "ZG-221 5 %"),
    ],
)
def test_a_bare_number_is_what_the_dial_is_marked_in(
    tag: str, line: str, share: float, kept: str
) -> None:
    loop = open_plant().load(tag)
    found = parse_line(line, loop)
    assert isinstance(found, Reading)
    assert found.value == pytest.approx(share)
    assert describe(found, loop) == kept


def test_a_digit_of_the_unit_is_none_of_the_reading() -> None:
    """25 m3/h leaves half a m3/h open either side, of 40."""
    found = parse_line("FIC-118 25 m3/h", open_plant().load("FT-118"))
    assert isinstance(found, Reading)
    assert found.rounding == pytest.approx(0.5 / 40)


def test_what_is_due_on_a_dial_is_told_in_its_unit() -> None:
    rows = expected_table(open_plant().load("TT-131"), GENERIC, (0.25, 0.75)).rows
    dial = next(row for row in rows if row.text == "TG-131")
    assert dial.unit == "degC"
    assert [value.value for value in dial.values] == pytest.approx([50, 150])
