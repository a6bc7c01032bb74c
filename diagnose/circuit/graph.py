"""The loop as a graph: whether it makes sense, and which way the loop current goes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.circuit.edges import loop_edges
from diagnose.circuit.soundness import faults
from diagnose.circuit.walk import carriers, loop_path, series_groups
from diagnose.errors import DiagnoseError
from diagnose.loops.loop import Loop


class CircuitError(DiagnoseError):
    """A loop whose circuit makes no sense; ``reasons`` has one sentence for each fault."""

    def __init__(self, tag: str, reasons: Iterable[str]) -> None:
        self.tag, self.reasons = tag, tuple(reasons)
        super().__init__("\n".join(f"{tag}: {reason}" for reason in self.reasons))


@dataclass(frozen=True, slots=True)
class Topology:
    """How the parts of a loop hang together; plain names only.

    ``path`` begins with the source and runs from its plus, through the transmitter, back to its
    minus; ``nodes`` are the nodes on the way, one before each further part and the minus at the
    end.  ``carriers`` are all parts through which some of the loop current can go, ``series`` the
    runs of the path that share one current while the insulation is sound.
    """

    path: tuple[str, ...]
    nodes: tuple[str, ...]
    carriers: tuple[str, ...]
    series: tuple[tuple[str, ...], ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, for a cache or JSON."""
        return {
            "path": list(self.path),
            "nodes": list(self.nodes),
            "carriers": list(self.carriers),
            "series": [list(group) for group in self.series],
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Topology:
        """The topology that ``to_dict`` wrote; ValueError if it is something else."""
        try:
            path, nodes, carried = (_names(data[key]) for key in ("path", "nodes", "carriers"))
            return cls(path, nodes, carried, tuple(_names(group) for group in data["series"]))
        except (KeyError, TypeError) as error:
            raise ValueError("this is no topology of a loop") from error


def _names(items: object) -> tuple[str, ...]:
    if not isinstance(items, list) or not all(isinstance(item, str) for item in items):
        raise TypeError("a list of names is wanted")
    return tuple(items)


def check(loop: Loop) -> Topology:
    """The topology of a loop that makes sense.

    Raises
    ------
    CircuitError
        No supply, a shorted one, no way back to it, a loose end, an island, a point or a
        reference that is no node: each as one sentence.
    """
    edges = loop_edges(loop)
    reasons = faults(loop, edges)
    found = None if reasons else loop_path(edges)
    if found is None:
        raise CircuitError(loop.tag, reasons or ("no loop current can flow in this circuit",))
    source, steps = found
    way = (source, *(edge for edge, _ in steps))
    return Topology(
        path=tuple(edge.part for edge in way),
        nodes=(source.a, *(node for _, node in steps)),
        carriers=carriers(edges, source),
        series=series_groups(edges, way),
    )
