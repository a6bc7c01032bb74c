"""The loop as rows, part by part and terminal by terminal: what is due, what was read, where.

Rows follow `diagnose.circuit.strands`: the ring of the loop current, further rings, branches, and
what acts without a wire.  Nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from diagnose.circuit.bases import bases
from diagnose.circuit.strands import Strand, Strands
from diagnose.inference.due import AS_DUE, Due
from diagnose.inference.measurement import Measurement, Reading, volts_of
from diagnose.loops.loop import EARTH, Loop

PLACE, POINT, PART, READ, PARTS_HERE, HEAD = "place", "point", "part", "read", "parts here", "head"
"""Sorts of rows."""

OTHERS = "other readings"

VOLTS = ("V", "VAC")


@dataclass(frozen=True, slots=True)
class Seen:
    """One reading with its number, what was due for it, and how it stands to that."""

    number: int
    reading: Reading
    due: Due | None
    verdict: str
    doubted: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known beside the sheet: what is due, what was read, what is suspected, what is next.

    ``suspected`` maps parts to the share of their likeliest fault and its name; ``next`` holds the
    points or the part of the step in hand; ``place`` is where the technician stands.
    """

    due: Mapping[Measurement, Due] = field(default_factory=dict)
    seen: tuple[Seen, ...] = ()
    suspected: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    next: tuple[str, ...] = ()
    place: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its sort, the names that it is about, what is due there, what was read there.

    ``suspect`` is the share and name of a fault there; ``next`` says that the step in hand is here.
    """

    sort: str
    names: tuple[str, ...] = ()
    due: Due | None = None
    seen: Seen | None = None
    suspect: tuple[float, str] | None = None
    next: bool = False


def loop_rows(loop: Loop, found: Strands, facts: Facts) -> tuple[Row, ...]:
    """All rows of a loop."""
    drawer = _Drawer(loop, facts)
    rows: list[Row] = []
    for ring in found.rings:
        rows += _parted(list(drawer.strand(ring)))
    for branch in found.branches:
        rows += _parted(list(drawer.strand(branch)))
    rows += drawer.chains(found.chains)
    return tuple(rows)


def focus(rows: Sequence[Row], reference: str = "") -> int:
    """The row to be kept in sight: the step in hand, else where readings part, else what is off.

    Of a step the red lead: the ``reference`` is where the black one stays, and drawn early.
    """
    looks: tuple[Callable[[Row], bool], ...] = (
        lambda row: row.next and row.sort != PLACE and reference not in row.names,
        lambda row: row.next and row.sort != PLACE,
        lambda row: row.sort == PARTS_HERE,
        lambda row: row.seen is not None and row.seen.verdict != AS_DUE,
    )
    for wanted in looks:
        there = next((number for number, row in enumerate(rows) if wanted(row)), None)
        if there is not None:
            return there
    return 0


class _Drawer:
    """Draws strands one after the other; each terminal and each reading once."""

    def __init__(self, loop: Loop, facts: Facts) -> None:
        self.loop, self.facts = loop, facts
        self.homes = bases(loop)
        self.place = ""
        self.told: set[str] = set()
        self.left = list(facts.seen)

    # -- strands -----------------------------------------------------------------------------------

    def strand(self, strand: Strand) -> Iterator[Row]:
        """Parts and terminals in turn; parts between two terminals share a row."""
        if strand.ring:
            yield from self._at(self.loop.part(strand.parts[0]).place)
        else:
            yield Row(HEAD, (strand.nodes[0], strand.nodes[-1]))
            if self._drawn(strand.nodes[0]):
                yield from self._terminal(strand.nodes[0])
        waiting: list[str] = []
        for part, node in zip(strand.parts, strand.nodes[1:], strict=True):
            waiting.append(part)
            if not self._drawn(node):
                continue
            yield from self._between(waiting)
            waiting = []
            yield from self._terminal(node)
        yield from self._between(waiting)

    def _drawn(self, node: str) -> bool:
        """Whether a node has a row of its own here: a lead reaches it, and it has none yet."""
        return self.loop.place_of(node) is not None and node != EARTH and node not in self.told

    def _terminal(self, node: str) -> Iterator[Row]:
        place = self.loop.place_of(node)
        yield from self._at(place or self.place)
        self.told.add(node)
        measurement = Measurement(volts_of(self.loop), (node, self.homes.get(node, "")))
        mine = self._taken(lambda item: item.reading.measurement == measurement)
        seen = mine[-1] if mine else None
        yield Row(
            POINT, (node,), self.facts.due.get(measurement), seen, next=node in self.facts.next
        )
        yield from (Row(READ, (node,), item.due, item) for item in mine[:-1])
        here = self._taken(lambda item: item.reading.measurement.points[:1] == (node,))
        yield from (Row(READ, (node,), item.due, item) for item in here)

    def _between(self, parts: list[str]) -> Iterator[Row]:
        """Parts on the way; one that is suspected, read or next has a row of its own."""
        plain: list[str] = []
        for name in parts:
            rows = list(self._part(name))
            if len(rows) == 1 and rows[0] == Row(PART, (name,)):
                plain.append(name)
                continue
            if plain:
                yield Row(PART, tuple(plain))
            plain = []
            yield from rows
        if plain:
            yield Row(PART, tuple(plain))

    def _part(self, name: str) -> Iterator[Row]:
        mine = self._taken(lambda item: item.reading.measurement.points[:1] == (name,))
        suspect = self.facts.suspected.get(name)
        seen = mine[-1] if mine else None
        shown = Measurement("shows", (name,))
        due = seen.due if seen else self.facts.due.get(shown)
        yield Row(PART, (name,), due, seen, suspect, name in self.facts.next)
        yield from (Row(READ, (name,), item.due, item) for item in mine[:-1])

    def _at(self, place: str) -> Iterator[Row]:
        if place != self.place:
            self.place = place
            yield Row(PLACE, (place,), next=place == self.facts.place)

    def _taken(self, wanted: Callable[[Seen], bool]) -> list[Seen]:
        """The readings that belong here; each is told once."""
        mine = [item for item in self.left if wanted(item)]
        self.left = [item for item in self.left if item not in mine]
        return mine

    # -- what acts without a wire ------------------------------------------------------------------

    def chains(self, chains: Sequence[tuple[str, ...]]) -> Iterator[Row]:
        """What shows, stands or moves beside the wires, each part once; then readings left over."""
        names = dict.fromkeys(name for chain in chains for name in chain)
        bare = [name for name in names if not self.loop.part(name).pins]
        if bare:
            yield Row(HEAD)
        for name in bare:
            yield from self._at(self.loop.part(name).read_at)
            yield from self._part(name)
        if self.left:
            yield Row(HEAD, (OTHERS,))
        yield from (Row(READ, (), item.due, item) for item in self.left)


def _told(seen: Seen) -> bool:
    """Whether a reading tells of the point where it stands: volts to the reference, a display."""
    return seen.reading.measurement.function in (*VOLTS, "shows")


def _parted(rows: list[Row]) -> list[Row]:
    """Rows of a strand with a row put in wherever readings cease to be, or come to be, as due."""
    found: list[Row] = []
    before: Row | None = None
    for row in rows:
        if (
            row.sort != READ
            and row.seen is not None
            and row.seen.due is not None
            and _told(row.seen)
        ):
            if before is not None and before.seen is not None:
                was, now = before.seen.verdict, row.seen.verdict
                if (was == AS_DUE) != (now == AS_DUE):
                    found.append(Row(PARTS_HERE, (was, now)))
            before = row
        found.append(row)
    return found
