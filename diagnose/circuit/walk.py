"""Walks through the graph of a loop: its path, what carries its current, what is in series."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

from diagnose.circuit.edges import Edge

Steps = tuple[tuple[Edge, str], ...]
"""Edges in the order walked, each with the node that it leads to."""


def graph(edges: Iterable[Edge]) -> Any:
    """A networkx graph of edges; of parallel ones the best conductor, weighed by its resistance."""
    import networkx

    result = networkx.Graph()
    for edge in edges:
        if edge.a == edge.b:
            continue
        known = result.get_edge_data(edge.a, edge.b)
        if known is None or known["edge"].conductance < edge.conductance:
            result.add_edge(edge.a, edge.b, edge=edge, ohm=1 / max(edge.conductance, 1e-15))
    return result


def conductors(edges: Iterable[Edge], source: Edge | None = None) -> Any:
    """The graph of all that belongs into the path of the loop current, but the ``source`` itself.

    What carries the current and drives it as well, such as a thermocouple, is part of the path.
    """
    return graph(edge for edge in edges if edge.carries and edge.connects and edge != source)


def sources(edges: Iterable[Edge]) -> tuple[Edge, ...]:
    """The edges that drive current."""
    return tuple(edge for edge in edges if edge.delivers)


def route(net: Any, start: str, end: str) -> Steps | None:
    """The way of least resistance between two nodes; None if there is none."""
    import networkx

    if start not in net or end not in net or not networkx.has_path(net, start, end):
        return None
    nodes = networkx.dijkstra_path(net, start, end, weight="ohm")
    return tuple((net[a][b]["edge"], b) for a, b in pairwise(nodes))


def loop_path(edges: Sequence[Edge]) -> tuple[Edge, Steps] | None:
    """The main source and the way from its plus to its minus; through a transmitter if any.

    Where nothing sets the current of a source, a source that sets its own comes first.
    """
    drivers = [edge for edge in edges if edge.driven]
    for source in sources(edges):
        net = conductors(edges, source)
        for driver in drivers:
            steps = _through(net, source, driver)
            if steps:
                return source, steps
    for source in sorted(sources(edges), key=lambda edge: not edge.driven):
        steps = route(conductors(edges, source), source.a, source.b)
        if steps:
            return source, steps
    return None


def _through(net: Any, source: Edge, driver: Edge) -> Steps | None:
    """The way round that passes ``driver``, whichever pin comes first."""
    if not net.has_edge(driver.a, driver.b):
        return None
    rest = net.copy()
    rest.remove_edge(driver.a, driver.b)
    for near, far in ((driver.a, driver.b), (driver.b, driver.a)):
        out = () if near == source.a else route(rest, source.a, near)
        back = () if far == source.b else route(rest, far, source.b)
        if out is not None and back is not None:
            way = (*out, (driver, far), *back)
            if len({source.a, *(node for _, node in way)}) == len(way) + 1:
                return way
    return None


def carriers(edges: Sequence[Edge], source: Edge) -> tuple[str, ...]:
    """Parts through which some of the loop current can go: all on a ring with the source."""
    import networkx

    net = conductors(edges, source)
    net.add_edge(source.a, source.b, edge=source)
    ring: set[frozenset[str]] = set()
    for block in networkx.biconnected_component_edges(net):
        pairs = {frozenset(pair) for pair in block}
        if frozenset((source.a, source.b)) in pairs:
            ring = pairs
    return tuple(
        dict.fromkeys(
            edge.part
            for edge in edges
            if (edge.carries or edge == source) and frozenset((edge.a, edge.b)) in ring
        )
    )


def series_groups(edges: Sequence[Edge], path: Sequence[Edge]) -> tuple[tuple[str, ...], ...]:
    """Runs of the path that share one current: no third part connects between them."""
    touching: dict[str, set[str]] = {}
    for edge in edges:
        if edge.connects:
            for node in (edge.a, edge.b):
                touching.setdefault(node, set()).add(edge.part)
    groups: list[list[str]] = [[path[0].part]] if path else []
    for before, here in pairwise(path):
        shared = {before.a, before.b} & {here.a, here.b}
        if any(len(touching[node]) == 2 for node in shared):
            groups[-1].append(here.part)
        else:
            groups.append([here.part])
    if len(groups) > 1 and len(touching[path[0].b]) == 2:
        groups[0][:0] = groups.pop()
    return tuple(tuple(group) for group in groups)
