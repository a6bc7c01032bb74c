"""What a drawing is made of: lettering, lines and signs on paper, in millimetres.

The origin is the top left corner, y counts down.  Lettering is in a typeface of fixed width, so
that how wide a text becomes is known without the typeface: ``ADVANCE`` of its size for a column.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from unicodedata import combining, east_asian_width

WIDTH = 186.0
"""Width of a drawing, mm: A4 (210) and Letter (216) with margins of 12 and 15."""

BIG, SMALL = 3.5, 3.0
"""Sizes of lettering, mm; capitals of 3.5 are 2.5 high (ISO 3098, from memory)."""

ADVANCE = 0.61
"""Width of one column, share of the size: no common typeface of fixed width has more."""

LEADING = 1.25
"""From line to line, share of the size."""

RISE, DROP = 0.78, 0.24
"""How far letters reach above and below the line that they stand on, shares of the size."""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of lettering; ``x`` is its start, middle or end, ``y`` what it stands on.

    The first ``strong`` characters are bold.
    """

    x: float
    y: float
    text: str
    size: float = BIG
    strong: int = 0
    anchor: str = "start"

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom."""
        wide = width(self.text, self.size)
        left = self.x - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        return left, self.y - RISE * self.size, left + wide, self.y + DROP * self.size


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points; ``style`` is ``wire``, ``dashed`` or ``arrow``."""

    points: tuple[tuple[float, float], ...]
    style: str = "wire"


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign round a point, turned clockwise by ``turn`` degrees.

    At 0 its first terminal is on the left; at 90 it is on top.
    """

    name: str
    x: float
    y: float
    turn: int = 0
    suspected: bool = False
    latent: bool = False


@dataclass(frozen=True, slots=True)
class Frame:
    """A rectangle; ``suspected`` draws it heavily."""

    x: float
    y: float
    width: float
    height: float
    suspected: bool = False


Shape = Text | Line | Sign | Frame


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing of its own, not to be cut by the end of a page."""

    title: str
    height: float
    shapes: tuple[Shape, ...]
    width: float = WIDTH

    def texts(self) -> Iterator[Text]:
        """All its lettering."""
        return (shape for shape in self.shapes if isinstance(shape, Text))


def written(title: str, paragraphs: Iterable[str]) -> Figure:
    """Plain paragraphs as a figure, for a picture that has no page round it."""
    texts, y = [], 0.0
    for paragraph in paragraphs:
        for line in wrapped(paragraph, WIDTH - 2, SMALL):
            y += SMALL * LEADING
            texts.append(Text(1.0, y, line, SMALL))
        y += SMALL / 2
    return Figure(title, y + SMALL, tuple(texts))


def columns(text: str) -> int:
    """Columns that a text takes in a typeface of fixed width."""
    wide = sum(2 if east_asian_width(sign) in "WF" else 1 for sign in text)
    return wide - sum(1 for sign in text if combining(sign))


def width(text: str, size: float) -> float:
    """How wide a text is at most, mm."""
    return columns(text) * ADVANCE * size


_GLUED = re.compile(r"(?<=[0-9]) (?=(?:%|[numkM]?(?:V|A|ohm))(?![A-Za-z]))|(?<=[a-z]) (?=[0-9]+\b)")
"""Blanks at which no line ends: before a unit, before the number of a zone or a cabinet."""


def wrapped(text: str, room: float, size: float, most: int = 99) -> list[str]:
    """A text in lines no wider than ``room``; words that are too long are cut, none is lost.

    Beyond ``most`` lines the rest is dropped, and dots say so.
    """
    limit = max(4, int(room / (ADVANCE * size) + 1e-9))
    lines: list[str] = []
    for word in _GLUED.sub("\xa0", " ".join(text.split())).split(" "):
        joined = f"{lines[-1]} {word}" if lines else word
        if columns(joined) <= limit:
            lines[-1:] = [joined]
        else:
            lines += _pieces(word, limit)
    lines = [line.replace("\xa0", " ") for line in lines if line]
    if len(lines) > most:
        last = f"{lines[most - 1]} "
        while columns(last) > limit - 3:
            last = last[:-1]
        lines = [*lines[: most - 1], last.rstrip() + "..."]
    return lines


def _pieces(word: str, limit: int) -> Iterator[str]:
    piece = ""
    for sign in word:
        if columns(piece + sign) > limit:
            yield piece
            piece = ""
        piece += sign
    yield piece
