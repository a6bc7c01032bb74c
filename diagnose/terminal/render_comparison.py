"""Two periods of a review side by side, for a screen."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.loops.names import shown
from diagnose.review.comparison import Change, Comparison
from diagnose.review.statistics import share_interval
from diagnose.review.tables import Review, Work
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_review import LONG, middle_of, number_of, share_of
from diagnose.terminal.table import grid
from diagnose.terminal.wording import paragraph

LEVELS = ("loop type", "cause", "loop")
"""Levels of which a table is shown; of all loops stands above the loop types."""


def comparison_lines(now: Review, other: Comparison, look: Look) -> Iterator[str]:
    """What changed: the hunts, and how often things failed, with how likely that is by chance."""
    filters = other.before.filters
    title = f"What changed against {filters.since} to {filters.until}?"
    yield ""
    yield from paragraph(look.strong(title), look)
    rows = [
        (what, one, before)
        for (what, one), (_, before) in zip(_hunts(now), _hunts(other.before), strict=True)
    ]
    yield from grid(("hunts", "now", "before"), rows, look, frozenset({1, 2}))
    for level in LEVELS:
        found = [one for one in other.changes if one.level == level]
        if level == "loop type":
            found = [*(one for one in other.changes if one.level == "all"), *found]
        if found:
            yield ""
            yield from _table(found, level, look)
    sure = f"{100 * now.settings.confidence:.0f} %"
    yield from paragraph(
        f"Confirmed failures; ratio: their rate now over that before, with its {sure} interval; "
        "chance: that of such a change where nothing changed, raised for how many lines were "
        "looked at. Above 0.05 a change is no more than may come by itself. Cases whose cause is "
        "not confirmed count in no rate: see first whether their shares above are alike.",
        look,
    )
    for note in other.notes:
        yield from paragraph(note, look, "note  ")


def _table(found: list[Change], name: str, look: Look) -> Iterator[str]:
    rows = [
        ("all loops" if one.level == "all" else shown(one.name).replace("_", " "),
         str(one.failures), str(one.before), number_of(one.ratio.value),
         _interval(one),
         f"{one.corrected:.2g}")
        for one in found[:LONG]
    ]  # fmt: skip
    head = (name, "now", "before", "ratio", "interval", "chance")
    yield from grid(head, rows, look, frozenset(range(1, len(head))))
    if len(found) > LONG:
        yield look.faint(f"and {len(found) - LONG} more; --json lists them")


def _interval(one: Change) -> str:
    low, high = one.ratio.low, one.ratio.high
    return f"{number_of(low)}-{number_of(high)}" if high else f"{number_of(low)} or more"


def _hunts(found: Review) -> list[tuple[str, str]]:
    """What the hunts of a period came to; a share has its exact interval."""
    ends = found.endings
    read = ends.cases - ends.unreadable
    told = [("cases", f"{ends.cases}")]
    for what, many in (
        ("cause confirmed", ends.confirmed), ("no fault found", ends.no_fault_found),
        ("cause not found", ends.not_found),
    ):  # fmt: skip
        told.append((what, share_of(share_interval(many, read, found.settings.confidence))))
    work = next((item for item in found.work if item.group == "all"), None)
    return [*told, *_work(work)]


def _work(work: Work | None) -> list[tuple[str, str]]:
    names = ("minutes to cause", "readings to cause", "readings that told nothing", "own choice")
    if work is None:
        return [(name, "-") for name in names]
    said = (
        middle_of(work.to_cause), middle_of(work.readings, 1), share_of(work.told_nothing),
        share_of(work.unadvised),
    )  # fmt: skip
    return list(zip(names, said, strict=True))
