"""What the volts of each node are quoted against, so that every one of them can be told."""

from __future__ import annotations

from diagnose.circuit.edges import loop_edges
from diagnose.circuit.store import topology
from diagnose.circuit.strands import strands
from diagnose.loops.loop import EARTH, Loop


def bases(loop: Loop) -> dict[str, str]:
    """For each node the node that its volts count from.

    That is the reference of the loop for all that is joined to it, earth for what is joined to
    earth alone; for a circuit that floats, such as the field side of an isolator, the minus of its
    source; for what hangs loose, nothing.
    """
    group = {node: node for node in (EARTH, *loop.nodes)}

    def root(node: str) -> str:
        while group[node] != node:
            node = group[node]
        return node

    for edge in loop_edges(loop):
        if edge.connects:
            group[root(edge.a)] = root(edge.b)
    rings = strands(loop, topology(loop)).rings
    base = {root(ring.steps[0].a): ring.steps[0].a for ring in reversed(rings)}
    base |= {root(home): home for home in (EARTH, loop.reference)}
    return {node: base[root(node)] for node in group if root(node) in base}
