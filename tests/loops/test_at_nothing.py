"""Where a transmitter stands with nothing applied to it: at the 0 of its range.

By arithmetic: 0 kPa on a range of -100 to 150 kPa is 100 / 250 = 40 %, and 4 + 0.40 * 16 = 10.4 mA.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.errors import DiagnoseError
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.at_nothing import AT_NOTHING, with_nothing
from diagnose.loops.sheet import load_sheet

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
COMPOUND = SHEETS / "PT-305.toml"


def stands(path: Path, part: str) -> float:
    return load_sheet(path).part(part).values[AT_NOTHING]


def test_a_compound_gauge_stands_where_its_range_has_0() -> None:
    assert stands(COMPOUND, "PT-305") == pytest.approx(0.4)


def test_a_range_from_0_leaves_it_at_its_foot() -> None:
    assert stands(SHEETS / "LT-214.toml", "LT-214") == 0.0


@pytest.mark.parametrize(
    ("ends", "at"),
    [
        (("kPa", 50.0, 150.0), -0.5),  # a suppressed zero: below its foot
        (("kPa", -150.0, -50.0), 1.5),  # an elevated one: above its top
        (("mm", -1000.0, 0.0), 1.0),  # a filled leg
        (("kPa", 900.0, 1000.0), -1.0),  # no farther than anything follows
        (("degC", -50.0, 150.0), 0.0),  # 0 degC is no absence of temperature
        (("C", -50.0, 150.0), 0.0),
        (("degF", -40.0, 200.0), 0.0),
        (("%", 10.0, 90.0), 0.0),
    ],
)
def test_other_ranges(ends: tuple[str, float, float], at: float) -> None:
    plain = load_sheet(COMPOUND)
    bare = tuple(
        replace(part, values={**part.values, AT_NOTHING: 0.0})
        if AT_NOTHING in part.values
        else part
        for part in plain.parts
    )
    loop = with_nothing(replace(plain, parts=bare, range=ends))
    assert loop.part("PT-305").values[AT_NOTHING] == pytest.approx(at)


def test_a_sheet_may_say_it(tmp_path: Path) -> None:
    """An absolute transmitter of 0 to 200 kPa that is vented stands at about 50 %."""
    text = COMPOUND.read_text(encoding="utf-8")
    told = tmp_path / "PT-305.toml"
    told.write_text(f'{text}\n[[part]]\nname = "PT-305"\nat_nothing = "50 %"\n', encoding="utf-8")
    assert stands(told, "PT-305") == 0.5


def test_what_a_sheet_says_is_within_what_a_transmitter_follows(tmp_path: Path) -> None:
    text = COMPOUND.read_text(encoding="utf-8")
    told = tmp_path / "PT-305.toml"
    told.write_text(f'{text}\n[[part]]\nname = "PT-305"\nat_nothing = "300 %"\n', encoding="utf-8")
    with pytest.raises(DiagnoseError, match="at_nothing: 3 is too large; it is at most 2"):
        load_sheet(told)


@pytest.mark.parametrize(("volts", "error"), [("2.601", False), ("1.000", True)])
def test_a_vented_transmitter_that_is_right_has_no_zero_error(volts: str, error: bool) -> None:
    """10.4 mA through 250 ohm is 2.600 V (the head of the loop type); 4 mA would be 1.000 V."""
    loop = load_sheet(COMPOUND)
    lines = ("complaint reads high", f"V X51:7 X20:0 {volts} with PT-305 equalised")
    ranking = Engine(loop).rank([parse_line(line, loop) for line in lines])
    of = {(h.part, h.fault): h.probability for h in ranking.hypotheses}
    assert (of["PT-305", "zero error"] > of[None, "none"]) is error
