"""Section: the engine's record against the causes that were confirmed afterwards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.review.page.grid import Cell, Tracer, between, figure, percent, shares, table
from diagnose.review.page.markup import Markup, el, pct
from diagnose.review.page.reliability import reliability
from diagnose.review.rows import CaseRow
from diagnose.review.tables import EngineRecord, ReliabilityClass, Review

TITLE = "The engine’s record"

ALL = "all"


def what_was_said(review: Review, rows: Sequence[CaseRow], tracer: Tracer) -> Iterator[object]:
    """The reliability diagram, then the score by loop type and version."""
    yield el("p", "The last ranking before the cause was confirmed, against that cause. Members of "
                  "one ambiguity group share a place. The Brier score is 0 where the cause had all "
                  "the probability and 1 where something else had. Hunts that confirmed nothing "
                  "cannot judge a ranking and are left out.")  # fmt: skip
    whole = [item for item in review.records if item.level == ALL]
    yield el("div", *(reliability(item.classes) for item in whole), *map(_told, whole),
             class_="figures")  # fmt: skip
    for level in dict.fromkeys(item.level for item in review.records):
        some = [item for item in review.records if item.level == level]
        by = "all hunts" if level == ALL else f"by {level}"
        yield _table(f"Rankings against confirmed causes, {by}", some, tracer)
    for item in whole:
        yield _classes(item, rows, tracer)


def _told(item: EngineRecord) -> Markup:
    lines = []
    for name, share in (("The cause led", item.first), ("It was among the first three",
                        item.first_three)):  # fmt: skip
        if share.value is not None:
            lines.append(f"{name} in {share.count} of {share.of} hunts ({pct(share.value)}, "
                         f"{pct(share.low or 0)} to {pct(share.high or 0)}).")  # fmt: skip
    if item.distrust.of:
        lines.append(f"Of {item.distrust.of} readings that it held worthless, "
                     f"{item.distrust.count} were corrected or withdrawn later.")  # fmt: skip
    if item.unmodelled.of:
        lines.append(f"{item.unmodelled.count} of {item.unmodelled.of} hunts ended with none of "
                     "the modelled faults in the lead.")  # fmt: skip
    return el("div", el("h3", "In words"), el("ul", *(el("li", text) for text in lines)))


def _table(caption: str, some: list[EngineRecord], tracer: Tracer) -> Markup:
    heads = ("which", "hunts", "cause first", "bounds", "in the first three", "its bounds",
             "Brier score", "bounds of it", "none modelled", "distrusted rightly")  # fmt: skip
    return table(caption, heads, [
        (Cell(item.name), tracer.count(item.hunts, item.cases, "hunts"), percent(item.first.value),
         shares(item.first.low, item.first.high), percent(item.first_three.value),
         shares(item.first_three.low, item.first_three.high), figure(item.brier.value, 3),
         between(item.brier.low, item.brier.high, 3), percent(item.unmodelled.value),
         percent(item.distrust.value))
        for item in some
    ])  # fmt: skip


def _classes(item: EngineRecord, rows: Sequence[CaseRow], tracer: Tracer) -> Markup:
    return table("The numbers of the diagram", ("said", "hunts", "said on average", "right",
                 "right, share", "bounds"), [
        (Cell(f"{pct(c.low)} to {pct(c.high)}", c.low),
         tracer.count(c.hunts, said_within(c, rows), "hunts"), percent(c.said),
         figure(c.right.count, 0), percent(c.right.value), shares(c.right.low, c.right.high))
        for c in item.classes
    ])  # fmt: skip


def said_within(wanted: ReliabilityClass, rows: Sequence[CaseRow]) -> list[str]:
    """The cases whose leading group was given a probability of this class."""
    return [
        row.name
        for row in rows
        if row.lead is not None
        and row.chance is not None
        and (wanted.low <= row.lead < wanted.high or row.lead == wanted.high == 1.0)
    ]
