"""Two periods of a review side by side, for a screen."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.loops.names import shown
from diagnose.review.comparison import Change, Comparison, Told, hunts
from diagnose.review.figures import middle_of, number_of, share_of, years_of
from diagnose.review.tables import Review, Share
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_review import LONG
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
        (what, _said(one, digits), _said(before, digits))
        for (what, one, digits), (_, before, _) in zip(hunts(now), hunts(other.before), strict=True)
    ]
    yield from grid(("hunts", "now", "before"), rows, look, frozenset({1, 2}))
    for level in LEVELS:
        found = [one for one in other.changes if one.level == level]
        if level == "loop type":
            found = [*(one for one in other.changes if one.level == "all"), *found]
        if found:
            yield ""
            yield from _table(found, level, look)
    whole = next((one for one in other.changes if one.level == "all"), None)
    service = (
        f" All loops were in service for {years_of(whole.years)} years now and "
        f"{years_of(whole.years_before)} before."
        if whole
        else ""
    )
    yield from paragraph(
        "Confirmed failures; ratio: their rate now over that before, with its "
        f"{now.settings.sure} interval, each line by itself; chance: that of such a change where "
        "nothing changed, raised for how many lines were looked at: of many intervals some leave 1 "
        "out by chance alone. Above 0.05 a change is no more than may come by itself. Cases whose "
        "cause is not confirmed count in no rate: see first whether their shares above are alike."
        + service,
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


def _said(told: Told, digits: int) -> str:
    """A count, a share with its exact interval, or a median with its quartiles."""
    if told is None or isinstance(told, int):
        return "-" if told is None else f"{told}"
    return share_of(told) if isinstance(told, Share) else middle_of(told, digits)
