"""What makes a circuit senseless, said in the words of a circuit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.circuit.edges import Edge
from diagnose.circuit.walk import Steps, conductors, graph, route, sources
from diagnose.circuit.wiring import Wiring
from diagnose.errors import did_you_mean
from diagnose.loops.loop import EARTH, Loop

SHORT = 1.0
"""A way from plus to minus below this is a short, ohm."""


def faults(loop: Loop, edges: Sequence[Edge]) -> tuple[str, ...]:
    """Everything that makes no sense, one sentence each; empty for a sound circuit."""
    return (
        *_names(loop),
        *_loose_ends(loop),
        *_bypassed(edges),
        *_supply(edges),
        *_islands(loop, edges),
        *_followers(loop),
    )


def _followers(loop: Loop) -> Iterator[str]:
    """Parts that follow what gives no signal, or that follow each other in a ring."""
    parts = {part.name: part for part in loop.parts}
    for part in loop.parts:
        for reference in part.kind.follows:
            leader = parts[part.references[reference]]
            if leader.kind.signal is None:
                what = f"a {leader.kind.title} gives no signal"
                yield f"{part.name} follows {leader.name}, and {what}"
    ring = Wiring(loop).ring()
    if ring:
        yield f"{', '.join(ring)} follow each other in a ring: nothing says where it starts"


def _names(loop: Loop) -> Iterator[str]:
    nodes = {node for part in loop.parts for node in part.pins.values()}
    if loop.reference not in nodes:
        yield (
            f"the reference {loop.reference} is not in the circuit"
            f"{did_you_mean(loop.reference, nodes)}"
        )
    for point in loop.points:
        if point.name not in nodes:
            yield f"the point {point.name} is not in the circuit{did_you_mean(point.name, nodes)}"


def _loose_ends(loop: Loop) -> Iterator[str]:
    for node in loop.nodes:
        holders = [part.name for part in loop.parts for pin in part.pins.values() if pin == node]
        if len(holders) == 1 and node != EARTH:
            yield f"{holders[0]} hangs loose: nothing else is connected to {node}"


def _bypassed(edges: Sequence[Edge]) -> Iterator[str]:
    for part, node in dict.fromkeys((edge.part, edge.a) for edge in edges if edge.a == edge.b):
        yield f"{part} is shorted: both its pins are on {node}"


def _supply(edges: Sequence[Edge]) -> Iterator[str]:
    found = sources(edges)
    if not found:
        yield "there is no supply: nothing in the circuit drives a current"
    for part in dict.fromkeys(source.part for source in found):
        # A card may drive several currents, one of them straight into its own return.
        some = [s for s in found if s.part == part and s.a != s.b]
        trouble = [[*_round_trip(source, edges)] for source in some]
        if trouble and all(trouble):
            yield from trouble[0]


def _round_trip(source: Edge, edges: Sequence[Edge]) -> Iterator[str]:
    net = graph(_apart(source, edges))
    steps = route(net, source.a, source.b)
    if steps and sum(1 / edge.conductance for edge, _ in steps) < SHORT:
        between = ", ".join(edge.part for edge, _ in steps)
        yield f"supply {source.part} is shorted: only {between} between its plus and its minus"
    # The volts of a signal go to inputs alone: nothing carries their current, and nothing need.
    elif steps and source.driven and not source.carries:
        return
    elif route(conductors(edges, source), source.a, source.b) is None:
        yield (
            f"no return path from {_dead_end(source, edges, steps)} to the supply "
            f"{source.part}: its current cannot come back to {source.b}"
        )


def _apart(source: Edge, edges: Sequence[Edge]) -> Iterator[Edge]:
    """What connects besides a source and those that feed in parallel to it."""
    for edge in edges:
        if edge.connects and edge != source and (edge.carries or not edge.delivers):
            yield edge


def _dead_end(source: Edge, edges: Sequence[Edge], steps: Steps | None) -> str:
    """The node where the loop current is stuck: the last that it must pass, or can reach."""
    import networkx

    net = conductors(edges, source)
    if source.a not in net:
        return source.a
    reach: dict[str, int] = networkx.single_source_shortest_path_length(net, source.a)
    if steps is None:
        return max(reach, key=lambda node: reach[node])
    whole = graph(_apart(source, edges))
    must_pass = [source.a]
    for _, node in steps:
        rest = whole.copy()
        rest.remove_node(node)
        if node in reach and (node == source.b or not networkx.has_path(rest, source.a, source.b)):
            must_pass.append(node)
    return must_pass[-1]


def _islands(loop: Loop, edges: Sequence[Edge]) -> Iterator[str]:
    import networkx

    net = graph(edge for edge in edges if edge.connects)
    if not any(loop.reference in part.pins.values() for part in loop.parts):
        return
    net.add_nodes_from(loop.nodes)
    order = {node: number for number, node in enumerate(loop.nodes)}
    for island in networkx.connected_components(net):
        own = any(edge.delivers and edge.a in island for edge in edges)
        if loop.reference in island or island == {EARTH} or own:
            continue
        names = ", ".join(sorted(island, key=lambda node: order[node])[:6])
        more = ", ..." if len(island) > 6 else ""
        yield f"{names}{more}: nothing but insulation ties this to the reference {loop.reference}"
