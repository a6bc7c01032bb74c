"""Bars: how many, and how they ended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.review.page.axes import LEFT, LINE, RIGHT, WIDTH, box, picture, text
from diagnose.review.page.markup import Markup, el

ENDINGS = {
    "confirmed": "cause confirmed",
    "suspected": "suspected only",
    "sound": "no fault found",
    "unfound": "cause not found",
}
"""Class of a piece of a bar -> what it means; each has a pattern of its own beside its colour."""

MOST = 12
"""Bars of one picture; what is left is told in words."""

THICK = 13.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its name, its pieces (class, size), and what stands behind it."""

    name: str
    pieces: Sequence[tuple[str, float]]
    told: str = ""

    @property
    def whole(self) -> float:
        """Its whole length."""
        return sum(size for _, size in self.pieces)


def bars(question: str, answer: str, some: Sequence[Bar], legend: bool = False) -> Markup:
    """Bars one below the other, each under its name."""
    some, left = some[:MOST], len(some) - MOST
    most = max((bar.whole for bar in some), default=0.0) or 1.0
    marks = [mark for n, bar in enumerate(some) for mark in _bar(bar, n, most)]
    rest = f" {left} more are in the table." if left > 0 else ""
    key = _legend() if legend else None
    return picture(question, f"{answer}{rest}", len(some) * _STEP + 4, marks, key)


_STEP = LINE + THICK + 5


def _bar(bar: Bar, number: int, most: float) -> list[Markup]:
    top = number * _STEP + LINE
    marks = [text(LEFT, top - 4, bar.name)]
    x, scale = LEFT, (WIDTH - LEFT - RIGHT) / most
    for class_, size in bar.pieces:
        if size:
            told = f"{bar.name}: {size:g} {ENDINGS.get(class_, class_)}"
            marks.append(box(x, top, size * scale, THICK, class_, told))
            x += size * scale
    marks.append(text(x + 4, top + THICK - 2, bar.told or f"{bar.whole:g}", class_="faint"))
    return marks


def columns(question: str, answer: str, some: Sequence[Bar], legend: bool = False) -> Markup:
    """Bars side by side, in the order of time."""
    most = max((bar.whole for bar in some), default=0.0) or 1.0
    height, wide = 150.0, (WIDTH - 2 * LEFT) / max(len(some), 1)
    marks = []
    for number, bar in enumerate(some):
        x, y = LEFT + number * wide, height + LINE
        for class_, size in bar.pieces:
            tall = size / most * height
            y -= tall
            told = f"{bar.name}: {size:g} {ENDINGS.get(class_, class_)}"
            marks += [box(x + 1.5, y, wide - 3, tall, class_, told)] if size else []
        middle = x + wide / 2
        marks.append(text(middle, y - 3, f"{bar.whole:g}", class_="faint", anchor="middle"))
        marks += _foot(bar.name, middle, height + 2 * LINE, number, len(some))
    return picture(question, answer, height + 2 * LINE + 8, marks, _legend() if legend else None)


def _foot(name: str, x: float, y: float, number: int, many: int) -> list[Markup]:
    """Names under columns, only as many as there is room for."""
    every = -(-many * 46 // int(WIDTH))
    return [text(x, y, name, class_="faint", anchor="middle")] if number % every == 0 else []


def _legend() -> Markup:
    """What each pattern means."""
    return el("ul", *(el("li", _swatch(class_), title) for class_, title in ENDINGS.items()),
              class_="legend")  # fmt: skip


def _swatch(class_: str) -> Markup:
    return el("svg", box(0.5, 0.5, 13, 11, class_), viewBox="0 0 14 12", aria_hidden="true",
              class_="swatch")  # fmt: skip
