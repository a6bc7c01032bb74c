"""The schema of a record of a case agrees with the reader, on shipped cases and broken records."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from diagnose.casework.case_schema import FIELDS
from diagnose.casework.checks import CHECKS, CaseError
from diagnose.casework.events import Event, stamped
from diagnose.casework.record import types_of
from schemas import faults, validator

CASES = sorted((Path(__file__).parents[2] / "cases" / "larkmere" / "cases").glob("*.jsonl"))
FIRST = json.loads(CASES[0].read_text().splitlines()[0])
NOTE = {
    "schema": 1, "number": 4, "event": "reading", "at": "2024-05-21T10:16:00+02:00",
    "text": "LIC-214 8.5 %", "place": "control room", "minutes": 0.5, "advised": False,
}  # fmt: skip


def test_the_same_types_are_read_and_described():
    assert FIELDS.keys() == CHECKS.keys()


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_shipped_cases_are_valid_line_by_line(path):
    records = [json.loads(line) for line in path.read_text().splitlines()]
    assert [faults("case", record) for record in records] == [[]] * len(records)


@pytest.mark.parametrize("word", sorted(Event.registry))
def test_every_event_is_described_with_its_fields(word):
    known = types_of(word)
    assert {item.name for item in fields(Event.registry[word])} == known.keys()
    assert faults("case", {**NOTE, "event": word, "nonsense": 1})


def refused(record: Any) -> str:
    with pytest.raises(CaseError) as caught:
        stamped(record)
    return str(caught.value)


WRONG: dict[str, tuple[dict[str, Any], str]] = {
    "an unknown event": ({"event": "readings"}, "there is no event 'readings'; did you mean"),
    "no event": ({"event": None}, "there is no event 'None'"),
    "a newer schema": ({"schema": 2}, "it was written by a newer diagnose"),
    "a schema that is none": ({"schema": "1"}, "schema: text stands where a whole number belongs"),
    "a number below one": ({"number": 0}, "number: it is a whole number from 1 on"),
    "a number as text": ({"number": "4"}, "number: text stands where a whole number belongs"),
    "a time without offset": ({"at": "2024-05-21T10:16:00"}, "at: '2024-05-21T10:16:00' does not"),
    "no time": ({"at": "yesterday"}, "at: 'yesterday' is no time"),
    "a field that is none": ({"txt": "x"}, "the event 'reading' has no field 'txt'; did you mean"),
    "text as a number": ({"text": 8.5}, "text: a bare number stands where text belongs"),
    "a long text": ({"text": "x" * 4001}, "text: 4001 characters; a record takes 4000 at most"),
    "control characters": ({"text": "a\x1bb"}, "text: the text holds control characters"),
    "minutes as text": ({"minutes": "5"}, "minutes: text stands where a number belongs"),
    "a flag as text": ({"advised": "no"}, "advised: text stands where true or false belongs"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_broken_record_is_refused_by_both(name):
    change, sentence = WRONG[name]
    assert faults("case", NOTE) == []
    assert refused({**NOTE, **change}).startswith(sentence)
    assert faults("case", {**NOTE, **change})


def test_a_record_without_a_needed_field_is_refused_by_both():
    short = {key: value for key, value in NOTE.items() if key != "text"}
    assert refused(short) == "the event 'reading' lacks its field 'text'"
    assert faults("case", short)


def test_a_damaged_copy_of_a_sheet_is_refused():
    """What `check` says of it: tests/terminal/test_check.py."""
    part = {**FIRST["sheet"]["parts"][0], "kind": "resitsor"}
    sheet = {**FIRST["sheet"], "parts": [part]}
    assert faults("case", {**FIRST, "sheet": sheet})
    assert faults("case", {**FIRST, "sheet": {}})
    assert validator("case").is_valid(FIRST)
