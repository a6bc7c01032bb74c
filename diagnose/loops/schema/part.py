"""JSON Schema of the parts of a loop, each kind from its own pins, parameters, facts and words."""

from __future__ import annotations

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.loops.facts import Fact
from diagnose.loops.kind import Kind, Parameter
from diagnose.loops.names import NAME
from diagnose.loops.schema.texts import (
    Schema,
    area,
    definitions,
    line,
    named,
    one_of,
    quantity,
    table,
    tolerance,
    word,
)


def part_defs() -> Schema:
    """Parts whole and partial, every kind, and the texts that they are made of."""
    kinds = {f"kind_{name}": _kind(kind) for name, kind in sorted(Kind.registry.items())}
    parts = {"part": part_schema(whole=False), "whole_part": part_schema(whole=True)}
    return {**parts, **kinds, **definitions()}


def part_schema(whole: bool) -> Schema:
    """A part of any kind; its kind decides what else it may say.

    A ``whole`` part stands alone; another one may leave to the loop type what it does not change.
    """
    required = ["name", "kind", "place"] if whole else ["name"]
    chosen = [
        {
            "if": {"properties": {"kind": {"const": name}}, "required": ["kind"]},
            "then": {"$ref": f"#/$defs/kind_{name}"} if not whole else _complete(name, kind),
        }
        for name, kind in sorted(Kind.registry.items())
    ]
    return {
        "type": "object",
        "properties": {
            "name": named(NAME, "the name of the part", "R1"),
            "kind": one_of(sorted(Kind.registry), "what kind of part it is"),
        },
        "required": required,
        "allOf": chosen,
        **({} if whole else {"if": {"required": ["kind"]}, "else": _any_kind()}),
    }


def _complete(name: str, kind: type[Kind]) -> Schema:
    """A part of a kind that nothing but itself describes."""
    sources = {item.name: item.needed for item in kind.sources}
    silent = [item.name for item in kind.parameters if item.typed and item.default is None]
    needed = [name for name in silent if name != kind.derived]
    found: Schema = {
        "$ref": f"#/$defs/kind_{name}",
        "required": [*(["pins"] if kind.pins else []), *kind.references, *needed],
        "properties": {"pins": {"required": list(kind.pins)}},
    }
    if kind.derived in silent:
        found["anyOf"] = [{"required": [key]} for key in (kind.derived, *sources)]
    all_of = [key for key, needed in sources.items() if needed]
    if all_of:
        found["dependentRequired"] = dict.fromkeys(sources, all_of)
    return found


def _common(kind_keys: Schema) -> Schema:
    return {
        "name": True,
        "kind": True,
        "place": line("where it is", empty=False, example="cabinet"),
        "title": line("how people call it"),
        **kind_keys,
    }


def _kind(kind: type[Kind]) -> Schema:
    """What a part of one kind may say; the rest is for `_complete`."""
    pins = {pin: named(NAME, "", f"X21:{n}") for n, pin in enumerate(kind.pins, 1)}
    keys: Schema = {"pins": table(pins), **_values(kind)}
    if kind.shows is not None:
        keys["shown_at"] = line("the place where what it shows is read", empty=False)
    for reference in kind.references:
        keys[reference] = line("the part that it belongs to", empty=False, example="TX")
    found = table(_common(keys)) | {"description": (kind.__doc__ or kind.title).splitlines()[0]}
    if kind.derived:
        both = [{"required": [kind.derived, item.name]} for item in kind.sources]
        found["not"] = {"anyOf": both}
    return found


def _values(kind: type[Kind]) -> Schema:
    keys: Schema = {}
    for item in kind.sources:
        keys[item.name] = _source(kind, item)
    for fact in kind.facts:
        keys[fact.name] = quantity(fact.unit, _up_to(fact))
    for parameter in (item for item in kind.parameters if item.typed):
        words = kind.choices.get(parameter.name)
        told = _bounds(parameter)
        keys[parameter.name] = word(words, told) if words else quantity(parameter.unit, told)
    limits = {item.name: tolerance(item.unit, item.relative) for item in kind.parameters}
    if kind.parameters:
        first = next(iter(limits.values()))
        keys["tolerance"] = first | {"description": f"limit of error of {kind.parameters[0].name}"}
        keys["tolerances"] = table(limits)
    else:
        keys["tolerances"] = {"type": "object", "maxProperties": 0}
    return keys


def _source(kind: type[Kind], item: Fact) -> Schema:
    if item.name in kind.choices:
        return word(kind.choices[item.name], item.meaning)
    if item.unit == "m2":
        return area(item.meaning)
    return quantity(item.unit, item.meaning, bare=True)


def _up_to(fact: Fact) -> str:
    return f"{fact.meaning}; at most {fact.most:g} {fact.unit}"


def _bounds(parameter: Parameter) -> str:
    """What a parameter means, its bounds, and what is assumed where a sheet is silent."""
    unit = "" if parameter.unit == "1" else f" {parameter.unit}"
    told = [parameter.meaning]
    if parameter.least is not None:
        told.append(f"at least {parameter.least:g}{unit}")
    if parameter.most is not None:
        told.append(f"at most {parameter.most:g}{unit}")
    if parameter.default is not None:
        told.append(f"assumed: {parameter.default:g}{unit}")
    return "; ".join(told)


def _any_kind() -> Schema:
    """A part that leaves its kind to the loop type: any key of any kind, some way it may read."""
    either: dict[str, list[Schema]] = {}
    for kind in Kind.registry.values():
        for key, schema in _kind(kind)["properties"].items():
            options = either.setdefault(key, [])
            plain = {} if schema is True else _undescribed(schema)
            if plain not in options:
                options.append(plain)
    either["pins"] = [{"type": "object", "additionalProperties": named(NAME)}]
    either["tolerances"] = [{"type": "object", "additionalProperties": {"type": "string"}}]
    return table(
        {key: some[0] if len(some) == 1 else {"anyOf": some} for key, some in either.items()}
    )


def _undescribed(schema: Schema) -> Schema:
    return {key: value for key, value in schema.items() if key not in ("description", "examples")}
