"""What only all sheets together show: terminals on two sheets, tags twice, one-sided neighbours.

A terminal is one clamp in one place, so two loops on it share a part or one sheet is wrong (common
practice, no source).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.loops.across import across, brief_of
from diagnose.loops.findings import Finding
from diagnose.loops.sheet import load_sheet

SMALL = (Path(__file__).parents[1] / "sheets" / "small.toml").read_text()


def sheet(folder: Path, name: str, *changes: tuple[str, str], more: str = "") -> Path:
    text = SMALL.replace('"XT-1"', f'"{name}"')
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    folder.joinpath("sheets").mkdir(exist_ok=True)
    path = folder / "sheets" / f"{name}.toml"
    path.write_text(text + more)
    return path


def found(*paths: Path) -> list[Finding]:
    return list(across([brief_of(load_sheet(path)) for path in paths], "plant"))


def neighbour(tag: str) -> str:
    return f'\n[[neighbour]]\nname = "{tag}"\nthrough = ["R1"]\n'


APART = (("X1:", "X2:"),)


def test_sheets_with_terminals_of_their_own_are_sound_together(tmp_path):
    assert found(sheet(tmp_path, "AT-1"), sheet(tmp_path, "BT-1", *APART)) == []


def test_a_terminal_on_two_sheets_is_told_with_its_place(tmp_path):
    [one] = found(sheet(tmp_path, "AT-1"), sheet(tmp_path, "BT-1"))
    assert (one.level, one.file, one.key) == ("warning", "plant", "terminals")
    assert "X1:7 stands on the sheets of AT-1, BT-1: rename them" in one.text


def test_the_same_name_at_another_place_is_another_terminal(tmp_path):
    paths = (
        sheet(tmp_path, "AT-1"),
        sheet(tmp_path, "BT-1", ("minutes = 3", 'minutes = 3\ntitle = "cabinet 9"')),
    )
    assert found(*paths) == []


@pytest.mark.parametrize("who", ["both", "one"])
def test_neighbours_may_share_a_terminal(tmp_path, who):
    first = sheet(tmp_path, "AT-1", more=neighbour("BT-1"))
    second = sheet(tmp_path, "BT-1", more=neighbour("AT-1") if who == "both" else "")
    told = found(first, second)
    assert [one.level for one in told] == ([] if who == "both" else ["note"])
    if told:
        assert told[0].text == "the sheet of BT-1 does not name AT-1 in its turn"


def test_a_third_sheet_shares_through_a_chain_of_neighbours(tmp_path):
    """A names B, B names C: all three are on the one bar."""
    paths = [
        sheet(tmp_path, "AT-1", more=neighbour("BT-1")),
        sheet(tmp_path, "BT-1", more=neighbour("AT-1") + neighbour("CT-1")),
        sheet(tmp_path, "CT-1", more=neighbour("BT-1")),
    ]
    assert found(*paths) == []
    [one] = found(*paths, sheet(tmp_path, "DT-1"))
    assert "AT-1, BT-1, CT-1, DT-1" in one.text


def test_a_sheet_that_shows_the_other_loop_once_more_shares_it(tmp_path):
    first = sheet(tmp_path, "AT-1", ('name = "TX"', 'name = "BT-1"'), ('to = "TX"', 'to = "BT-1"'))
    assert found(first, sheet(tmp_path, "BT-1")) == []


def test_a_neighbour_without_a_sheet_and_one_that_shares_nothing(tmp_path):
    first = sheet(tmp_path, "AT-1", more=neighbour("BT-11") + neighbour("BT-1"))
    second = sheet(tmp_path, "BT-1", ("X1:7", "X2:7"), ("X1:0", "X2:0"), more=neighbour("AT-1"))
    texts = [one.text for one in found(first, second)]
    assert texts == [
        "there is no sheet of BT-11; did you mean BT-1 or AT-1?",
        "the sheet of BT-1 has none of the terminals that they should share",
        "the sheet of AT-1 has none of the terminals that they should share",
    ]


def test_one_tag_on_two_sheets_is_a_problem(tmp_path):
    first, other = sheet(tmp_path, "AT-1"), tmp_path / "sheets" / "again.toml"
    other.write_text(first.read_text())
    problems = [one for one in found(first, other) if one.level == "problem"]
    assert [(one.file, one.key) for one in problems] == [(str(other), "loop: tag")]
    assert problems[0].text == f"{first} has the tag AT-1 as well; one loop has one sheet"


def test_many_terminals_and_sheets_are_cut_short(tmp_path):
    paths = [sheet(tmp_path, f"AT-{n}") for n in range(9)]
    [one] = found(*paths)
    assert "AT-0, AT-1, AT-2, AT-3, AT-4, AT-5 and 3 more" in one.text


def test_names_left_as_the_loop_type_gave_them_are_told_apart(tmp_path):
    head = '[loop]\ntag = "{}"\ntype = "rtd-input"\n'
    paths = [tmp_path / f"{tag}.toml" for tag in ("TT-1", "TT-2")]
    for path in paths:
        path.write_text(head.format(path.stem))
    told = found(*paths)
    assert len(told) == len({one.text.partition(":")[0] for one in told}) > 0  # one for each place
    assert all("as their loop type calls it" in one.text for one in told)
