"""Section: what the hunts cost, and what of it was for nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from diagnose.review.page.grid import Cell, Tracer, between, figure, percent, shares, table
from diagnose.review.page.intervals import Range, intervals
from diagnose.review.page.markup import Markup, el, pct
from diagnose.review.rows import CASE, CaseRow
from diagnose.review.tables import Review, Work

TITLE = "What the hunts took"

ALL = "all"

MOST = 15
"""Readings that are named."""


def what_it_cost(review: Review, rows: Sequence[CaseRow], tracer: Tracer) -> Iterator[object]:
    """Minutes and readings to the cause, then what was left undone."""
    yield el("p", "From the opening of a case to the confirmed cause: the median, and the middle "
                  "half of the hunts that confirmed one; how long the others would have taken is "
                  "not known. A reading “told nothing” where no explanation gained or lost one per "
                  "cent by it. Beside them, where it was asked for: what the advice needs for the "
                  "same faults when simulated; its minutes are of walking and measuring, without "
                  "waiting, repair and proof.")  # fmt: skip
    groups = sorted(review.work, key=lambda item: (item.group == ALL, -(item.to_cause.value or 0)))
    known = [item for item in groups if item.to_cause.value is not None]
    yield el("div", *_pictures(known), class_="figures")
    yield _table(groups, rows, tracer)
    yield table(
        "Readings that told nothing, time and again",
        ("loop", "reading", "told nothing", "of", "share", "in hunts"),
        [(Cell(item.tag), Cell(item.reading), figure(item.told_nothing.count, 0),
          figure(item.told_nothing.of, 0), percent(item.told_nothing.value),
          tracer.count(item.hunts, item.cases, "hunts"))
         for item in review.idle[:MOST]],
    )  # fmt: skip
    yield table(
        "Cautions nobody answered, and items never put back",
        ("what", "which", "times"),
        [(Cell(item.what), Cell(item.key), tracer.count(item.count, item.cases))
         for item in review.neglects],
    )  # fmt: skip


def _pictures(known: Sequence[Work]) -> Iterator[Markup]:
    if not known:
        return
    ring = "; ring: the advice alone" if _advised(known) else ""
    yield intervals(
        "How long does it take until the cause is confirmed?", _longest(known),
        "minutes from opening the case",
        [Range(item.group, item.to_cause.value, item.to_cause.low or 0.0,
               item.to_cause.high or 0.0, f"{item.to_cause.value or 0:.0f} min ({item.confirmed})")
         for item in known],  # no ring: the minutes of the advice are of measuring alone
    )  # fmt: skip
    yield intervals(
        "How many readings does it take?", _wasted(known),
        "readings to the confirmed cause" + ring,
        [Range(item.group, item.readings.value, item.readings.low or 0.0,
               item.readings.high or 0.0, f"{item.readings.value or 0:.1f} ({item.confirmed})",
               item.readings_advised) for item in known],
    )  # fmt: skip


def _longest(known: Sequence[Work]) -> str:
    top = max(known, key=lambda item: item.to_cause.value or 0.0)
    return (f"Longest: {top.group}, {top.to_cause.value or 0:.0f} minutes in the middle. The lines "
            "span the middle half of the hunts, whose number is in brackets.")  # fmt: skip


def _wasted(known: Sequence[Work]) -> str:
    total = next((item for item in known if item.group == ALL), None)
    share = total.told_nothing.value if total else None
    if total is None or share is None:
        return "The lines span the middle half of the hunts."
    nothing = total.told_nothing
    return (f"Of {nothing.of:,} readings between two rankings, {nothing.count:,} ({pct(share)}) "
            "told nothing. The lines span the middle half of the hunts, whose number is in "
            "brackets.")  # fmt: skip


def _of(group: str, rows: Sequence[CaseRow], confirmed: bool = False) -> list[str]:
    """The hunts of a group, or those of them that confirmed a cause."""
    return [
        row.name
        for row in rows
        if group in (ALL, row.loop_type)
        and row.source == CASE
        and row.status != "unreadable"
        and (row.fault is not None or not confirmed)
    ]


def _table(groups: Sequence[Work], rows: Sequence[CaseRow], tracer: Tracer) -> Markup:
    columns: dict[str, Callable[[Work], Cell]] = {
        "loop type": lambda w: Cell(w.group),
        "cases": lambda w: tracer.count(w.cases, _of(w.group, rows)),
        "cause confirmed": lambda w: tracer.count(w.confirmed, _of(w.group, rows, True)),
        "minutes to the cause": lambda w: figure(w.to_cause.value, 0),
        "middle half": lambda w: between(w.to_cause.low, w.to_cause.high, 0),
        "advice alone, minutes of measuring": lambda w: figure(w.minutes_advised, 0),
        "readings": lambda w: figure(w.readings.value, 1),
        "middle half of them": lambda w: between(w.readings.low, w.readings.high, 1),
        "advice alone, readings": lambda w: figure(w.readings_advised, 1),
        "told nothing": lambda w: percent(w.told_nothing.value),
        "bounds": lambda w: shares(w.told_nothing.low, w.told_nothing.high),
        "not asked for": lambda w: percent(w.unadvised.value),
        "corrected, withdrawn": lambda w: percent(w.mended.value),
        "interruptions a case": lambda w: figure(w.interruptions, 1),
    }
    if not _advised(groups):
        columns = {head: cell for head, cell in columns.items() if "advice alone" not in head}
    lines = [[cell(item) for cell in columns.values()] for item in groups]
    return table("What hunts took, by loop type", list(columns), lines)


def _advised(groups: Sequence[Work]) -> bool:
    """Whether it is known what the advice alone would have needed."""
    return any(item.readings_advised is not None for item in groups)
