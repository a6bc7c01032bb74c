"""The exported schemas agree with the loader: on all shipped files, on broken ones, on mutations.

Validated with `jsonschema`, a package of others, after the meta-schema of draft 2020-12.  The
sentences are those that the loader tells; a schema sees a single file and no arithmetic, so that
what it lets through is listed here by name, with the reason.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import QuantityError, SheetError
from diagnose.loops.kind import Kind
from diagnose.loops.plant import open_plant
from diagnose.loops.schema.texts import quantity_pattern
from diagnose.loops.sheet import load_sheet
from diagnose.quantities import parse_quantity
from diagnose.terminal.do_schema import NAMES
from diagnose.unit_table import UNITS
from loops.test_wrong_sheets import LEAVES, SMALL, TYPED, WRONG, WRONG_TYPED, leaves, reader
from schemas import faults, faults_of_text, plain, validator

ROOT = Path(__file__).parents[2]
FILES = {
    **dict.fromkeys(sorted((ROOT / "cases").glob("*/sheets/*.toml")), "sheet"),
    **dict.fromkeys(sorted((ROOT / "tests" / "sheets").glob("*.toml")), "sheet"),
    **dict.fromkeys(sorted((ROOT / "models").glob("*.toml")), "type"),
    **dict.fromkeys(sorted((ROOT / "cases").glob("*/plant.toml")), "plant"),
    **dict.fromkeys(sorted((ROOT / "cases").glob("*/lessons/lessons.toml")), "lesson"),
    **dict.fromkeys(sorted((ROOT / "cases").glob("*/lessons/[!l]*.toml")), "sheet"),
}


@pytest.mark.parametrize("name", NAMES)
def test_each_schema_is_one_by_the_meta_schema(name):
    schema = validator(name).schema
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"] == name


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_shipped_files_are_valid(path):
    assert faults_of_text(FILES[path], path.read_text()) == []


def test_one_sort_of_file_is_not_taken_for_another():
    sheet, model = SMALL, (ROOT / "models" / "rtd-input.toml").read_text()
    assert faults_of_text("sheet", model) == ["$.loop: required"]  # its tag
    assert faults_of_text("plant", sheet)
    assert faults_of_text("type", TYPED)


# -- broken sheets ---------------------------------------------------------------------------------

CROSS, ARITHMETIC = "it names something elsewhere in the file", "it is a matter of numbers"
UNSEEN = {
    "range in two units": CROSS, "range of no width": CROSS, "reference misspelled": CROSS,
    "place twice": CROSS, "part twice": CROSS, "parts that differ in capitals": CROSS,
    "part named as a node": CROSS, "nodes that differ in capitals": CROSS,
    "place misspelled": CROSS, "reference to no part": CROSS, "point on no node": CROSS,
    "point at no place": CROSS, "type unknown": CROSS, "omit of no part": CROSS,
    "omitted and described": CROSS, "rename of nothing": CROSS, "rename of two to one": CROSS,
    "rename onto another part": CROSS, "override of no part": CROSS, "override of no pin": CROSS,
    "drift without measure": ARITHMETIC, "shares that do not add up": ARITHMETIC,
    "share not finite": ARITHMETIC, "value too small": ARITHMETIC, "value too large": ARITHMETIC,
    "tolerance negative": ARITHMETIC, "tolerance above all": ARITHMETIC,
    "area in no table": ARITHMETIC, "temperature out of reason": ARITHMETIC,
    "override out of range": ARITHMETIC, "tolerance of the whole value": ARITHMETIC,
    "tolerance above the value, in its unit": ARITHMETIC,
}  # fmt: skip
"""What is wrong with a sheet and beyond a schema, and why; ``check`` tells it."""


def broken() -> dict[str, tuple[str, list[str]]]:
    """Name -> text of the sheet and the sentences of the loader (``test_wrong_sheets``)."""
    small = {name: (SMALL.replace(old, new, 1), told) for name, (old, new, told) in WRONG.items()}
    typed = {
        name: (TYPED.replace(old, new, 1) + more, told)
        for name, (old, new, more, told) in WRONG_TYPED.items()
    }
    return {name: pair for name, pair in {**small, **typed}.items() if is_toml(pair[0])}


def is_toml(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


BROKEN = broken()


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_sheet_is_refused_by_both_where_a_schema_can_see_it(name, tmp_path):
    text, sentences = BROKEN[name]
    path = tmp_path / "sheets" / "sheet.toml"
    path.parent.mkdir()
    path.write_text(text)
    with pytest.raises(SheetError) as caught:
        load_sheet(path)
    told = [f"{key}: {sentence}" for _, key, sentence in caught.value.problems]
    assert told[0].startswith(sentences[0])
    assert (faults_of_text("sheet", text) == []) == (name in UNSEEN)


def test_the_table_is_long_enough_and_names_only_what_is_there():
    assert len(BROKEN) - len(UNSEEN) >= 60
    assert UNSEEN.keys() <= BROKEN.keys()


@pytest.mark.parametrize("text", [SMALL, TYPED + '[rename]\nTX = "LT-2"\n'], ids=["own", "typed"])
def test_a_schema_never_refuses_what_the_loader_takes(monkeypatch, text):
    """Every value of two sheets replaced by values of every type, good and bad, in turn."""
    both = only = 0
    for number in range(sum(1 for _ in leaves(tomllib.loads(text)))):
        for leaf in LEAVES[number % 5 :: 5]:
            table = tomllib.loads(text)
            container, key = list(leaves(table))[number]
            container[key] = leaf
            monkeypatch.setattr("diagnose.loops.sheet.read_table", reader(table))
            refused = not validator("sheet").is_valid(plain(table))
            try:
                load_sheet("plant/sheets/sheet.toml")
                assert not refused, (key, leaf)
            except SheetError:
                both, only = both + refused, only + (not refused)
    assert both > 10 * only


# -- kinds and texts -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(Kind.registry))
def test_a_part_of_each_kind_may_say_what_the_kind_declares_and_nothing_else(name):
    kind = Kind.registry[name]
    known = validator("sheet").schema["$defs"][f"kind_{name}"]["properties"]
    typed = {item.name for item in kind.parameters if item.typed}
    assert typed | {fact.name for fact in kind.facts} <= known.keys()
    hidden = {item.name for item in kind.parameters if not item.typed}
    assert not hidden & known.keys()
    part = {"name": "P1", "kind": name}
    sheet = {"loop": {"tag": "XT-1", "type": "two-wire-input"}, "part": [part]}
    assert faults("sheet", sheet) == []
    part["nonsense"] = "1 V"
    assert faults("sheet", sheet)


@pytest.mark.parametrize("unit", UNITS)
@given(
    text=st.from_regex(
        r"[ ]?[-+\u2212]?[0-9.,eE]{1,9} ?[unpmkMG%\u00b5]?"
        r"(ohm|\u03a9|V|VDC|V DC|A|mm2|m2?|s|Pa|bar|R|F/m|H|W|Hz|K|degC|\u00b0C|%)?[0-9]{0,2}",
        fullmatch=True,
    )
)
def test_a_quantity_that_is_understood_matches_its_pattern(unit, text):
    validate = validator_of(quantity_pattern(unit, True))
    try:
        parse_quantity(text, unit)
    except QuantityError:
        return
    assert validate(text), text


def validator_of(pattern: str):
    from jsonschema import Draft202012Validator

    return Draft202012Validator({"pattern": pattern}).is_valid


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("4k7", "ohm"), ("250R", "ohm"), ("2,2 k\u2126", "ohm"), ("24 V DC", "V"), ("3V3", "V"),
        ("12 ma", "A"), ("20 \u00b5A", "A"), ("0,75 mm\u00b2", "m2"), ("25 \u00b0C", "degC"),
        ("0.1 %", "1"), ("0.45", "1"), ("200 pF/m", "F/m"), ("60 pF/ft", "F/m"),
        ("1e\u20123 V", "V"),
    ],
)  # fmt: skip
def test_ways_to_write_a_quantity_match(text, unit):
    assert validator_of(quantity_pattern(unit, unit == "1"))(text)
    assert not validator_of(quantity_pattern(unit, unit == "1"))(text + "\n")


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("24", "V"), ("24 ohm", "V"), ("1,800 V", "V"), ("12 MA\u00b2", "A"), ("nan V", "V"),
        ("about 24 V", "V"), ("1.2.3 V", "V"), ("24 V\n", "V"), ("", "V"), ("0x10 V", "V"),
    ],
)  # fmt: skip
def test_what_is_no_quantity_does_not_match(text, unit):
    assert not validator_of(quantity_pattern(unit, False))(text)


# -- loop types and plants -------------------------------------------------------------------------

MODEL = (ROOT / "models" / "rtd-input.toml").read_text()
WRONG_TYPES = {
    "a type of its own": ("[loop]\n", '[loop]\ntype = "trip"\n', "loop: type: a loop type cannot"),
    "omits": ("[loop]\n", 'omit = ["A"]\n[loop]\n', "omit: a loop type has nothing to change"),
    "renames": ("[loop]\n", '[loop]\nrename = { A = "B" }\n', "rename: a loop type has nothing"),
    "no reference": ("reference = ", "referenz = ", "loop: referenz: there is no such key"),
    "a part without kind": ('kind = "rtd"\n', "", ": kind: it is missing"),
    "a kind that is none": ('kind = "rtd"', 'kind = "rdt"', ": kind: no kind of part"),
}


@pytest.mark.parametrize("name", WRONG_TYPES)
def test_a_broken_loop_type_is_refused_by_both(name, tmp_path, monkeypatch):
    from diagnose.loops import sheet

    old, new, sentence = WRONG_TYPES[name]
    assert old in MODEL
    text = MODEL.replace(old, new, 1)
    (tmp_path / "rtd-input.toml").write_text(text)
    monkeypatch.setattr(sheet, "models", lambda: tmp_path)
    with pytest.raises(SheetError) as caught:
        sheet.load_type("rtd-input")
    assert any(sentence in f"{k}: {t}" for _, k, t in caught.value.problems)
    assert faults_of_text("type", text)


PLANT = (ROOT / "cases" / "larkmere" / "plant.toml").read_text()
WRONG_PLANTS = {
    "no name": ('name = "Larkmere resin works"\n', "", "plant: name: it is missing"),
    "a name with a slash": ('"Larkmere resin works"', '"a/b"', "plant: name: 'a/b' is no name"),
    "an unknown key": ("unit =", "units =", "plant: units: there is no such key"),
    "an unknown table": ("[plant]", "[plan]", "plan: there is no such key"),
    "an unknown function": ("mA    =", "uA    =", "meter M-1: uA: there is no such key"),
    "a percentage as a number": ('"0.1 %"', "0.1", "meter M-1: V: percent: a bare number"),
    "counts as text": ("counts = 2 }", 'counts = "2" }', "meter M-1: V: counts: text stands"),
    "counts below nothing": ("counts = 2 }", "counts = -2 }", "meter M-1: V: counts: -2 is not"),
    "no percentage": ('percent = "0.1 %", ', "", "meter M-1: V: percent: it is missing"),
    "a day that is none": ("all    = 2014-09-01", 'all = "x"', "in-service: all:"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG_PLANTS)
def test_a_broken_plant_file_is_refused_by_both(name, tmp_path):
    old, new, sentence = WRONG_PLANTS[name]
    assert old in PLANT
    text = PLANT.replace(old, new, 1)
    (tmp_path / "plant.toml").write_text(text)
    with pytest.raises(SheetError) as caught:
        open_plant(tmp_path)
    assert any(f"{k}: {t}".startswith(sentence) for _, k, t in caught.value.problems)
    assert faults_of_text("plant", text)


def test_days_in_service_are_valid(tmp_path):
    text = PLANT.replace("[in-service]\n", "[in-service]\nLT-214 = [2019-04-01, 2024-06-30]\n")
    assert text != PLANT
    (tmp_path / "plant.toml").write_text(text)
    assert open_plant(tmp_path).name
    assert faults_of_text("plant", text) == []
