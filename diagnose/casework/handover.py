"""The note for the next shift: one page of Markdown."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import count

from diagnose.casework.case import Case
from diagnose.casework.note import Line, Section, Table, sections, title
from diagnose.inference.ranking import Ranking

_SIGNS = re.compile(r"([\\`*_\[\]<>|~&$#])")
_LEAD = re.compile(r"^(\d*)([-+=.)])(?=[\s=-]|$)")
"""What makes a list, a line or a heading of a text that begins with it."""


def escaped(text: str) -> str:
    """Text of people as Markdown shows it: one line, no sign that Markdown or HTML reads."""
    return _LEAD.sub(r"\1\\\2", _SIGNS.sub(r"\\\1", " ".join(text.split())))


def handover(
    case: Case, ranking: Ranking | None = None, sees: bool | None = None, calm: bool = False
) -> str:
    """The note on a case; ``ranking`` is the one of its present evidence, if it is at hand.

    ``sees`` is whether the proof would show the fault that was put right; None is not known.
    ``calm``: only steps that do not disturb the loop were weighed.
    """
    blocks = ("\n".join(_lines(section)) for section in sections(case, ranking, sees, calm))
    return "\n\n".join((f"# {escaped(title(case))}", *blocks)) + "\n"


def _lines(section: Section) -> Iterator[str]:
    if section.title:
        yield f"## {escaped(section.title)}"
        yield ""
    numbers, stepping = count(1), False
    for item in section.body:
        if isinstance(item, Table):
            yield from _table(item)
            continue
        if stepping and item.as_ != "step":
            yield ""
        stepping = item.as_ == "step"
        yield f"{_sign(item, numbers)}{_text(item)}"


def _sign(line: Line, numbers: Iterator[int]) -> str:
    if line.as_ == "step":
        return f"{next(numbers)}. "
    return "- " if line.as_ == "item" else ""


def _text(line: Line) -> str:
    rest = escaped(line.text)
    if not line.strong:
        return rest
    return f"**{escaped(line.strong)}**{' ' * line.text.startswith(' ')}{rest}"


def _table(table: Table) -> Iterator[str]:
    head, *rows = (f"| {' | '.join(map(escaped, row))} |" for row in (table.head, *table.rows))
    yield from (head, f"| {' | '.join(['---'] * len(table.head))} |", *rows)
