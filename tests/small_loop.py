"""A short two-wire loop, built from the dataclasses alone."""

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Loop, Part, Place, Point


def part(name: str, kind: str, nodes: str = "", place: str = "cabinet", **values: float) -> Part:
    """A part with defaults where ``values`` are silent; ``nodes`` in the order of its pins."""
    law = Kind.registry[kind]
    full = {item.name: item.default for item in law.parameters if item.default is not None}
    pins = dict(zip(law.pins, nodes.split(), strict=True))
    return Part(name, law, pins, full | values, place)


PARTS = (
    part("G1", "supply", "X20:1 X20:0", voltage=24.0),
    part("F1", "fuse", "X20:1 X21:1"),
    part("A1", "series_limiter", "X21:1 X21:3"),
    part("LK1", "link", "X21:3 X21:4"),
    part("T4", "termination", "X21:4 W3+.1"),
    part("W3+", "core", "W3+.1 W3+.2", resistance=3.0),
    part("TB1", "termination", "JB9:1 W3+.2", "junction box"),
    part("TB2", "termination", "JB9:1 W4+.1", "junction box"),
    part("W4+", "core", "W4+.1 LT-214:+", "junction box", resistance=0.5),
    part("LT-214", "two_wire_transmitter", "LT-214:+ LT-214:-", "platform"),
    part("W4-", "core", "LT-214:- JB9:2", "junction box", resistance=0.5),
    part("W3-", "core", "JB9:2 X21:5", resistance=3.0),
    part("LK2", "link", "X21:5 X21:7"),
    part("R1", "resistor", "X21:7 X20:0", resistance=250.0),
    part("T7", "termination", "X22:1 U1.1"),
    part("T8", "termination", "X22:1 U2.1"),
    part("B1", "signal_wire", "X21:7 X22:1", resistance=0.1),
    part("LIC-214", "voltage_receiver", "U1.1 X20:0", "control room"),
    part("LAHH-214", "comparator", "U2.1 X20:0", set_point=3.0),
    part("E1", "earth_bond", "X20:0 PE"),
    part("LG-214", "local_gauge", "", "platform"),
)

POINTS = {
    "cabinet": "X20:0 X20:1 X21:1 X21:3 X21:4 X21:5 X21:7 X22:1",
    "junction box": "JB9:1 JB9:2",
    "platform": "LT-214:+ LT-214:-",
}

LOOP = Loop(
    tag="LT-214",
    service="solvent receiver level",
    type="two-wire-input",
    range=("mm", 0.0, 1800.0),
    reference="X20:0",
    parts=PARTS,
    points=tuple(Point(name, place) for place, names in POINTS.items() for name in names.split()),
    places=(
        Place("cabinet", "marshalling cabinet 2", 3.0),
        Place("control room", "control room", 2.0),
        Place("junction box", "junction box 9", 10.0, "zone 2"),
        Place("platform", "solvent receiver platform", 20.0, "zone 1"),
    ),
)
