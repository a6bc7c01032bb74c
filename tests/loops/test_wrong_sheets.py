"""Wrong sheets: each fault is told in one sentence, with what would be right.

The sentences are the project's own; what counts as wrong follows from the kinds (pins, parameters
and their limits), TOML 1.0 and the rules for names.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from diagnose.errors import SheetError
from diagnose.loops.sheet import load_sheet
from diagnose.loops.sheet_text import read_table

SHEETS = Path(__file__).parents[1] / "sheets"
TYPES = sorted(path.stem for path in (Path(__file__).parents[2] / "models").glob("*.toml"))
SMALL = (SHEETS / "small.toml").read_text()
TYPED = (SHEETS / "typed.toml").read_text()


def write(folder: Path, text: str | bytes) -> Path:
    folder.joinpath("sheets").mkdir()
    path = folder / "sheets" / "sheet.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def problems_of(path: Path) -> list[str]:
    with pytest.raises(SheetError) as caught:
        load_sheet(path)
    assert all(file == str(path) for file, _, _ in caught.value.problems)
    assert "\n" not in "".join(key + text for _, key, text in caught.value.problems)
    return [f"{key}: {text}" for _, key, text in caught.value.problems]


# What is changed in SMALL, into what, and the sentences that come back.
WRONG = {
    "no table loop": (
        "[loop]",
        "[lop]",
        [
            "lop: there is no such key; did you mean loop?",
            "loop: the sheet has no [loop] table; begin with one",
            'loop: tag: it is missing; write tag = "LT-214"',
            'loop: range: write both ends: range = ["0 mm", "1800 mm"]',
            'loop: reference: it is missing; write reference = "X20:0"',
        ],
    ),
    "unknown section": (
        "[shares]",
        "[share]",
        ["share: there is no such key; did you mean shares?"],
    ),
    "unknown loop key": (
        "service =",
        "servise =",
        ["loop: servise: there is no such key; did you mean service?"],
    ),
    "tag missing": ('tag = "XT-1"\n', "", ['loop: tag: it is missing; write tag = "LT-214"']),
    "tag is a number": (
        'tag = "XT-1"',
        "tag = 214",
        ['loop: tag: a bare number stands here; write tag = "LT-214"'],
    ),
    "tag with a path": (
        '"XT-1"',
        '"../XT-1"',
        [
            (
                "loop: tag: '../XT-1' is no name; use letters, digits, + - . _, beginning "
                "with a letter or digit, 40 at most"
            )
        ],
    ),
    "tag begins with a dash": (
        '"XT-1"',
        '"-XT-1"',
        [
            (
                "loop: tag: '-XT-1' is no name; use letters, digits, + - . _, beginning "
                "with a letter or digit, 40 at most"
            )
        ],
    ),
    "tag with a line break": (
        '"XT-1"',
        '"XT-1\\n"',
        ["loop: tag: write it on one line of plain text, 200 characters at most"],
    ),
    "tag too long": (
        '"XT-1"',
        '"XT-111111111111111111111111111111111111111111111111111111111111"',
        [
            (
                "loop: tag: 'XT-1111111111111111111111111111111111...' is no name; use "
                "letters, digits, + - . _, beginning with a letter or digit, 40 at most"
            )
        ],
    ),
    "tag with a terminal escape": (
        '"XT-1"',
        '"XT\\u001b[31m"',
        ["loop: tag: write it on one line of plain text, 200 characters at most"],
    ),
    "range missing": (
        'range = ["0 mm", "1800 mm"]\n',
        "",
        ['loop: range: write both ends: range = ["0 mm", "1800 mm"]'],
    ),
    "range of one end": (
        '["0 mm", "1800 mm"]',
        '["0 mm"]',
        ['loop: range: write both ends: range = ["0 mm", "1800 mm"]'],
    ),
    "range without units": (
        '["0 mm", "1800 mm"]',
        '["0", "1800"]',
        ["loop: range: '0' and '1800' need one and the same unit"],
    ),
    "range in two units": (
        '"1800 mm"',
        '"1.8 m"',
        ["loop: range: '0 mm' and '1.8 m' need one and the same unit"],
    ),
    "range of no width": (
        '"1800 mm"',
        '"0 mm"',
        ["loop: range: both ends are the same; write the values at 0 % and at 100 %"],
    ),
    "range of numbers": (
        '["0 mm", "1800 mm"]',
        "[0, 1800]",
        [
            (
                'loop: range: a list of texts in quotes belongs here; write range = ["0 '
                'mm", "1800 mm"]'
            )
        ],
    ),
    "range with a thousands comma": (
        '"1800 mm"',
        '"1,800 mm"',
        ["loop: range: '1,800 mm' can mean 1.800 or 1800: write one of them"],
    ),
    "reference misspelled": (
        'reference = "X1:0"',
        'reference = "X1:O"',
        ["loop: reference: no pin is on node 'X1:O'; did you mean X1:7 or X1:1 or X1:0?"],
    ),
    "role unknown": (
        '["trip"]',
        '["tripp"]',
        ["loop: role: 'tripp' is no role; did you mean trip?"],
    ),
    "drift without measure": (
        '"0.2 %"',
        '"60 %"',
        ["loop: process_drift: it is a share of the range between 0 % and 20 %"],
    ),
    "shares that do not add up": (
        "sound = 0.25",
        "sound = 0.5",
        [
            (
                "shares: sound, process_connection, electrical, unmodelled add up to 1.25; "
                "they must add up to 1"
            )
        ],
    ),
    "share that is negative": (
        "sound = 0.25",
        "sound = -0.25",
        ["shares: sound: -0.25 is not between 0 and 1"],
    ),
    "share not finite": (
        "sound = 0.25",
        "sound = nan",
        ["shares: sound: nan is not between 0 and 1"],
    ),
    "share as text": (
        "sound = 0.25",
        'sound = "25 %"',
        ["shares: sound: text stands here; write a plain number: sound = 0.25"],
    ),
    "place without minutes": (
        "minutes = 3\n",
        "",
        [("place cabinet: minutes: it is missing; write the minutes to walk there: minutes = 10")],
    ),
    "minutes as text": (
        "minutes = 3\n",
        'minutes = "3 min"\n',
        ["place cabinet: minutes: text stands here; write a plain number: minutes = 10"],
    ),
    "minutes not finite": (
        "minutes = 3\n",
        "minutes = inf\n",
        ["place cabinet: minutes: inf is not between 0 and 1440"],
    ),
    "area unknown": (
        '"zone 2"',
        '"zone two"',
        [("place field: area: 'zone two' is no area; did you mean zone 2 or zone 1 or zone 0?")],
    ),
    "place twice": (
        'name = "field"\nminutes',
        'name = "cabinet"\nminutes',
        [
            "place cabinet: this place is there twice; rename or remove one",
            "part W1: place: no place is called 'field'; known: cabinet",
            "part TX: place: no place is called 'field'; known: cabinet",
            "part T1: place: no place is called 'field'; known: cabinet",
        ],
    ),
    "place with one bracket": (
        '[[place]]\nname = "cabinet"\nminutes = 3\n\n[[place]]',
        "[place]",
        ["place: a table stands here; write each place under its own [[place]]"],
    ),
    "part without name": (
        'name = "R1"\n',
        "",
        ['part 4: name: it is missing; write name = "X21:7"'],
    ),
    "part with a bad name": (
        'name = "R1"',
        'name = "R/1"',
        [
            (
                "part 4: name: 'R/1' is no name; use letters (one at least), digits, : + - "
                ". _, beginning with a letter or digit, 40 at most"
            )
        ],
    ),
    "part name of digits": (
        'name = "R1"',
        'name = "250"',
        [
            (
                "part 4: name: '250' is no name; use letters (one at least), digits, : + - "
                ". _, beginning with a letter or digit, 40 at most"
            )
        ],
    ),
    "part twice": (
        'name = "R1"',
        'name = "W1"',
        ["part W1: this part is there twice; rename or remove one"],
    ),
    "parts that differ in capitals": (
        'name = "R1"',
        'name = "w1"',
        ["part w1: 'W1' differs in capitals only; use one spelling"],
    ),
    "part named as a node": (
        'name = "R1"',
        'name = "X1:7"',
        ["part X1:7: a node has the same name; rename one of them"],
    ),
    "nodes that differ in capitals": (
        '{ a = "X1:7"',
        '{ a = "x1:7"',
        ["node x1:7: 'X1:7' differs in capitals only; use one spelling"],
    ),
    "kind missing": (
        'kind = "resistor"\n',
        "",
        ['part R1: kind: it is missing; write kind = "resistor"'],
    ),
    "kind misspelled": (
        '"resistor"',
        '"resister"',
        [
            (
                "part R1: kind: no kind of part is called 'resister'; did you mean resistor "
                "or series_limiter?"
            )
        ],
    ),
    "pins missing": (
        'pins = { a = "X1:7", b = "X1:0" }\n',
        "",
        [
            'part R1: pins.a: it is on no node; write pins = { a = "X21:1", b = "X21:2" }',
            'part R1: pins.b: it is on no node; write pins = { a = "X21:1", b = "X21:2" }',
        ],
    ),
    "one pin missing": (
        '{ a = "X1:7", b = "X1:0" }',
        '{ a = "X1:7" }',
        ['part R1: pins.b: it is on no node; write pins = { a = "X21:1", b = "X21:2" }'],
    ),
    "pin misspelled": (
        'plus = "TX:+"',
        'pluss = "TX:+"',
        [
            "part TX: pins.pluss: a two_wire_transmitter has no such pin; did you mean plus?",
            (
                'part TX: pins.plus: it is on no node; write pins = { plus = "X21:1", minus '
                '= "X21:2" }'
            ),
        ],
    ),
    "pins as a list": (
        '{ a = "X1:7", b = "X1:0" }',
        '["X1:7", "X1:0"]',
        [
            (
                'part R1: pins: a table of texts belongs here; write pins = { a = "X21:1", '
                'b = "X21:2" }'
            )
        ],
    ),
    "pin on a bad node": (
        '{ a = "X1:7"',
        '{ a = "X1 7"',
        [
            (
                "part R1: pins.a: 'X1 7' is no name; use letters (one at least), digits, : "
                "+ - . _, beginning with a letter or digit, 40 at most"
            )
        ],
    ),
    "place misspelled": (
        'place = "field"\ntol',
        'place = "filed"\ntol',
        ["part TX: place: no place is called 'filed'; did you mean field?"],
    ),
    "part without a place": (
        'tolerance = "0.1 %"\nplace = "cabinet"',
        'tolerance = "0.1 %"',
        ['part R1: place: it is missing; write place = "cabinet"'],
    ),
    "value missing": (
        'resistance = "250 ohm"\n',
        "",
        ['part R1: resistance: a resistor needs it; write resistance = "250 ohm"'],
    ),
    "bare number": (
        'voltage = "24 V"',
        "voltage = 24",
        ['part G1: voltage: "24" has no unit; write "24 V"'],
    ),
    "number without unit": (
        'voltage = "24 V"',
        'voltage = "24"',
        ['part G1: voltage: "24" has no unit; write "24 V"'],
    ),
    "wrong unit": (
        '"250 ohm"',
        '"250 V"',
        [
            (
                "part R1: resistance: '250 V': 'V' is no unit of resistance; write for "
                "example 250 ohm or 4k7"
            )
        ],
    ),
    "no quantity": (
        '"250 ohm"',
        "\"__import__('os')\"",
        [
            (
                "part R1: resistance: '__import__('os')' is not a number with a unit; write "
                "for example 250 ohm or 4k7"
            )
        ],
    ),
    "value too small": (
        '"250 ohm"',
        '"0 ohm"',
        ["part R1: resistance: 0 ohm is too small; it is at least 0.001 ohm"],
    ),
    "value too large": (
        '"24 V"',
        '"24 kV"',
        ["part G1: voltage: 24000 V is too large; it is at most 1000 V"],
    ),
    "value not finite": (
        'voltage = "24 V"',
        "voltage = inf",
        ['part G1: voltage: a bare number stands here; write a quantity in quotes: "24 V"'],
    ),
    "value is a date": (
        'voltage = "24 V"',
        "voltage = 2024-01-01",
        ['part G1: voltage: a date stands here; write a quantity in quotes: "24 V"'],
    ),
    "parameter misspelled": (
        "voltage =",
        "voltge =",
        [
            "part G1: voltge: a supply has no such key; did you mean voltage?",
            'part G1: voltage: a supply needs it; write voltage = "24 V"',
        ],
    ),
    "parameter of the faults": (
        "tolerances =",
        'stuck = "1"\ntolerances =',
        ["part TX: stuck: only faults and actions move this; a sheet cannot set it"],
    ),
    "tolerance without unit": (
        '"0.1 %"',
        '"0.1"',
        ['part R1: tolerance of resistance: "0.1" has no unit; write "0.1 %" or "0.1 ohm"'],
    ),
    "tolerance of the wrong unit": (
        '"0.1 %"',
        '"0.1 V"',
        [
            (
                "part R1: tolerance of resistance: '0.1 V': 'V' is no unit of resistance; "
                "write for example 250 ohm or 4k7"
            )
        ],
    ),
    "tolerance negative": (
        '"0.1 %"',
        '"-1 %"',
        ["part R1: tolerance of resistance: '-1 %' is no limit of error; write \"0.1 %\""],
    ),
    "tolerance above all": (
        '"0.1 %"',
        '"150 %"',
        ["part R1: tolerance of resistance: '150 %' is no limit of error; write \"0.1 %\""],
    ),
    "tolerance of the whole value": (
        '"0.1 %"',
        '"100 %"',
        [
            (
                "part R1: tolerance of resistance: '100 %' may leave nothing of the value; "
                "write a smaller limit"
            )
        ],
    ),
    "tolerance above the value, in its unit": (
        '"0.1 %"',
        '"1 kohm"',
        [
            (
                "part R1: tolerance of resistance: '1 kohm' may leave nothing of the value; "
                "write a smaller limit"
            )
        ],
    ),
    "tolerance of nothing": (
        'to = "TX"',
        'to = "TX"\ntolerance = "1 %"',
        ["part T1: tolerance: a process_connection has no value that could have one"],
    ),
    "tolerance of an unknown value": (
        "lift_off =",
        "lift_of =",
        [("part TX: tolerances: a two_wire_transmitter has no 'lift_of'; did you mean lift_off?")],
    ),
    "reference to no part": (
        'to = "TX"',
        'to = "TY"',
        ["part T1: to: no part is called 'TY'; known: G1, R1, T1, TX, W1"],
    ),
    "reference missing": ('to = "TX"\n', "", ['part T1: to: it is missing; write to = "TX"']),
    "length without area": (
        'area = "0.75 mm2"\n',
        "",
        ['part W1: length: length is given without area; add area = "0.75 mm2"'],
    ),
    "length and resistance": (
        'area = "0.75 mm2"\n',
        'area = "0.75 mm2"\nresistance = "2 ohm"\n',
        [
            (
                "part W1: length: resistance and length are both given; keep the one that "
                "is known better"
            )
        ],
    ),
    "area in no table": (
        '"0.75 mm2"',
        '"0.8 mm2"',
        [
            (
                "part W1: area: 0.8 mm2 is not in the table of IEC 60228 used here; the "
                "nearest sizes are 0.75 mm2 and 1 mm2, or give the resistance itself"
            )
        ],
    ),
    "gauge in no table": (
        '"0.75 mm2"',
        '"AWG 2"',
        ["part W1: area: AWG 2 is outside AWG 4 to AWG 30; give the resistance itself"],
    ),
    "conductor unknown": (
        'area = "0.75 mm2"',
        'area = "0.75 mm2"\nconductor = "class 7"',
        [
            (
                "part W1: conductor: no conductor is called 'class 7'; did you mean class 5 "
                "or class 2 or class 1?"
            )
        ],
    ),
    "temperature out of reason": (
        'area = "0.75 mm2"',
        'area = "0.75 mm2"\ntemperature = "900 degC"',
        ["part W1: temperature: 900 degC is not between -60 degC and 200 degC"],
    ),
    "point on no node": (
        'name = "X1:7"\nplace',
        'name = "X1:8"\nplace',
        ["point X1:8: name: no pin is on node 'X1:8'; did you mean X1:7 or X1:1 or X1:0?"],
    ),
    "point at no place": (
        'name = "X1:7"\nplace = "cabinet"',
        'name = "X1:7"\nplace = "cabin"',
        ["point X1:7: place: no place is called 'cabin'; did you mean cabinet?"],
    ),
    "point on earth": (
        'name = "X1:7"\nplace',
        'name = "PE"\nplace',
        ["point PE: name: PE is within reach at every place; leave this point out"],
    ),
    "omit without a type": (
        "[loop]",
        'omit = ["R1"]\n[loop]',
        [
            (
                "omit: the sheet has no type whose parts this could change; add type = "
                '"two-wire-input" below [loop]'
            )
        ],
    ),
    "rename without a type": (
        "[shares]",
        '[rename]\nR1 = "R2"\n[shares]',
        [
            (
                "rename: the sheet has no type whose parts this could change; add type = "
                '"two-wire-input" below [loop]'
            )
        ],
    ),
    "two at once": (
        'voltage = "24 V"\nplace = "cabinet"',
        'voltage = 24\nplace = "cabnet"',
        [
            'part G1: voltage: "24" has no unit; write "24 V"',
            "part G1: place: no place is called 'cabnet'; did you mean cabinet?",
        ],
    ),
    "syntax": (
        'voltage = "24 V"',
        "voltage = 24 V",
        [
            (
                "line 28, column 14: this is not TOML: expected newline or end of document "
                "after a statement"
            )
        ],
    ),
    "key twice": (
        'voltage = "24 V"',
        'voltage = "24 V"\nvoltage = "23 V"',
        ["line 29, column 17: this is not TOML: cannot overwrite a value"],
    ),
}

# What is changed in TYPED, into what, what is added below, and the sentences that come back.
WRONG_TYPED = {
    "type unknown": (
        '"two-wire-input"',
        '"two-wire-inputs"',
        "",
        [
            (
                "loop: type: there is no loop type 'two-wire-inputs'; did you mean two-wire-input "
                "or four-wire-input or three-wire-input?"
            )
        ],
    ),
    "type with a path": (
        '"two-wire-input"',
        '"../models/two-wire-input"',
        "",
        [
            (
                "loop: type: there is no loop type '../models/two-wire-input'; did you mean "
                "two-wire-input or four-wire-input or three-wire-input?"
            )
        ],
    ),
    "type is a number": (
        '"two-wire-input"',
        "2",
        "",
        [f"loop: type: there is no loop type '2'; known: {', '.join(TYPES)}"]
        if len(TYPES) <= 12
        else ["loop: type: there is no loop type '2'"],
    ),
    "omit of no part": (
        "[loop]",
        'omit = ["FV3"]\n[loop]',
        "",
        ["omit: the loop type has no part 'FV3'; did you mean FV2 or FV1?"],
    ),
    "omit is text": (
        "[loop]",
        'omit = "FV1"\n[loop]',
        "",
        ['omit: a list of texts in quotes belongs here; write omit = ["FV1", "FV2"]'],
    ),
    "omitted and described": (
        "[loop]",
        'omit = ["FV1"]\n[loop]',
        '[[part]]\nname = "FV1"\nresistance = "1 Gohm"\n',
        ["part FV1: this part is omitted and described as well; do one of them"],
    ),
    "rename of nothing": (
        "",
        "",
        '[rename]\nTY = "LT-1"\n',
        ["rename: TY: the loop type has no such name"],
    ),
    "rename to no name": (
        "",
        "",
        '[rename]\nTX = "a/b"\n',
        [
            (
                "rename: TX: 'a/b' is no name; use letters (one at least), digits, : + - . "
                "_, beginning with a letter or digit, 40 at most"
            )
        ],
    ),
    "rename of two to one": (
        "",
        "",
        '[rename]\nU1 = "LI-1"\nU2 = "LI-1"\n',
        ["rename: U1 and U2 would both be called LI-1; give each a name of its own"],
    ),
    "rename onto another part": (
        "",
        "",
        '[rename]\nU1 = "U2"\n',
        ["rename: U1 and U2 would both be called U2; give each a name of its own"],
    ),
    "rename with a number": (
        "",
        "",
        "[rename]\nU1 = 2\n",
        ['rename: a table of texts belongs here; write rename = { TX = "LT-214" }'],
    ),
    "override of no part": (
        "",
        "",
        '[[part]]\nname = "W33+"\nlength = "3 m"\n',
        [
            (
                "part W33+: the loop type has no such part, and a new one needs a kind; did "
                "you mean W3+?"
            )
        ],
    ),
    "override of no pin": (
        "",
        "",
        '[[part]]\nname = "R1"\npins = { c = "X21:7" }\n',
        ["part R1: pins.c: a resistor has no such pin; known: a, b"],
    ),
    "override out of range": (
        "",
        "",
        '[[part]]\nname = "R1"\nresistance = "-250 ohm"\n',
        ["part R1: resistance: -250 ohm is too small; it is at least 0.001 ohm"],
    ),
}


@pytest.mark.parametrize(("old", "new", "sentences"), WRONG.values(), ids=WRONG)
def test_a_wrong_sheet_is_told_in_sentences(tmp_path, old, new, sentences):
    assert old in SMALL
    assert problems_of(write(tmp_path, SMALL.replace(old, new, 1))) == sentences


@pytest.mark.parametrize(("old", "new", "more", "sentences"), WRONG_TYPED.values(), ids=WRONG_TYPED)
def test_a_sheet_that_misuses_its_type_is_told_so(tmp_path, old, new, more, sentences):
    assert problems_of(write(tmp_path, TYPED.replace(old, new, 1) + more)) == sentences


NO_SHEETS = {
    "not UTF-8": (b'[loop]\ntag = "M\xfcller"', "line 2: it is not UTF-8 text; save it as UTF-8"),
    "larger than a megabyte": (
        b"#" * 1_000_001,
        "file: it is larger than 1 MB; a sheet is a few kilobytes",
    ),
    "end in a string": (
        b'[loop]\ntag = "LT',
        "end of document: this is not TOML: unterminated string",
    ),
    "nested without end": (
        b"a = " + b"[" * 100_000,
        "file: tables or lists are nested too deeply",
    ),
    "a spreadsheet": (
        b"PK\x03\x04\x14\x00",
        "line 1, column 3: this is not TOML: expected '=' after a key in a key/value pair",
    ),
}


@pytest.mark.parametrize(("content", "sentence"), NO_SHEETS.values(), ids=NO_SHEETS)
def test_a_file_that_is_no_sheet_is_told_in_one_line(tmp_path, content, sentence):
    assert problems_of(write(tmp_path, content)) == [sentence]


LEAVES = (
    0, -1, 24, 1.5, 10**400, float("inf"), float("nan"), True, "", " ", "x" * 500, "a\nb",
    "\x1b[2J", "24", "-1 V", "1e9 ohm", "../x", "__import__('os')", [], [1], ["x"], [[]], {},
    {"a": 1}, {"a": "b"}, [{"name": "x"}], date(2024, 1, 1),
)  # fmt: skip


def leaves(table: Any) -> Iterator[tuple[Any, Any]]:
    """Every container and key of a nested table."""
    for key, value in table.items() if isinstance(table, dict) else enumerate(table):
        yield table, key
        if isinstance(value, dict | list):
            yield from leaves(value)


@pytest.mark.parametrize("text", [SMALL, TYPED + '[rename]\nTX = "LT-2"\n'], ids=["own", "typed"])
def test_whatever_stands_for_a_value_is_taken_or_told(monkeypatch, text):
    """No value of any type brings anything but a loop or sentences of one line."""
    told = 0
    for number in range(sum(1 for _ in leaves(tomllib.loads(text)))):
        for bad in LEAVES:
            table = tomllib.loads(text)
            container, key = list(leaves(table))[number]
            container[key] = bad
            monkeypatch.setattr("diagnose.loops.sheet.read_table", reader(table))
            try:
                load_sheet("plant/sheets/sheet.toml")
            except SheetError as error:
                told += 1
                assert str(error).isprintable() or str(error).count("\n") < len(error.problems)
                assert all(text.isprintable() for problem in error.problems for text in problem)
    assert told > 100


def reader(table: dict[str, Any]) -> Callable[[Path], dict[str, Any]]:
    return lambda path: table if path.name == "sheet.toml" else read_table(path)


def test_an_integer_of_thousands_of_digits_is_told(tmp_path):
    sentences = problems_of(write(tmp_path, SMALL.replace("= 0.25", "= " + "1" * 5000)))
    assert len(sentences) == 1
    assert sentences[0].startswith("file: this is not TOML: ")


def test_a_flood_of_entries_and_of_problems_is_cut_short(tmp_path):
    flood = "".join(f'[[part]]\nname = "P{n}"\n' for n in range(500))
    assert "part: there are 505 of them; a sheet holds 400 at most" in (
        problems_of(write(tmp_path, SMALL + flood))
    )
    path = tmp_path / "keys.toml"
    path.write_text(SMALL + "".join(f"k{n} = 1\n" for n in range(10_000)))
    assert len(problems_of(path)) == 100


def test_an_empty_file_says_where_to_begin(tmp_path):
    assert problems_of(write(tmp_path, ""))[0] == (
        "loop: the sheet has no [loop] table; begin with one"
    )


def test_an_absent_file_and_a_folder_are_told_in_one_line(tmp_path):
    assert problems_of(tmp_path / "no.toml") == ["file: there is no such file"]
    assert problems_of(tmp_path) == ["file: this is a folder; name a file in it"]
    with pytest.raises(SheetError, match=r"a\\x00b: file: (there is no|it cannot be)"):
        load_sheet("a\0b")


def test_the_error_shows_file_key_and_sentence(tmp_path):
    path = write(tmp_path, SMALL.replace('"24 V"', '"24"'))
    with pytest.raises(SheetError) as caught:
        load_sheet(path)
    assert str(caught.value) == f'{path}: part G1: voltage: "24" has no unit; write "24 V"'
