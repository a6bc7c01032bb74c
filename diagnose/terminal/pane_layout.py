"""Panes laid out on a screen of any size: a pure function to rows of styled text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.terminal.outcome import Look
from diagnose.terminal.panes import Line, Pane, lines

TWO_COLUMNS = 110
"""Columns of a screen from which on panes stand side by side."""

BETWEEN = " | "

Row = tuple[Line, ...]
"""Pieces of one row from left to right; together as wide as the screen."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A pane with the rows that it got: its title, then its lines from ``first`` on."""

    pane: Pane
    drawn: tuple[Line, ...]
    rows: int
    first: int

    @property
    def clipped(self) -> bool:
        """Whether it has more lines than are seen."""
        return len(self.drawn) > self.rows


@dataclass(frozen=True, slots=True)
class Laid:
    """A screen: its rows, and where each pane came to lie."""

    rows: tuple[Row, ...]
    placed: tuple[Placed, ...]

    def moving(self) -> Placed | None:
        """The pane that the scrolling keys move: the first one that is not wholly seen."""
        return next((item for item in self.placed if item.clipped), None)


def laid_out(
    panes: Sequence[Pane],
    width: int,
    height: int,
    large: str = "",
    scrolled: Mapping[str, int] | None = None,
) -> Laid:
    """The screen of a size.

    ``large`` names a pane that has all of it; ``scrolled`` gives the first line that is shown of
    panes that were moved by hand.
    """
    moved = scrolled or {}
    whole = [pane for pane in panes if pane.name == large]
    panes = whole or panes
    left = [pane for pane in panes if pane.left]
    right = [pane for pane in panes if not pane.left]
    if whole or width < TWO_COLUMNS or not left or not right:
        found = _column(panes, width, height, moved)
        return Laid(tuple(_filled(found, width, height)), found)
    half = (width - len(BETWEEN)) // 2
    rest = width - len(BETWEEN) - half
    one, two = _column(left, half, height, moved), _column(right, rest, height, moved)
    bar = Line(BETWEEN, "faint")
    pairs = zip(_filled(one, half, height), _filled(two, rest, height), strict=True)
    return Laid(tuple((*a, bar, *b) for a, b in pairs), (*two, *one))


def _column(
    panes: Sequence[Pane], width: int, height: int, moved: Mapping[str, int]
) -> tuple[Placed, ...]:
    """Panes one below the other, the first served first; titles stay while they fit.

    Where what must be read whole has no room, panes without a line go, the last one first.
    """
    look = Look(width, True)
    drawn = [tuple(lines(pane.draw(look), width)) for pane in panes[: max(height, 1)]]
    rows = _shares(panes, drawn, height)
    while len(rows) > 1 and not rows[-1] and _cut(panes, drawn, rows):
        drawn.pop()
        rows = _shares(panes, drawn, height)
    return tuple(
        Placed(pane, text, count, _first(pane, text, count, moved))
        for pane, text, count in zip(panes, drawn, rows, strict=False)
    )


def _shares(panes: Sequence[Pane], drawn: Sequence[Sequence[Line]], height: int) -> list[int]:
    """Rows for each pane that is drawn, beside its title."""
    room = max(0, height - len(drawn))
    rows = [min(len(text), pane.least) for pane, text in zip(panes, drawn, strict=False)]
    while sum(rows) > room:
        rows[max(n for n, count in enumerate(rows) if count)] -= 1
    for number, text in enumerate(drawn):
        rows[number] += min(len(text) - rows[number], room - sum(rows))
    return rows


def _cut(panes: Sequence[Pane], drawn: Sequence[Sequence[Line]], rows: Sequence[int]) -> bool:
    """Whether something that must be read whole is not."""
    shown = zip(panes, drawn, rows, strict=False)
    return any(pane.whole and count < len(text) for pane, text, count in shown)


def _first(pane: Pane, text: Sequence[Line], rows: int, moved: Mapping[str, int]) -> int:
    """The first line that is shown: where the scrolling keys left it, else round the focus."""
    most = max(0, len(text) - rows)
    return min(max(moved.get(pane.name, pane.focus - rows // 3), 0), most)


def _filled(placed: Sequence[Placed], width: int, height: int) -> list[Row]:
    """Titles and lines, each as wide as the column; blank rows below."""
    found: list[Row] = []
    for item in placed:
        found.append((Line(title(item, width), "title"),))
        shown = item.drawn[item.first : item.first + item.rows]
        found += [(Line(line.text.ljust(width), line.style),) for line in shown]
    blank = (Line(" " * width),)
    return [*found[:height], *[blank] * (height - len(found))]


def title(placed: Placed, width: int) -> str:
    """``-- loop: due at 62 % -------- 4 to 9 of 40 --``; what fits."""
    last, many = placed.first + placed.rows, len(placed.drawn)
    there = f" {placed.first + 1} to {last} of {many} --" if placed.clipped else ""
    if placed.clipped and not placed.rows:
        there = f" {many} lines --" if many > 1 else " 1 line --"
    room = width - len(there) - 4
    text = placed.pane.title
    if len(text) > room:
        text = f"{text[: max(0, room - 3)].rsplit(' ', 1)[0]}..."
    return f"-- {text} ".ljust(width - len(there), "-") + there
