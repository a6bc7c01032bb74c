"""The bands of a ring on paper: one frame for each place, the way out beside the way back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from diagnose.circuit.figure import SMALL, WIDTH, Figure, Frame, Line, Shape, Sign, Text, width
from diagnose.circuit.figure_rows import HALF, SIGN, Row, total
from diagnose.circuit.lettering import Lettering, Words, height, place_words, set_down
from diagnose.circuit.strands import Step
from diagnose.loops.loop import EARTH

LEFT, RIGHT = 62.5, 123.5
"""Where the two wires run, mm from the left."""

SIDE = 4.5
"""From a wire to its lettering."""

ROOM = LEFT - SIDE - 1.5
STUB = 20.4
"""Widest box of what leads to earth, mm."""

PAD = 2.0

PAGE = 240.0
"""A figure is not higher than this if it can be parted: what A4 and Letter hold below a title."""


@dataclass
class Band:
    """What is drawn at one place: rows of the way out and of the way back, top to bottom."""

    place: str
    out: list[Row] = field(default_factory=list)
    back: list[Row] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Ends:
    """The parts that join both ways, on top and at the far end; all nodes of the ring."""

    source: Step
    far: Step
    nodes: tuple[str, ...]


def pages(
    title: str,
    bands: Sequence[Band],
    ends: Ends,
    lettering: Lettering,
    stubs: Mapping[str, Sequence[Row]],
) -> Iterator[Figure]:
    """The bands as figures, parted between bands where one would be higher than a page."""
    page = _Page(ends, lettering, stubs)
    for number, band in enumerate(bands):
        kept = page.y, len(page.shapes)
        page.band(band, first=number == 0, last=number == len(bands) - 1)
        if page.y > PAGE and kept[1]:
            yield Figure(title, kept[0] + 0.3, tuple(page.shapes[: kept[1]]))
            title = f"{title.removesuffix(', continued')}, continued"
            page = _Page(ends, lettering, stubs)
            page.band(band, first=False, last=number == len(bands) - 1)
    yield Figure(title, page.y + 0.3, tuple(page.shapes))


class _Page:
    """Puts bands of one ring on paper, from the top down."""

    def __init__(
        self, ends: Ends, lettering: Lettering, stubs: Mapping[str, Sequence[Row]]
    ) -> None:
        self.ends, self.lettering, self.stubs = ends, lettering, stubs
        self.shapes: list[Shape] = []
        self.y = 0.0

    def band(self, band: Band, *, first: bool, last: bool) -> None:
        """One band below what is there; the first has the source, the last the far end."""
        top = wire = self.y
        under = len(self.shapes)
        lines = place_words(self.lettering.loop, band.place, ROOM)
        self.shapes += set_down(lines, PAD, top + 0.8)
        self.y += height(lines) + PAD
        if first:
            wire = self._source()
        self._rows(band)
        end = self._far_end() if last else self.y
        wires = [Line(((x, wire), (x, end))) for x in (LEFT, RIGHT)]
        # Wires come before the signs that lie on them.
        self.shapes[under:under] = [Frame(0.3, top, WIDTH - 0.6, self.y - top), *wires]

    def _source(self) -> float:
        """The source on the line that joins both ways, its lettering above; the y of the line."""
        lines = self._words(self.ends.source)
        self.shapes += set_down(lines, (LEFT + RIGHT) / 2, self.y, "middle")
        line = self.y + height(lines) + SIGN / 2
        self._across(self.ends.source, line, back=True)
        if not self.lettering.loop.alternating:
            self.shapes += (Sign("down", LEFT, line + 4.5), Sign("up", RIGHT, line + 4.5))
        self.y = line + 8
        return line

    def _far_end(self) -> float:
        """The part where the way turns back, its lettering below; the y of its line."""
        line = self.y + SIGN / 2
        self._across(self.ends.far, line, back=False)
        lines = self._words(self.ends.far)
        below = line + HALF + 1.4
        self.shapes += set_down(lines, (LEFT + RIGHT) / 2, below, "middle")
        self.y = below + height(lines) + 1.0
        return line

    def _words(self, step: Step) -> list[Words]:
        part = self.lettering.loop.part(step.part)
        room = WIDTH - 50
        beside = self.lettering.beside(part, self.ends.nodes, room)
        return [*self.lettering.part(part, room), *beside]

    def _across(self, step: Step, line: float, *, back: bool) -> None:
        """A part on the line from side to side."""
        part = self.lettering.loop.part(step.part)
        turn = 180 if (step.a == next(iter(part.pins.values()))) is back else 0
        suspected = part.name in self.lettering.marks.suspected
        self.shapes.append(Line(((LEFT, line), (RIGHT, line))))
        middle = (LEFT + RIGHT) / 2
        self.shapes.append(Sign(part.kind.symbol, middle, line, turn, suspected, part.kind.latent))

    def _rows(self, band: Band) -> None:
        tall = max(total(band.out), total(band.back)) + 1.0
        for found, x, inward in ((band.out, LEFT, 1), (band.back, RIGHT, -1)):
            gap = (tall - total(found)) / (len(found) + 1)
            y = self.y + gap
            for row in found:
                self.shapes += row.shapes(x, y, -inward * SIDE, down=inward > 0)
                if row.sign == "node":
                    self.shapes += self._earthed(row.name, x, y + row.height / 2, inward)
                y += row.height + gap
        self.y += tall

    def _earthed(self, node: str, x: float, middle: float, inward: int) -> Iterator[Shape]:
        """The branches of a terminal to earth, boxes one below the other."""
        boxes = self.stubs.get(node, ())
        y = middle - total(boxes) / 2
        for box in boxes:
            wide = max(width(line.text, line.size) for line in box.lines) + 2
            near, at = x + inward * 2.0, y + box.height / 2
            far = near + inward * wide
            style = "dashed" if box.latent else "wire"
            yield Line(((x, middle), (near, at)), style)
            tall = box.height - 1.0
            yield Frame(min(near, far), at - tall / 2, wide, tall, box.suspected)
            yield from set_down(box.lines, (near + far) / 2, at - height(box.lines) / 2, "middle")
            end = far + inward * 1.5
            yield Line(((far, at), (end, at)), style)
            yield Sign("earth-right" if inward > 0 else "earth-left", end, at)
            anchor = "start" if inward > 0 else "end"
            yield Text(end + inward * 2.2, at + 1.0, EARTH, SMALL, len(EARTH), anchor)
            y += box.height
