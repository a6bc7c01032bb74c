"""Figures with their bounds, one line each, on one axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.review.page.axes import (
    LEFT,
    LINE,
    RIGHT,
    WIDTH,
    dot,
    line,
    picture,
    short,
    text,
    ticks,
)
from diagnose.review.page.bars import MOST
from diagnose.review.page.markup import Markup

_STEP = LINE + 16


@dataclass(frozen=True, slots=True)
class Range:
    """A figure with its bounds; ``other`` is a second one to compare it with, as a ring."""

    name: str
    value: float | None
    low: float
    high: float
    told: str = ""
    other: float | None = None


def intervals(question: str, answer: str, unit: str, some: Sequence[Range]) -> Markup:
    """Dots with their bounds as lines, from zero; a figure that is not known has no dot."""
    some, left = some[:MOST], len(some) - MOST
    ends = ticks(max((_furthest(item) for item in some), default=1.0))
    scale = (WIDTH - LEFT - RIGHT) / ends[-1]
    foot = len(some) * _STEP + 6
    marks = [mark for end in ends for mark in _tick(end, LEFT + end * scale, foot)]
    for number, item in enumerate(some):
        marks += _range(item, number * _STEP + LINE, scale)
    marks.append(text(LEFT, foot + 2 * LINE, unit, class_="faint"))
    rest = f" {left} more are in the table." if left > 0 else ""
    return picture(question, f"{answer}{rest}", foot + 2 * LINE + 6, marks)


def _furthest(item: Range) -> float:
    return max(item.high, item.value or 0.0, item.other or 0.0)


def _tick(value: float, x: float, foot: float) -> list[Markup]:
    label = text(x, foot + LINE - 2, short(value), class_="faint",
                 anchor="middle" if value else "start")  # fmt: skip
    return [line(x, 2, x, foot, "grid"), label]


def _range(item: Range, top: float, scale: float) -> list[Markup]:
    y = top + 6
    low, high = LEFT + item.low * scale, LEFT + item.high * scale
    marks = [
        text(LEFT, top - 4, item.name),
        line(low, y, high, y, "whisker"),
        line(low, y - 4, low, y + 4, "whisker"),
        line(high, y - 4, high, y + 4, "whisker"),
    ]
    if item.other is not None:
        marks.append(dot(LEFT + item.other * scale, y, 4.5, "ring", "to compare with"))
    if item.value is not None:
        marks.append(dot(LEFT + item.value * scale, y, 4, "dot", item.told))
    if item.told:
        marks.append(text(WIDTH - 2, top - 4, item.told, class_="faint", anchor="end"))
    return marks
