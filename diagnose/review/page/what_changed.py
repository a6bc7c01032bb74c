"""Section: the period of the review beside another, where one was asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.review.comparison import Change, Comparison, Told, hunts
from diagnose.review.page.grid import (
    NONE,
    Cell,
    between,
    chance,
    figure,
    percent,
    shares,
    spoken,
    table,
)
from diagnose.review.page.markup import Markup, el, spaced
from diagnose.review.tables import Review, Share

TITLE = "What changed"

LEVELS = ("all", "loop type", "cause", "loop")


def what_changed(now: Review, other: Comparison) -> Iterator[object]:
    """The hunts of both periods, then rates by level: the least likely change first."""
    days = other.before.filters
    sure = spaced(now.settings.sure)
    yield el("p", f"Beside {days.since:%d %B %Y} to {days.until:%d %B %Y}. Rates are of confirmed "
                  f"failures; ratio is the rate now over that before, with its {sure} "
                  "interval, each line by itself; chance is that of such a change where nothing "
                  "changed, raised for how many lines were looked at (of many intervals some leave "
                  "1 out by chance alone): above 0.05 a change is no more than may come by itself. "
                  "Cases whose cause is not confirmed count in no rate: see first whether their "
                  "shares are alike.")  # fmt: skip
    yield _hunts(now, other.before)
    for level in LEVELS:
        some = [one for one in other.changes if one.level == level]
        if some:
            yield _rates("all loops" if level == "all" else level, some)
    if other.notes:
        yield el("ul", *(el("li", note) for note in other.notes))


def _hunts(now: Review, before: Review) -> Markup:
    rows = [
        (Cell(what), *_told(one, digits), *_told(two, digits))
        for (what, one, digits), (_, two, _) in zip(hunts(now), hunts(before), strict=True)
    ]
    heads = ("hunts", "now", "bounds", "before", "bounds of that")
    return table("How the hunts of both periods ended; medians have quartiles", heads, rows)


def _told(told: Told, digits: int) -> tuple[Cell, Cell]:
    """A count, a share with its interval, or a median with its quartiles."""
    if told is None or isinstance(told, int):
        return figure(told, 0), Cell(NONE, None, True)
    if isinstance(told, Share):
        return percent(told.value), shares(told.low, told.high)
    return figure(told.value, digits), between(told.low, told.high, digits)


def _rates(name: str, some: Sequence[Change]) -> Markup:
    return table(
        f"Failures now and before: {name}",
        (name, "now", "years now", "before", "years before", "ratio", "bounds", "chance"),
        [(Cell("all loops" if one.level == "all" else spoken(one.name)), figure(one.failures, 0),
          figure(one.years, 1), figure(one.before, 0), figure(one.years_before, 1),
          figure(one.ratio.value, 2), _bounds(one), chance(one.corrected, 4)) for one in some],
    )  # fmt: skip


def _bounds(one: Change) -> Cell:
    """The interval of a ratio; where nothing failed before it has no upper end."""
    low, high = one.ratio.low or 0.0, one.ratio.high
    return Cell(f"{low:,.2f} or more" if high is None else f"{low:,.2f} to {high:,.2f}", low, True)
