"""What stands beside a terminal or a part in a drawing, as lines of lettering."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from diagnose.circuit.figure import BIG, LEADING, SMALL, Text, width, wrapped
from diagnose.circuit.strands import Strand, gives
from diagnose.loops.loop import Loop, Part


@dataclass(frozen=True, slots=True)
class Marks:
    """What is written into the drawing of a loop.

    ``expected`` and ``read`` are lines at points or at parts, by name; ``suspected`` is what is
    said of each suspected part (``SUSPECT 62 % open``); ``captions`` follow the title of the ring
    of a source, by its name.
    """

    expected: Mapping[str, str] = field(default_factory=dict)
    read: Mapping[str, Sequence[str]] = field(default_factory=dict)
    suspected: Mapping[str, str] = field(default_factory=dict)
    captions: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Words:
    """One line beside a sign; its first ``strong`` characters are bold."""

    text: str
    size: float = BIG
    strong: int = 0


@dataclass(frozen=True, slots=True)
class Lettering:
    """Writes labels for one loop, its marks, its numbered branches, its ways straight to earth."""

    loop: Loop
    marks: Marks
    branches: Sequence[Strand] = ()
    stubs: Sequence[Strand] = ()

    def node(self, name: str, room: float, *, again: bool = False) -> list[Words]:
        """A terminal: its name, what is expected and what was read, which branches leave it.

        Where it is drawn ``again``, its name and what is expected will do.
        """
        expected = self.marks.expected.get(name, "")
        whole = f"{name}  {expected}"
        if expected and width(whole, BIG) <= room:
            lines = [Words(whole, BIG, len(name))]
        else:
            lines = [*_fitted(name, room, bold=True), *_fitted(expected, room)]
        if again:
            return lines
        return [*lines, *self._read(name, room), *_fitted(self.leaving(name), room, SMALL)]

    def part(
        self, part: Part, room: float, *, title: bool = True, wired: bool = True
    ) -> list[Words]:
        """A part: its name, what it is, what it shows, whether it is suspected.

        Where it is drawn ``wired``, what it follows is told: no arrow shows it there.
        """
        lines = _fitted(part.name, room, bold=True)
        if title:
            told = wrapped(part.title or part.kind.title, room, SMALL, 5)
            lines += [Words(line, SMALL) for line in told]
        lines += _fitted(self.marks.expected.get(part.name, ""), room)
        lines += self._read(part.name, room)
        lines += self._suspect(part.name, room)
        leaders = dict.fromkeys(
            other for role, other in part.references.items() if part.pins and gives(part, role)
        )
        if leaders and wired:
            lines += _fitted(f"follows {', '.join(leaders)}", room, SMALL)
        return lines

    def beside(self, part: Part, shown: Iterable[str], room: float) -> list[Words]:
        """Terminals of a part that are not on the way, each on lines of its own."""
        lines: list[Words] = []
        for node in dict.fromkeys(part.pins.values()):
            if node not in shown and self.loop.place_of(node):
                lines += self.node(node, room)
        return lines

    def leaving(self, node: str) -> str:
        """``branches 2, 3``: those that begin or end at a node."""
        numbers = [
            str(number)
            for number, strand in enumerate(self.branches, 1)
            if node in (strand.nodes[0], strand.nodes[-1])
        ]
        many = "branches" if len(numbers) > 1 else "branch"
        return f"{many} {', '.join(numbers)}" if numbers else ""

    def knot(self, node: str) -> bool:
        """Whether something leaves a node, so that it must be drawn."""
        return bool(self.leaving(node)) or any(node == stub.nodes[0] for stub in self.stubs)

    def _read(self, name: str, room: float) -> list[Words]:
        lines = self.marks.read.get(name, ())
        return [words for line in lines for words in _fitted(line, room, bold=True)]

    def _suspect(self, name: str, room: float) -> list[Words]:
        return _fitted(self.marks.suspected.get(name, ""), room, bold=True)


def _fitted(text: str, room: float, size: float = BIG, *, bold: bool = False) -> list[Words]:
    return [Words(line, size, len(line) * bold) for line in wrapped(text, room, size)]


def height(lines: Iterable[Words]) -> float:
    """How much of the page lines take, mm."""
    return sum(line.size * LEADING for line in lines)


def set_down(lines: Iterable[Words], x: float, top: float, anchor: str = "start") -> Iterator[Text]:
    """Lines one below the other from ``top``."""
    y = top
    for line in lines:
        yield Text(x, y + line.size, line.text, line.size, line.strong, anchor)
        y += line.size * LEADING


def place_words(loop: Loop, name: str, room: float) -> list[Words]:
    """A place in words: ``[junction box JB9, zone 2]``."""
    known = {place.name: place for place in loop.places}
    place = known.get(name)
    told = (place.title or place.name) if place else name
    area = f", {place.area}" if place and place.area != "safe" else ""
    return [Words(line, SMALL) for line in wrapped(f"[{told}{area}]", room, SMALL)]
