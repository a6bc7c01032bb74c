"""A loop as plain data, and back: what a case keeps of it, readable without the plant."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import asdict, fields, replace
from hashlib import sha256
from math import isclose, isfinite
from typing import Any

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.errors import SheetError, did_you_mean
from diagnose.library import package_version
from diagnose.loops.kind import Kind
from diagnose.loops.loop import EARTH, Loop, Neighbour, Part, Place, Point, Shares
from diagnose.loops.names import NAME, PLACE, TAG, name_fault, shown
from diagnose.loops.sheet_text import LONGEST_TEXT, MOST_ENTRIES

FORM = 1
"""Version of the record."""

_LATER = ("states", "stray")
"""Fields that older copies of a sheet do not have yet."""

Json = dict[str, Any]
_HEAD = ("tag", "service", "type", "reference", "signalling", "states", "drift", "stray")


def loop_to_record(loop: Loop) -> Json:
    """Everything of a loop as JSON holds it; values in SI."""
    return {
        "form": FORM,
        **{name: getattr(loop, name) for name in _HEAD},
        "range": list(loop.range),
        "role": sorted(loop.role),
        "shares": asdict(loop.shares),
        "neighbours": [
            {"tag": item.tag, "through": sorted(item.through), "title": item.title}
            for item in loop.neighbours
        ],
        "places": [asdict(place) for place in loop.places],
        "points": [asdict(point) for point in loop.points],
        "parts": [_part_record(part) for part in loop.parts],
    }


def _part_record(part: Part) -> Json:
    facts = {"facts": dict(part.facts)} if part.facts else {}
    return {
        "name": part.name,
        "kind": part.kind.name,
        "pins": dict(part.pins),
        "values": dict(part.values),
        "place": part.place,
        "references": dict(part.references),
        "tolerances": dict(part.tolerances),
        "assumed": sorted(part.assumed),
        "title": part.title,
        "shown_at": part.shown_at,
        **facts,
    }


def loop_from_record(record: Mapping[str, Any]) -> Loop:
    """The loop of a record.  A parameter that the record does not know has its default.

    What no sheet can say, because a law works it out or a fault moves it, has its default as well:
    such a number may be called otherwise, and count from elsewhere, than when the record was made.

    Raises
    ------
    SheetError
        The record is damaged, or needs a kind of part that is not known here.
    """
    if record.get("form") != FORM:
        raise _wrong("form", f"this copy of a sheet has a form other than {FORM}")
    try:
        loop = _loop(record)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise _wrong("sheet", f"a field is missing or of another type: {shown(error)}") from error
    _check(loop)
    return replace(loop, digest=_digest(record))


def _wrong(key: str, sentence: str) -> SheetError:
    return SheetError([("copy of the sheet", key, sentence)])


def _digest(record: Mapping[str, Any]) -> str:
    told = json.dumps([package_version(), dict(record)], sort_keys=True, default=str)
    return sha256(told.encode()).hexdigest()


def _loop(record: Mapping[str, Any]) -> Loop:
    unit, low, high = record["range"]
    return Loop(
        **{
            name: _as(type_, record[name])
            for name, type_ in _HEAD_TYPES.items()
            if name in record or name not in _LATER
        },
        range=(_text(unit), _number(low), _number(high)),
        role=frozenset(map(_text, _list(record["role"]))),
        shares=Shares(**_numbers(record["shares"])),
        places=tuple(Place(**_typed(Place, item)) for item in _list(record["places"])),
        points=tuple(Point(**_typed(Point, item)) for item in _list(record["points"])),
        parts=tuple(_part(item) for item in _list(record["parts"])),
        neighbours=tuple(map(_neighbour, _list(record.get("neighbours", [])))),
        source="case",
    )


def _neighbour(record: Mapping[str, Any]) -> Neighbour:
    through = frozenset(map(_text, _list(record["through"])))
    return Neighbour(_text(record["tag"]), through, _text(record["title"]))


def _part(record: Mapping[str, Any]) -> Part:
    word = _text(record["kind"])
    kind = Kind.registry.get(word)
    if kind is None:
        near = did_you_mean(word, Kind.registry)
        raise _wrong(f"part {shown(record['name'])}", f"no kind is called '{shown(word)}'{near}")
    known = {item.name: item.default for item in kind.parameters}
    usual = {name: value for name, value in known.items() if value is not None}
    return Part(
        name=_text(record["name"]),
        kind=kind,
        pins=_texts(record["pins"]),
        values={**usual, **_kept(_numbers(record["values"]), kind)},
        place=_text(record["place"]),
        references=_texts(record["references"]),
        tolerances=_numbers(record["tolerances"]),
        assumed=frozenset(map(_text, _list(record["assumed"]))),
        title=_text(record["title"]),
        shown_at=_text(record.get("shown_at", "")),
        facts=_numbers(record.get("facts", {})),
    )


def _check(loop: Loop) -> None:
    """What assembling a sheet checks and the other layers rely on."""
    _names("tag", TAG, [loop.tag])
    _names("place", PLACE, [place.name for place in loop.places])
    _names("part", NAME, [part.name for part in loop.parts])
    _names("node", NAME, {node for node in loop.nodes if node != EARTH})
    _known("reference", [loop.reference], {n for part in loop.parts for n in part.pins.values()})
    _known("point", [point.name for point in loop.points], loop.nodes)
    places = {place.name for place in loop.places}
    _known("place", [point.place for point in loop.points if point.name != EARTH], places)
    _known("place", [part.place for part in loop.parts], places)
    parts = {part.name for part in loop.parts}
    _names("neighbour", TAG, [item.tag for item in loop.neighbours])
    _known("part", [name for item in loop.neighbours for name in item.through], parts)
    _known("place", [part.read_at for part in loop.parts], places)
    if not isclose(sum(asdict(loop.shares).values()), 1.0, abs_tol=1e-6):
        raise _wrong("shares", "they do not add up to 1")
    for part in loop.parts:
        _check_part(part, {other.name for other in loop.parts})


def _kept(values: Mapping[str, float], kind: type[Kind]) -> dict[str, float]:
    """Values that a sheet can say; what is unknown is kept to be refused, unless it is nought."""
    typed = {item.name: item.typed or item.default is None for item in kind.parameters}
    return {name: value for name, value in values.items() if typed.get(name, bool(value))}


def _check_part(part: Part, parts: Collection[str]) -> None:
    kind, where = part.kind, f"part {part.name}"
    parameters = {item.name for item in kind.parameters}
    if set(part.pins) != set(kind.pins) or set(part.references) != set(kind.references):
        raise _wrong(where, f"pins and references are not those of a {kind.name}")
    if set(part.values) != parameters or not set(part.tolerances) <= parameters:
        raise _wrong(where, f"values are not those of a {kind.name}")
    for item in kind.parameters:
        least = -float("inf") if item.least is None else item.least
        most = float("inf") if item.most is None else item.most
        if not least <= part.values[item.name] <= most:
            raise _wrong(f"{where}: {item.name}", "the value is out of its bounds")
    _known("part", part.references.values(), parts)


def _names(what: str, pattern: Any, names: Collection[str]) -> None:
    for name in names:
        if name_fault(pattern, name):
            raise _wrong(what, name_fault(pattern, name))
    if len(set(names)) != len(names):
        raise _wrong(what, f"a {what} is there twice")


def _known(what: str, names: Collection[str], known: Collection[str]) -> None:
    for name in names:
        if name not in known:
            raise _wrong(what, f"there is no {what} '{shown(name)}'")


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.isprintable() or len(value) > LONGEST_TEXT:
        raise ValueError("plain text belongs here")
    return value


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError("a finite number belongs here")
    return float(value)


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("true or false belongs here")
    return value


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST_ENTRIES:
        raise ValueError("a list belongs here")
    return value


def _texts(value: Mapping[str, Any]) -> dict[str, str]:
    return {_text(key): _text(item) for key, item in value.items()}


def _numbers(value: Mapping[str, Any]) -> dict[str, float]:
    return {_text(key): _number(item) for key, item in value.items()}


_READERS = {"str": _text, "float": _number, "bool": _flag}
_HEAD_TYPES = {item.name: item.type for item in fields(Loop) if item.name in _HEAD}


def _as(type_: Any, value: Any) -> Any:
    return _READERS[type_](value)


def _typed(kind: type[Place] | type[Point], record: Mapping[str, Any]) -> Json:
    types = {item.name: item.type for item in fields(kind)}
    return {key: _as(types[key], value) for key, value in record.items()}
