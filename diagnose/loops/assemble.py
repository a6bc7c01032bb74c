"""From the merged tables of a sheet to a checked ``Loop``."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import fields, replace
from math import isclose
from typing import Any

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.errors import QuantityError, did_you_mean
from diagnose.loops.at_nothing import with_nothing
from diagnose.loops.kind import Kind
from diagnose.loops.loop import EARTH, Loop, Neighbour, Part, Place, Point, Shares
from diagnose.loops.names import NAME, TAG, name_fault, shown
from diagnose.loops.raw import Entries, Raw, nodes_of
from diagnose.loops.sheet_text import Problems, Table
from diagnose.loops.values import quantity, read_values
from diagnose.quantities import parse_number

LOOP_KEYS = (
    "tag",
    "service",
    "type",
    "range",
    "reference",
    "role",
    "signalling",
    "states",
    "process_drift",
    "stray",
)
SHARES = tuple(item.name for item in fields(Shares))
ROLES = ("trip", "control", "output")
AREAS = ("safe", "zone 0", "zone 1", "zone 2", "zone 20", "zone 21", "zone 22")


def assemble(raw: Raw, said: Entries, problems: Problems) -> Loop:
    """The loop that the merged tables describe.

    ``said`` holds the parts as the sheet itself writes them, to tell what was assumed.

    Raises
    ------
    SheetError
        Everything that is wrong, one sentence each.
    """
    head = Table(problems, "loop", raw.loop)
    head.only(LOOP_KEYS)
    if not raw.places and not problems.holds("place"):
        problems.add("place", "the sheet has no places; describe one under [[place]]")
    places = tuple(_place(problems, name, entry) for name, entry in raw.places.items())
    parts = tuple(
        part
        for name, entry in raw.parts.items()
        if (part := _part(problems, name, entry, said.get(name, {}), raw)) is not None
    )
    _distinct(problems, raw)
    nodes = nodes_of(raw.parts)
    points = _points(problems, raw.points, raw.places, nodes)
    loop = replace(
        _loop(head, nodes, parts, points, places, _shares(problems, raw.shares)),
        neighbours=_neighbours(problems, raw),
    )
    problems.check()
    return with_nothing(loop)


def _loop(
    head: Table,
    nodes: Collection[str],
    parts: tuple[Part, ...],
    points: tuple[Point, ...],
    places: tuple[Place, ...],
    shares: Shares,
) -> Loop:
    if not parts:
        head.problems.add("part", "the sheet has no parts; give a type or describe them")
    return Loop(
        tag=_tag(head),
        service=head.text("service", ""),
        type=head.text("type", ""),
        range=_range(head),
        reference=_reference(head, nodes),
        parts=parts,
        points=points,
        places=places,
        shares=shares,
        role=_roles(head),
        signalling=head.flag("signalling", False),
        states=head.flag("states", False),
        drift=_drift(head),
        stray=_stray(head),
    )


def _tag(head: Table) -> str:
    tag = head.text("tag", example="LT-214")
    fault = name_fault(TAG, tag) if tag else ""
    if fault:
        head.note("tag", fault)
    return tag


def _range(head: Table) -> tuple[str, float, float]:
    ends = head.texts("range", '["0 mm", "1800 mm"]')
    if len(ends) != 2:
        if not head.problems.holds("loop: range"):
            head.note("range", 'write both ends: range = ["0 mm", "1800 mm"]')
        return "", 0.0, 1.0
    try:
        (low, unit), (high, other) = (parse_number(end) for end in ends)
    except QuantityError as error:
        head.note("range", str(error))
        return "", 0.0, 1.0
    if unit != other or not unit:
        head.note("range", f"'{shown(ends[0])}' and '{shown(ends[1])}' need one and the same unit")
    elif low == high:
        head.note("range", "both ends are the same; write the values at 0 % and at 100 %")
    return unit, low, high


def _reference(head: Table, nodes: Collection[str]) -> str:
    node = head.text("reference", example="X20:0")
    if node and node not in nodes:
        head.note("reference", f"no pin is on node '{shown(node)}'{did_you_mean(node, nodes)}")
    return node


def _roles(head: Table) -> frozenset[str]:
    roles = head.texts("role", '["trip", "control", "output"]')
    for role in roles:
        if role not in ROLES:
            head.note("role", f"'{shown(role)}' is no role{did_you_mean(role, ROLES)}")
    return frozenset(roles)


def _drift(head: Table) -> float:
    drift = quantity(head, "process_drift", head.text("process_drift", "0.2 %"), "1")
    if drift is not None and not 0 <= drift <= 0.2:
        head.note("process_drift", "it is a share of the range between 0 % and 20 %")
    return 0.0 if drift is None else drift


def _stray(head: Table) -> float:
    stray = quantity(head, "stray", head.text("stray", "2 mV"), "V")
    if stray is not None and not 1e-6 <= stray <= 1:
        head.note("stray", "it is a voltage between 1 uV and 1 V")
    return 1.0 if stray is None else stray


def _shares(problems: Problems, raw: Mapping[str, Any]) -> Shares:
    table = Table(problems, "shares", raw)
    table.only(SHARES)
    usual = Shares()
    found = {
        name: table.number(name, getattr(usual, name), 1.0, f"{getattr(usual, name):g}")
        for name in SHARES
    }
    total = sum(found.values())
    if not isclose(total, 1.0, abs_tol=1e-6):
        problems.add("shares", f"{', '.join(SHARES)} add up to {total:.4g}; they must add up to 1")
    return Shares(**found)


def _place(problems: Problems, name: str, raw: Mapping[str, Any]) -> Place:
    table = Table(problems, f"place {name}", raw)
    table.only(("name", "title", "minutes", "area", "setup", "permit"))
    if "minutes" not in raw:
        table.note("minutes", "it is missing; write the minutes to walk there: minutes = 10")
    area = table.text("area", "safe")
    if area not in AREAS:
        table.note("area", f"'{shown(area)}' is no area{did_you_mean(area, AREAS)}")
    minutes = table.number("minutes", 0, 1440, "10")
    waits = table.number("setup", 2, 1440, "2"), table.number("permit", 0, 1440, "20")
    return Place(name, table.text("title", name), minutes, area, *waits)


def _points(
    problems: Problems, raw: Entries, places: Entries, nodes: Collection[str]
) -> tuple[Point, ...]:
    points = []
    for name, entry in raw.items():
        table = Table(problems, f"point {name}", entry)
        table.only(("name", "place"))
        if name == EARTH:
            table.note("name", f"{EARTH} is within reach at every place; leave this point out")
        elif name not in nodes:
            table.note("name", f"no pin is on node '{name}'{did_you_mean(name, nodes)}")
        points.append(Point(name, _place_name(table, places)))
    return (*points, Point(EARTH, "")) if EARTH in nodes else tuple(points)


def _neighbours(problems: Problems, raw: Raw) -> tuple[Neighbour, ...]:
    """Loops that go through some of the same parts; ``through`` names those parts."""
    found = []
    for tag, entry in raw.neighbours.items():
        table = Table(problems, f"neighbour {tag}", entry)
        table.only(("name", "through", "title"))
        through = table.texts("through", '["G1", "F1"]')
        if not through:
            table.note("through", 'name the parts that both loops use: through = ["G1"]')
        for name in through:
            if name not in raw.parts:
                known = did_you_mean(name, raw.parts)
                table.note("through", f"no part is called '{shown(name)}'{known}")
        found.append(Neighbour(tag, frozenset(through), table.text("title", "")))
    return tuple(found)


def _place_name(table: Table, places: Entries, key: str = "place") -> str:
    place = table.text(key, example=next(iter(places), "cabinet"))
    if place and places and place not in places:
        table.note(key, f"no place is called '{shown(place)}'{did_you_mean(place, places)}")
    return place


def _part(
    problems: Problems, name: str, entry: dict[str, Any], said: Mapping[str, Any], raw: Raw
) -> Part | None:
    table = Table(problems, f"part {name}", entry)
    word = table.text("kind", example="resistor")
    kind = Kind.registry.get(word)
    if kind is None:
        if word:
            table.note(
                "kind",
                f"no kind of part is called '{shown(word)}'{did_you_mean(word, Kind.registry)}",
            )
        return None
    found = read_values(table, kind, frozenset(said))
    return Part(
        name=name,
        kind=kind,
        pins=_pins(table, kind),
        values=found.values,
        place=_place_name(table, raw.places),
        references={key: _other(table, key, raw.parts) for key in kind.references},
        tolerances=found.tolerances,
        assumed=found.assumed,
        title=table.text("title", ""),
        shown_at=_shown_at(table, kind, raw.places),
        facts=found.facts,
    )


def _shown_at(table: Table, kind: type[Kind], places: Entries) -> str:
    if "shown_at" not in table.raw:
        return ""
    if kind.shows is None:
        table.note("shown_at", f"a {kind.name} shows nothing; leave it out")
    return _place_name(table, places, "shown_at")


def _pins(table: Table, kind: type[Kind]) -> dict[str, str]:
    pairs = ", ".join(f'{pin} = "X21:{number}"' for number, pin in enumerate(kind.pins, 1))
    pins = table.table("pins", f"{{ {pairs} }}")
    for pin in pins:
        if pin not in kind.pins:
            table.note(
                f"pins.{shown(pin)}", f"a {kind.name} has no such pin{did_you_mean(pin, kind.pins)}"
            )
    for pin in kind.pins:
        if "pins" in table.raw and not isinstance(table.raw["pins"], dict):
            break
        fault = (
            name_fault(NAME, pins[pin])
            if pin in pins
            else (f"it is on no node; write pins = {{ {pairs} }}")
        )
        if fault:
            table.note(f"pins.{pin}", fault)
    return {pin: pins.get(pin, "") for pin in kind.pins}


def _other(table: Table, key: str, parts: Entries) -> str:
    name = table.text(key, example="TX")
    if name and name not in parts:
        table.note(key, f"no part is called '{shown(name)}'{did_you_mean(name, parts)}")
    return name


def _distinct(problems: Problems, raw: Raw) -> None:
    """Names that a technician could not tell apart in a reading."""
    nodes = nodes_of(raw.parts)
    for name in raw.parts:
        if name in nodes:
            problems.add(f"part {name}", "a node has the same name; rename one of them")
    for what, names in (("part", tuple(raw.parts)), ("node", nodes)):
        first: dict[str, str] = {}
        for name in names:
            other = first.setdefault(name.casefold(), name)
            if other != name:
                problems.add(
                    f"{what} {shown(name)}",
                    f"'{shown(other)}' differs in capitals only; use one spelling",
                )
