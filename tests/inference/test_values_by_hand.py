"""Numbers as they are typed, against arithmetic on paper: ranges that do not begin at zero, digits.

A share of a range is (value - low) / (high - low); the last digit typed leaves half a unit of its
place open to either side (JCGM 100:2008, F.2.2.1: half the resolution).
"""

from __future__ import annotations

import pytest

from diagnose.inference.measurement import Reading
from diagnose.inference.reading_values import fraction
from diagnose.inference.readings import parse_line
from diagnose.loops.plant import open_plant

RANGE = ("kPa", -100.0, 150.0)


@pytest.mark.parametrize(
    ("text", "share"),
    [("25 kPa", 0.5), ("-100 kPa", 0.0), ("150 kPa", 1.0), ("0 kPa", 0.4),
     ("25000 Pa", 0.5), ("0.25 bar", 0.5), ("-1 bar", 0.0), ("50 %", 0.5), ("50", 0.5)],
)  # fmt: skip
def test_a_share_of_a_range_that_begins_below_zero(text: str, share: float) -> None:
    assert fraction(text, RANGE) == pytest.approx(share)


def test_a_bare_number_on_a_dial_is_in_its_unit() -> None:
    assert fraction("25", RANGE, bare="unit") == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("line", "value", "open_"),
    [("V X21:7 X20:0 3", 3.0, 0.5), ("V X21:7 X20:0 3.0", 3.0, 0.05),
     ("V X21:7 X20:0 3.000", 3.0, 0.0005), ("V X21:7 X20:0 -3.00", -3.0, 0.005),
     ("clamp W3+ 12.0", 12e-3, 0.05e-3), ("V X21:7 X20:0 3020 mV", 3.02, 0.5e-3),
     ("LIC-214 50 %", 0.5, 0.005), ("LIC-214 50.0 %", 0.5, 0.0005)],
)  # fmt: skip
def test_what_the_last_digit_leaves_open(line: str, value: float, open_: float) -> None:
    read = parse_line(line, open_plant().load("LT-214"))
    assert isinstance(read, Reading)
    assert read.value == pytest.approx(value)
    assert read.rounding == pytest.approx(open_)
