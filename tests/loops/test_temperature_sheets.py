"""Sheets of temperature loops: words as values, temperatures, where a display is read, strays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.circuit.graph import CircuitError, check
from diagnose.errors import SheetError
from diagnose.loops.loop import Loop
from diagnose.loops.record import loop_from_record, loop_to_record
from diagnose.loops.sheet import load_sheet, load_type
from diagnose.loops.thermocouple_tables import LETTERS

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"
TAGS = ("TT-131", "TT-132", "TT-133", "TE-140")
HEAD = """
[loop]
tag = "TE-1"
type = "thermocouple-input"
range = ["0 degC", "600 degC"]
"""

Load = Callable[[str], Loop]


@pytest.fixture
def load(tmp_path: Path) -> Load:
    """A sheet of a thermocouple with something more in it."""

    def loaded(more: str) -> Loop:
        path = tmp_path / "sheets" / "TE-1.toml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(HEAD + more, encoding="utf-8")
        return load_sheet(path)

    return loaded


def part(name: str, *lines: str) -> str:
    return "\n".join((f'\n[[part]]\nname = "{name}"', *lines, ""))


def refused(load: Load, more: str) -> str:
    with pytest.raises(SheetError) as caught:
        load(more)
    return str(caught.value)


def test_a_type_is_a_letter(load: Load) -> None:
    loop = load(part("TE", 'type = "j"', 'accuracy_class = "1"'))
    assert loop.part("TE").values["type"] == LETTERS.index("J")
    assert loop.part("TE").values["accuracy_class"] == 0.0


@pytest.mark.parametrize(
    ("key", "word", "sentence"),
    [
        ("type", "X", 'type: \'X\' is none of "K", "J", "T"'),
        ("accuracy_class", "B", 'accuracy_class: \'B\' is none of "1", "2"'),
    ],
)
def test_a_wrong_word_is_told_with_the_right_ones(
    load: Load, key: str, word: str, sentence: str
) -> None:
    said = refused(load, part("TE", f'{key} = "{word}"'))
    assert said.endswith(f"part TE: values: {sentence}")


def test_a_direction_is_a_word(load: Load) -> None:
    assert load(part("U1", 'burnout = "Down"')).part("U1").values["burnout"] == -1.0
    said = refused(load, part("U1", 'burnout = "sideways"'))
    assert 'burnout: \'sideways\' is none of "up", "down"' in said


@pytest.mark.parametrize("text", ["60 degC", "60 °C", "60 C", "140 degF", "333.15 K"])
def test_temperatures_in_any_unit(load: Load, text: str) -> None:
    """60 degC = 140 degF = 333.15 K."""
    loop = load(part("HT", f'temperature = "{text}"'))
    assert loop.part("HT").values["temperature"] == pytest.approx(60.0)


@pytest.mark.parametrize("text", ["9 K", "9 degC", "9 °C", "16.2 degF"])
def test_a_tolerance_of_a_temperature_is_a_difference(load: Load, text: str) -> None:
    """9 K = 16.2 degrees of Fahrenheit; no zero point is taken off."""
    loop = load(part("HT", f'tolerances = {{ temperature = "{text}" }}'))
    assert loop.part("HT").tolerances["temperature"] == pytest.approx(9.0)


def test_a_bare_temperature_is_refused(load: Load) -> None:
    said = refused(load, part("HT", 'temperature = "60"'))
    assert 'part HT: temperature: "60" has no unit; write "60 degC"' in said


def test_where_a_display_is_read(load: Load) -> None:
    loop = load("")
    assert (loop.part("U1").place, loop.part("U1").read_at) == ("cabinet", "control room")
    assert loop.part("LG").read_at == loop.part("LG").place == "head"


def test_a_place_that_is_none_and_a_part_that_shows_nothing(load: Load) -> None:
    said = refused(load, part("U1", 'shown_at = "control rom"'))
    assert "shown_at: no place is called 'control rom'; did you mean control room?" in said
    said = refused(load, part("W3+", 'shown_at = "control room"'))
    assert "a sensor_core shows nothing; leave it out" in said


@pytest.mark.parametrize(("text", "problem"), [("0 V", "between"), ("2 mA", "no unit of voltage")])
def test_strays_are_volts(load: Load, text: str, problem: str, tmp_path: Path) -> None:
    path = tmp_path / "TE-2.toml"
    path.write_text(HEAD + f'stray = "{text}"\n', encoding="utf-8")
    with pytest.raises(SheetError, match=problem):
        load_sheet(path)


def test_strays_of_a_loop_that_does_not_say() -> None:
    assert load_type("two-wire-input").stray == 2e-3
    assert load_type("thermocouple-input").stray == pytest.approx(30e-6)


@pytest.mark.parametrize("tag", TAGS)
def test_a_copy_of_the_sheet_holds_everything(tag: str) -> None:
    loop = load_sheet(SHEETS / f"{tag}.toml")
    again = loop_from_record(loop_to_record(loop))
    assert replace(again, digest="", source="") == replace(loop, digest="", source="")


@pytest.mark.parametrize("tag", TAGS)
def test_renamed_parts_refer_to_renamed_parts(tag: str) -> None:
    loop = load_sheet(SHEETS / f"{tag}.toml")
    names = {item.name for item in loop.parts}
    assert {name for item in loop.parts for name in item.references.values()} <= names
    assert not names & {"RT", "TE", "U1"}


@pytest.mark.parametrize("tag", TAGS)
def test_sensor_card_and_loop_have_one_range(tag: str) -> None:
    """Two ranges in one sheet would make a sound loop read wrong."""
    loop = load_sheet(SHEETS / f"{tag}.toml")
    ranges = {(p.values["low"], p.values["high"]) for p in loop.parts if "low" in p.values}
    assert ranges == {loop.range[1:]}


def test_the_path_of_a_resistance_thermometer() -> None:
    """Out at A, through the element, back over C."""
    path = check(load_type("rtd-input")).path
    order = ["U1", "U1.A", "W3A", "RT", "H.BC", "W3C", "U1.C"]
    assert [name for name in path if name in order] == order


def test_the_path_of_a_thermocouple() -> None:
    """The element drives it; head, cable and card follow, and the minus core brings it back."""
    path = check(load_type("thermocouple-input")).path
    order = ["TE", "W3+", "U1", "W3-"]
    assert [name for name in path if name in order] == order


def test_a_thermocouple_without_its_cable_has_no_way_back(load: Load) -> None:
    """Insulation does not carry what the element drives."""
    pins = 'pins = { a = "W3+.1", b = "W3+.2" }'
    loop = load(part("W3+", 'kind = "insulation"', pins, 'place = "cabinet"'))
    with pytest.raises(CircuitError, match="no return path"):
        check(loop)


def test_a_short_cable_is_no_shorted_supply(tmp_path: Path) -> None:
    """The second current of a card goes straight back over two leads; that is how it is meant."""
    cores = "".join(part(f"W3{core}", 'resistance = "0.1 ohm"') for core in "ABC")
    path = tmp_path / "TT-1.toml"
    text = '[loop]\ntag = "TT-1"\ntype = "rtd-input"\nrange = ["0 degC", "200 degC"]\n'
    path.write_text(text + cores, encoding="utf-8")
    assert check(load_sheet(path)).path[0] == "U1"
