"""The parts of a loop in the order in which one meets them: rings, branches, chains of signals.

A drawing, on paper or on a screen, follows these.  A *ring* begins with its source and comes back
to it; a *branch* leaves a terminal that was met before and ends at another one, or at earth; a
*chain* is what acts on each other without a wire: process, air, position.  Insulation and other
latent defects come in as branches where they are asked for.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from diagnose.circuit.edges import Edge, loop_edges
from diagnose.circuit.graph import Topology
from diagnose.circuit.walk import loop_path
from diagnose.loops.loop import EARTH, Loop, Part


@dataclass(frozen=True, slots=True)
class Step:
    """One part on the way, with the node before it and the node after it."""

    part: str
    a: str
    b: str


@dataclass(frozen=True, slots=True)
class Strand:
    """Parts one after the other; each step begins at the node where the last one ended.

    A ring begins with its source, which leads from its minus to its plus.
    """

    steps: tuple[Step, ...]
    ring: bool = False

    @property
    def nodes(self) -> tuple[str, ...]:
        """Nodes in order, one more than the steps."""
        return (self.steps[0].a, *(step.b for step in self.steps))

    @property
    def parts(self) -> tuple[str, ...]:
        """Parts in order."""
        return tuple(step.part for step in self.steps)


@dataclass(frozen=True, slots=True)
class Strands:
    """A whole loop: every part is in one of the three, or latent and not asked for.

    The first ring is the loop current.  A chain of one part is something that stands alone.
    """

    rings: tuple[Strand, ...]
    branches: tuple[Strand, ...]
    chains: tuple[tuple[str, ...], ...]


def strands(loop: Loop, found: Topology, latent: Collection[str] = ()) -> Strands:
    """The strands of a loop; ``latent`` names the latent parts that are to be among them.

    ``found`` is the topology of the loop.  A part may be met twice in one ring, in no others.
    """
    parts = {part.name: part for part in loop.parts}
    drawn = [
        edge
        for edge in loop_edges(loop)
        if edge.a != edge.b and (not parts[edge.part].kind.latent or edge.part in latent)
    ]
    rings = [_main_ring(found)]
    rest = _without(drawn, rings[0])
    while ring := _next_ring(rest):
        rings.append(ring)
        rest = _without(rest, ring)
    return Strands(tuple(rings), tuple(_branches(loop, rings, rest)), _chains(loop))


def _main_ring(found: Topology) -> Strand:
    first = Step(found.path[0], found.nodes[-1], found.nodes[0])
    rest = zip(found.path[1:], pairwise(found.nodes), strict=True)
    return Strand((first, *(Step(part, a, b) for part, (a, b) in rest)), ring=True)


def _next_ring(edges: Sequence[Edge]) -> Strand | None:
    """The loop current of another circuit; else the ring of a source that has no such path."""
    sound = [edge for edge in edges if edge.connects]
    if way := loop_path(sound):
        source, steps = way
        at = (source.a, *(node for _, node in steps))
        told = [Step(e.part, a, b) for (e, _), (a, b) in zip(steps, pairwise(at), strict=True)]
        return Strand((Step(source.part, source.b, source.a), *told), ring=True)
    for source in (edge for edge in sound if edge.delivers):
        first = Step(source.part, source.b, source.a)
        rest = [edge for edge in sound if edge.part != source.part]
        if (found := _nearest((first,), rest, {source.b}))[-1].b == source.b:
            return Strand(found, ring=True)
    return None


def _without(edges: Sequence[Edge], strand: Strand) -> list[Edge]:
    taken = set(strand.parts)
    return [edge for edge in edges if edge.part not in taken]


# -- branches --------------------------------------------------------------------------------------


def _branches(loop: Loop, rings: Sequence[Strand], edges: Sequence[Edge]) -> Iterator[Strand]:
    """What is left, each from a node that was met before to the nearest that was."""
    known = {EARTH, loop.reference}
    for strand in rings:
        known |= _touched(loop, strand)
    rest = list(edges)
    while rest:
        start = next((e for e in rest if {e.a, e.b} & (known - {EARTH})), rest[0])
        ends = (start.a, start.b)
        node = next((end for end in ends if end in known - {EARTH}), None)
        node = node or next(end for end in ends if end != EARTH)
        strand = Strand(_way(start, node, rest, known))
        yield strand
        known |= _touched(loop, strand)
        rest = _without(rest, strand)


def _touched(loop: Loop, strand: Strand) -> set[str]:
    """Nodes of all parts of a strand, those beside the way included."""
    return {node for name in strand.parts for node in loop.part(name).pins.values()}


def _way(first: Edge, node: str, edges: Sequence[Edge], known: set[str]) -> tuple[Step, ...]:
    """From ``node`` through ``first`` on to the nearest known node; to the farthest if none is."""
    begin = Step(first.part, node, _other(first, node))
    return _nearest((begin,), edges, known - {node})


def _nearest(
    begin: tuple[Step, ...], edges: Sequence[Edge], known: Collection[str]
) -> tuple[Step, ...]:
    """``begin`` continued by the fewest steps to a known node, or to the farthest that there is."""
    came = {begin[-1].b: begin}
    queue = deque(came)
    way = begin
    while queue:
        way = came[queue.popleft()]
        here = way[-1].b
        if here in known:
            break
        for edge in edges:
            if here in (edge.a, edge.b) and edge.part not in {step.part for step in way}:
                onward = Step(edge.part, here, _other(edge, here))
                if onward.b not in came and (onward.b != begin[0].a or onward.b in known):
                    came[onward.b] = (*way, onward)
                    queue.append(onward.b)
    return way


def _other(edge: Edge, node: str) -> str:
    return edge.b if node == edge.a else edge.a


# -- chains ----------------------------------------------------------------------------------------


def _chains(loop: Loop) -> tuple[tuple[str, ...], ...]:
    """What acts without a wire, each arrow once; only where a part without terminals is at it."""
    parts = {part.name: part for part in loop.parts}
    bare = [part.name for part in loop.parts if not part.pins]
    arrows = [arrow for arrow in _arrows(loop) if not all(parts[name].pins for name in arrow)]
    found: list[tuple[str, ...]] = []
    while arrows:
        ends = {b for _, b in arrows}
        first = next((arrow for arrow in arrows if arrow[0] not in ends), arrows[0])
        chain = _longest(first, arrows)
        found.append(chain)
        arrows = [arrow for arrow in arrows if arrow not in set(pairwise(chain))]
    told = {name for chain in found for name in chain}
    return (*found, *((name,) for name in bare if name not in told))


def _arrows(loop: Loop) -> Iterator[tuple[str, str]]:
    """(from, to) of everything that one part gives another, in the order of the sheet."""
    names = {part.name for part in loop.parts}
    for part in loop.parts:
        for role, other in part.references.items():
            if other in names:
                yield (other, part.name) if gives(part, role) else (part.name, other)


def gives(part: Part, role: str) -> bool:
    """Whether what a part refers to as ``role`` acts on it, and not the other way round."""
    return role in part.kind.follows


def _longest(first: tuple[str, str], arrows: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The longest chain of arrows that begins with ``first``, no part twice."""
    best: tuple[str, ...] = first
    stack = [first]
    while stack:
        chain: tuple[str, ...] = stack.pop()
        if len(chain) > len(best):
            best = chain
        for a, b in arrows:
            if a == chain[-1] and b not in chain:
                stack.append((*chain, b))  # type: ignore[arg-type]
    return best
