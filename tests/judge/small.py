"""A two-wire loop built by hand from the plain dataclasses: the circuit of the ngspice cases."""

from __future__ import annotations

from collections.abc import Mapping

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Loop, Part, Place, Point, Shares

GROUND = "sn"
PARTS: tuple[tuple[str, str, dict[str, str], dict[str, float]], ...] = (
    (
        "G",
        "supply",
        {"plus": "ps", "minus": "sn"},
        {"voltage": 24, "source_resistance": 0.5, "current_limit": 2},
    ),
    ("E", "earth_bond", {"a": "sn", "earth": "PE"}, {"resistance": 1e-3}),
    ("RHS", "link", {"a": "ps", "b": "a"}, {"resistance": 1e-3}),
    ("A", "series_limiter", {"a": "a", "b": "b"}, {"resistance": 300}),
    ("W+", "core", {"a": "b", "b": "tp"}, {"resistance": 20}),
    ("TX", "two_wire_transmitter", {"plus": "tp", "minus": "tn"}, {"lift_off": 12}),
    ("W-", "core", {"a": "tn", "b": "c"}, {"resistance": 20}),
    ("LK", "link", {"a": "c", "b": "d"}, {"resistance": 1e-3}),
    ("R", "resistor", {"a": "d", "b": "sn"}, {"resistance": 250}),
    ("X1", "voltage_receiver", {"signal": "d", "common": "sn"}, {}),
    ("X2", "voltage_receiver", {"signal": "d", "common": "sn"}, {}),
    ("X3", "comparator", {"signal": "d", "common": "sn"}, {"set_point": 3}),
    ("SH", "insulation", {"a": "tp", "b": "tn"}, {"resistance": 1e12}),
    ("CC", "insulation", {"a": "b", "b": "c"}, {"resistance": 1e12}),
    ("LP", "earth_insulation", {"line": "tp", "earth": "PE"}, {"resistance": 1e12}),
    ("LN", "earth_insulation", {"line": "tn", "earth": "PE"}, {"resistance": 1e12}),
    ("PC", "process_connection", {}, {}),
    ("LG", "local_gauge", {}, {}),
)
FROM_DATA = ("resistance", "input_resistance", "voltage", "lift_off", "trim")
"""Parameters that take their kind's default tolerance here."""


def part(name: str, kind_name: str, pins: Mapping[str, str], given: Mapping[str, float]) -> Part:
    """A part with defaults and default tolerances."""
    kind = Kind.registry[kind_name]
    values = {p.name: p.default for p in kind.parameters if p.default is not None} | dict(given)
    tolerances = {
        p.name: p.tolerance * (abs(values[p.name]) if p.relative else 1.0)
        for p in kind.parameters
        if p.tolerance and p.name in FROM_DATA
    }
    references = {"to": "TX"} if kind.references else {}
    return Part(name, kind, dict(pins), values, "here", references, tolerances)


def small_loop(
    changes: Mapping[str, Mapping[str, float]] | None = None,
    drift: float = 0.002,
    only: tuple[str, ...] = (),
) -> Loop:
    """The loop, with other values for some parts, or with some of the parts only."""
    changes = changes or {}
    parts = tuple(
        part(name, kind, pins, {**given, **changes.get(name, {})})
        for name, kind, pins, given in PARTS
        if not only or name in only
    )
    nodes = dict.fromkeys(node for p in parts for node in p.pins.values())
    return Loop(
        "T-1",
        "test",
        "none",
        ("%", 0.0, 100.0),
        GROUND,
        parts,
        tuple(Point(node, "here") for node in nodes),
        (Place("here", "bench", 0.0),),
        Shares(),
        drift=drift,
    )
