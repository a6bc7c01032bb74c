"""The branches of a loop as edges of a graph, judged by their laws at nominal values.

A branch *connects* if it conducts better than ``FAINT`` in any regime: sound insulation does not,
however it is called.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from diagnose.loops.kind import Branch
from diagnose.loops.loop import Loop, Part

FAINT = 1e-9
"""Conductance below which a branch counts as insulation, S (a gigaohm)."""

MIDDLE = 0.5
"""Process value at which the laws are looked at, fraction of range."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One branch of one part between two nodes.

    ``conductance`` is the best it has in any regime, S.  ``delivers`` is the current that a source
    drives into a short, out of ``a``, A; zero for anything else.  ``carries`` says that the branch
    belongs into the path of the loop current, ``driven`` that it sets that current.
    """

    part: str
    a: str
    b: str
    conductance: float
    delivers: float
    carries: bool
    driven: bool

    @property
    def connects(self) -> bool:
        """Whether it is more than insulation."""
        return self.conductance > FAINT or self.delivers > 0


def loop_edges(loop: Loop) -> tuple[Edge, ...]:
    """The branches of all parts in the order of the sheet."""
    return tuple(edge for part in loop.parts for edge in _part_edges(part))


def _part_edges(part: Part) -> tuple[Edge, ...]:
    q = SimpleNamespace(**part.values)
    to = (MIDDLE,) * len(part.kind.follows) if len(part.kind.follows) > 1 else MIDDLE
    vars(q).update(part.kind.drive(q, to))
    return tuple(_edge(part, branch, q) for branch in part.kind.branches)


def _edge(part: Part, branch: Branch, q: Any) -> Edge:
    laws = [segment.law(q) for segment in branch.segments]
    rest = next(
        number
        for number, segment in enumerate(branch.segments)
        if segment.until is None or segment.until(q) >= 0
    )
    into_short = -float(laws[rest][1])
    plus, minus = (branch.a, branch.b) if into_short >= 0 else (branch.b, branch.a)
    return Edge(
        part=part.name,
        a=part.pins[plus],
        b=part.pins[minus],
        conductance=max(abs(float(g)) for g, _ in laws),
        delivers=abs(into_short),
        carries=part.kind.carries_loop and branch.carries,
        driven=bool(part.kind.driven),
    )
