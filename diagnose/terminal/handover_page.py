"""The hand-over note as a page of HTML, with the loop drawn below it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from diagnose.casework.case import Case
from diagnose.casework.note import Line, Section, Table, sections, title
from diagnose.circuit.figure import Figure
from diagnose.inference.ranking import Ranking
from diagnose.loops.loop import Loop
from diagnose.review.page.markup import Markup, el
from diagnose.terminal.drawing_page import drawing_part
from diagnose.terminal.html_page import cautions, page, table

_TAGS = {"item": "ul", "step": "ol"}


def handover_page(case: Case, ranking: Ranking | None, loop: Loop, drawn: Sequence[Figure]) -> str:
    """The note on a case, the cautions of its loop, and the loop drawn."""
    note = [_section(section) for section in sections(case, ranking)]
    head = title(case)
    return page(
        head,
        el("h1", head),
        el("div", note, class_="note"),
        cautions(loop),
        *drawing_part(drawn),
    )


def _section(section: Section) -> list[Markup]:
    heading = [el("h2", section.title)] if section.title else []
    return [*heading, *_body(section, "" if section.title else "facts")]


def _body(section: Section, style: str) -> Iterator[Markup]:
    for kind, some in groupby(section.body, key=_kind):
        if kind == "table":
            yield from (table(it.head, it.rows) for it in some if isinstance(it, Table))
            continue
        lines = [_line(it) for it in some if isinstance(it, Line)]
        if kind in _TAGS:
            yield el(_TAGS[kind], [el("li", line) for line in lines], class_=style or None)
        else:
            yield from (el("p", line) for line in lines)


def _kind(item: Line | Table) -> str:
    return "table" if isinstance(item, Table) else item.as_


def _line(line: Line) -> list[object]:
    return [el("strong", line.strong) if line.strong else None, line.text]
