"""What a case's rankings said, and how right they were once the cause was known."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from diagnose.review.case_text import Record, Sheet, Top

STILL = 0.01
"""A reading after which no probability moves by more told nothing."""

TIED = 1.01
"""Hypotheses whose probabilities differ by less than this factor share a rank: one group."""

Row = dict[str, Any]
"""Columns of ``rows.CaseRow``; those that lack are at their default."""

Happened = Mapping[str | None, Sequence[Record]]
"""The records of a case by their event, each in the order of their numbers."""


def ranked(happened: Happened, sheet: Sheet, mended: set[int]) -> Row:
    """The columns that rankings fill; ``mended`` are readings corrected or withdrawn."""
    rankings = happened.get("ranked", ())
    if not rankings:
        return {"judged": 0}
    proofs = happened.get("cause confirmed", ())
    distrusted = {number for record in rankings for number in record.distrusted or ()}
    row: Row = {
        "unmodelled": _unmodelled(rankings),
        "engine": _engine(rankings),
        **_worth(rankings, happened.get("reading", ()), sheet),
        "distrusted_right": len(distrusted & mended),
        "distrusted_wrong": len(distrusted - mended) if proofs else 0,
    }
    if top := rankings[-1].top:
        part, fault, _, chance = top[0]
        kind, place = whose(part, sheet)
        row |= {
            "suspect_part": part, "suspect_fault": fault, "suspect_kind": kind,
            "suspect_place": place, "suspect_chance": chance,
        }  # fmt: skip
    return row | _judged(rankings, proofs) if proofs else row


def _unmodelled(rankings: Sequence[Record]) -> float | None:
    """The last that was told."""
    for record in reversed(rankings):
        if record.unexplained is not None:
            return record.unexplained
    return None


def _engine(rankings: Sequence[Record]) -> str:
    for record in reversed(rankings):
        if record.versions is not None and record.versions.engine is not None:
            return record.versions.engine
    return ""


def whose(part: str | None, sheet: Sheet) -> tuple[str | None, str | None]:
    """Kind and place of a part of the sheet."""
    if part is not None:
        for item in sheet.parts:
            if item.name == part:
                return item.kind, item.place
    return None, None


def _judged(rankings: Sequence[Record], proofs: Sequence[Record]) -> Row:
    """The last ranking before the cause was confirmed, against the cause."""
    known = proofs[0].number or 0
    before = [record for record in rankings if (record.number or 0) < known]
    if not before:
        return {}
    cause = proofs[-1].part, proofs[-1].fault
    top = before[-1].top or ()
    chances = [item[3] for item in top]
    # a fault that was not named is none of those listed
    chance = sum(item[3] for item in top if item[:2] == cause) if cause[1] is not None else 0.0
    row: Row = {"chance": float(chance), "lead": _lead(chances)}
    if chance > 0:
        row["rank"] = 1 + sum(other > TIED * chance for other in chances)
    unmodelled = _unmodelled(before)
    if top and unmodelled is not None:
        row["brier"] = _quadratic(chances, unmodelled, chance)
    return row


def _lead(chances: Sequence[float]) -> float | None:
    """Probability of the group that leads: whichever of its members was the cause, it was right."""
    top = max(chances, default=None)
    if top is None:
        return None
    return min(math.fsum(each for each in chances if top <= TIED * each), 1.0)


def _quadratic(chances: Sequence[float], unmodelled: float, chance: float) -> float:
    """Half the quadratic score; what the list does not hold counts as one hypothesis."""
    rest = max(1 - sum(chances) - unmodelled, 0.0)
    squares = sum(each * each for each in chances) + unmodelled**2 + rest**2
    return (squares + 1 - 2 * (chance if chance > 0 else rest)) / 2


def _worth(rankings: Sequence[Record], readings: Sequence[Record], sheet: Sheet) -> Row:
    """Readings with a ranking before and after them, and those by which no probability moved.

    Of others it is not known whether anything moved.
    """
    names = {part.name.casefold(): part.name for part in sheet.parts if part.name}
    first, end = rankings[0].number or 0, rankings[-1].number or 0
    tried = [item for item in readings if first < (item.number or 0) < end]
    idle: list[Record] = []
    for earlier, later in pairwise(rankings):
        if _still(earlier.top or [], later.top or []):
            first, end = earlier.number or 0, later.number or 0
            idle += (item for item in tried if first < (item.number or 0) < end)
    return {
        "judged": len(tried),
        "told_nothing": len(idle),
        "tried": [read_where(item.text or "", names) for item in tried],
        "idle": [read_where(item.text or "", names) for item in idle],
    }


def read_where(text: str, names: Mapping[str, str]) -> str:
    """What a reading looked at, without its value: ``V X21:7 X20:0``, ``LIC-214``.

    ``names`` are those of the parts, by their small letters.  What was done to the loop is told as
    well: with it the same two points are another test.
    """
    head, with_, condition = " ".join(text.split()).partition(" with ")
    words = head.split(" ")
    words = words[1:] if words[0].casefold() == "shows" and words[1:] else words
    first, points = words[0].casefold(), words[1:3]
    if first not in _FUNCTIONS:
        return names.get(first, words[0]) + with_ + condition
    if first == "clamp" or (points[1:] and _VALUE.match(points[1])):
        points = points[:1]
    told = (names.get(word.casefold(), word.upper()) for word in points)
    return " ".join((_FUNCTIONS[first], *told)) + with_ + condition


_FUNCTIONS = {
    "v": "V", "vac": "VAC", "vlow": "Vlow", "ohm": "ohm", "ma": "mA", "clamp": "clamp",
}  # fmt: skip
_VALUE = re.compile(r"[-+.,0-9]*[0-9][.,0-9]*(?:[a-zA-Z%]{0,4})$|OL$", re.IGNORECASE)
"""A value as it is typed; the name of a terminal has a colon or more letters."""


def _still(earlier: Sequence[Top], later: Sequence[Top]) -> bool:
    """Whether no probability differs; mostly the first one does, so nothing is laid out before."""
    for part, fault, also, chance in later:
        before = 0.0
        for then in earlier:
            if then[0] == part and then[1] == fault and then[2] == also:
                before = then[3]
                break
        if abs(chance - before) >= STILL:
            return False
    return bool(later)
