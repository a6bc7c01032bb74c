"""A sheet that is longer than what is remembered is read all the same, and not remembered.

Sources: none outside; the same case with and without a long word in its sheet.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.review import case_text
from diagnose.review.case_text import LONGEST, take_apart

CASES = Path(__file__).parents[2] / "cases" / "larkmere" / "cases"


def test_a_monstrous_sheet_is_read_and_takes_no_room() -> None:
    plain = sorted(CASES.glob("LT-214*.jsonl"))[0].read_bytes()
    mark = b'"sheet":{' if b'"sheet":{' in plain else b'"sheet": {'
    assert plain.count(mark, 0, plain.index(b"\n")) == 1
    long = plain.replace(mark, mark + b'"remark": "' + b"x" * LONGEST + b'", ', 1)
    known = take_apart(plain)
    before = case_text._tail.cache_info().currsize
    found = take_apart(long)
    assert case_text._tail.cache_info().currsize == before
    assert found.opening is not None and found.records == known.records
    assert found.opening == known.opening
    assert not found.damaged
