"""Events and records are one thing written two ways; what is no record is told in a sentence.

Common practice, no source: a log is worth what can be read back from it.
"""

import json
import math
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from casework.told import OPENED, START, any_event
from diagnose.casework import events as e
from diagnose.casework.checks import CaseError

PLAIN = e.to_record(e.Noted("tidy"), 7, START)


def through_json(event: e.Event, number: int = 3) -> e.Stamped:
    return e.stamped(json.loads(json.dumps(e.to_record(event, number, START))))


@given(any_event, st.integers(1, 10**6))
def test_a_record_gives_back_its_event(event: e.Event, number: int) -> None:
    clean = e.from_record(e.to_record(event, number, START))
    assert through_json(clean, number) == e.Stamped(number, START, clean)


def test_ordinary_text_is_kept_as_it_is() -> None:
    text = 'R1 = 250 Ω, 20 °C; "as found" -> 310\nsecond line\t(日本)'
    assert through_json(e.Noted(text)).event == e.Noted(text)


def test_control_characters_are_written_out() -> None:
    assert through_json(e.Noted("red\x1b[31m\x00 \ud800")).event == e.Noted(
        "red\\x1b[31m\\x00 \\ud800"
    )


def test_a_limit_without_end_is_no_limit() -> None:
    proof = through_json(e.ProofTaken("ohm a b OL", 6e7, math.inf, True)).event
    assert proof == e.ProofTaken("ohm a b OL", 6e7, None, True)


def test_the_head_of_a_record() -> None:
    record = e.to_record(e.ReadingCorrected(4, "V a b 3"), 9, START)
    assert record == {
        "schema": 1,
        "number": 9,
        "event": "reading corrected",
        "at": "2024-03-12T02:40:00+01:00",
        "reading": 4,
        "text": "V a b 3",
    }


@pytest.mark.parametrize("zone", [UTC, timezone(timedelta(hours=-3, minutes=-30))])
def test_the_offset_of_the_place_is_kept(zone: timezone) -> None:
    at = datetime(2024, 1, 1, 0, 5, tzinfo=zone)
    back = e.stamped(e.to_record(e.Noted("x"), 1, at)).at
    assert (back, back.utcoffset()) == (at, at.utcoffset())


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"event": "notted"}, "there is no event 'notted'; did you mean noted?"),
        ({"event": None}, "there is no event 'None'"),
        ({"event": ["noted"]}, "there is no event"),
        ({"colour": "red"}, "the event 'noted' has no field 'colour'"),
        ({"text": None}, "text: nothing stands where text belongs"),
        ({"text": 3}, "text: a bare number stands where text belongs"),
        ({"text": "a\x1b[2J"}, "text: the text holds control characters"),
        ({"text": "x" * 5000}, "5000 characters"),
        ({"number": 0}, "number: it is a whole number from 1 on"),
        ({"number": True}, "number: true or false stands where a whole number belongs"),
        ({"number": 1.0}, "number: a bare number stands where a whole number belongs"),
        ({"at": "yesterday"}, "at: 'yesterday' is no time like 2024-05-02T03:15:00+02:00"),
        ({"at": "2024-05-02T03:15:00"}, "does not tell its offset from UTC"),
        ({"at": 5}, "at: a bare number stands where text belongs"),
        ({"schema": 2}, "written by a newer diagnose (schema 2"),
        ({"schema": "1"}, "schema: text stands where a whole number belongs"),
    ],
)
def test_a_wrong_record_is_told_in_one_sentence(change: dict, sentence: str) -> None:
    with pytest.raises(CaseError) as caught:
        e.from_record({**PLAIN, **change})
    assert sentence in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("record", [None, 3, "text", [], [PLAIN], True])
def test_what_is_no_table_is_no_record(record: object) -> None:
    with pytest.raises(CaseError, match="where a table belongs"):
        e.stamped(record)


def test_a_missing_field_is_named() -> None:
    record = {key: value for key, value in PLAIN.items() if key != "text"}
    with pytest.raises(CaseError, match="the event 'noted' lacks its field 'text'"):
        e.from_record(record)


@pytest.mark.parametrize(
    "top",
    [5, [5], [["a", "b"]], [["a", "b", [["c"]], 0.5]], [["a", "b", [], "x"]], [[1, "b", [], 0.5]]],
)
def test_a_wrong_ranking_is_no_record(top: object) -> None:
    record = e.to_record(e.Ranked((), 0.1, {}), 3, START)
    with pytest.raises(CaseError, match="top: "):
        e.from_record({**record, "top": top})


@pytest.mark.parametrize("distrusted", [3, ["3"], [0], [2.5]])
def test_a_reading_is_distrusted_by_its_number(distrusted: object) -> None:
    record = e.to_record(e.Ranked((), 0.1, {}, (3,)), 4, START)
    assert e.from_record(record).distrusted == (3,)
    with pytest.raises(CaseError, match="distrusted: "):
        e.from_record({**record, "distrusted": distrusted})


def test_what_cannot_be_written_is_refused_before_it_is() -> None:
    with pytest.raises(CaseError, match="5000 characters"):
        e.to_record(e.Noted("x" * 5000), 1, START)
    with pytest.raises(CaseError, match="minutes: nothing stands where a number belongs"):
        e.to_record(e.AdviceGiven("V a b", 0.1, math.nan), 1, START)


def test_later_fields_of_the_first_event_may_lack() -> None:
    """A case of an earlier version, whose first line knew neither meter nor rates."""
    record = e.to_record(OPENED, 1, START)
    old = {key: value for key, value in record.items() if key not in ("meter", "rates")}
    assert e.from_record(old) == OPENED
