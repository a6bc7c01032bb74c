"""What the volts of each node are quoted against, so that every one of them can be told."""

from __future__ import annotations

from diagnose.circuit.edges import loop_edges
from diagnose.circuit.store import topology
from diagnose.circuit.strands import strands
from diagnose.loops.joined import heads
from diagnose.loops.loop import EARTH, Loop


def bases(loop: Loop) -> dict[str, str]:
    """For each node the node that its volts count from.

    That is the reference of the loop for all that is joined to it, earth for what is joined to
    earth alone; for a circuit that floats, such as the field side of an isolator, the minus of its
    source; for what hangs loose, nothing.
    """
    joined = ((edge.a, edge.b) for edge in loop_edges(loop) if edge.connects)
    head = heads((EARTH, *loop.nodes), joined)
    rings = strands(loop, topology(loop)).rings
    base = {head[ring.steps[0].a]: ring.steps[0].a for ring in reversed(rings)}
    base |= {head[home]: home for home in (EARTH, loop.reference)}
    return {node: base[one] for node, one in head.items() if one in base}
