"""What all pictures share: sizes, scales, ticks, and the figure around them."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log10

from diagnose.review.page.markup import Markup, el

WIDTH = 420.0
"""Width of a picture in its own units; text in it is 13 of them high."""

LEFT, RIGHT, LINE = 4.0, 64.0, 17.0
"""Margins, and the height of a line of text."""


def text(x: float, y: float, *words: object, class_: str = "", anchor: str = "start") -> Markup:
    """A line of text in a picture."""
    return el("text", *words, x=f"{x:.1f}", y=f"{y:.1f}", class_=class_ or None,
              text_anchor=anchor)  # fmt: skip


def line(x1: float, y1: float, x2: float, y2: float, class_: str) -> Markup:
    """A straight line in a picture."""
    return el("line", x1=f"{x1:.1f}", y1=f"{y1:.1f}", x2=f"{x2:.1f}", y2=f"{y2:.1f}",
              class_=class_)  # fmt: skip


def box(x: float, y: float, width: float, height: float, class_: str, told: str = "") -> Markup:
    """A rectangle; ``told`` shows when it is pointed at."""
    return el("rect", el("title", told) if told else None, x=f"{x:.1f}", y=f"{y:.1f}",
              width=f"{max(width, 0):.1f}", height=f"{height:.1f}", class_=class_)  # fmt: skip


def dot(x: float, y: float, size: float, class_: str, told: str = "") -> Markup:
    """A round mark."""
    return el("circle", el("title", told) if told else None, cx=f"{x:.1f}", cy=f"{y:.1f}",
              r=f"{size:.1f}", class_=class_)  # fmt: skip


def ticks(most: float, about: int = 5) -> tuple[float, ...]:
    """Round numbers from 0 to at least ``most``: 1, 2 or 5 times a power of ten apart.

    >>> ticks(3.4)
    (0.0, 1.0, 2.0, 3.0, 4.0)
    """
    if most <= 0:
        return (0.0, 1.0)
    rough = most / about
    power = 10.0 ** floor(log10(rough))
    step = next(power * unit for unit in (1, 2, 5, 10) if power * unit >= rough * (1 - 1e-9))
    count = max(int(-(-most // step)), 1)
    return tuple(round(n * step, 10) for n in range(count + 1))


def short(value: float) -> str:
    """A number of an axis, as short as it can be told."""
    return f"{value:,.10g}"


def picture(question: str, answer: str, height: float, marks: Sequence[Markup],
            key: Markup | None = None) -> Markup:  # fmt: skip
    """A figure: the question, the picture, and in words what it shows."""
    drawn = el("svg", el("title", question), el("desc", answer), *marks,
               viewBox=f"0 0 {WIDTH:g} {height:.0f}", role="img",
               aria_label=f"{question} {answer}")  # fmt: skip
    return el("figure", el("h3", question), key, drawn, el("figcaption", answer))
