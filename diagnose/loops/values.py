"""The values and tolerances of one part, from the text of a sheet to SI floats."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from diagnose.errors import DiagnoseError, QuantityError, did_you_mean
from diagnose.loops.conductor_tables import ConductorError
from diagnose.loops.facts import Fact
from diagnose.loops.kind import Kind, Parameter
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import Table, kind_of
from diagnose.quantities import parse_quantity
from diagnose.unit_table import UNITS

ENTRY_KEYS = ("kind", "pins", "place", "shown_at", "title", "tolerance", "tolerances")
BARE = re.compile(r"\s*[+-]?[0-9.,]+(?:[eE][+-]?[0-9]+)?\s*\Z")
EXAMPLES = {unit: entry.example for unit, entry in UNITS.items()} | {
    "ohm": "250 ohm",
    "V": "24 V",
    "A": "20 mA",
    "S": "1 uS",
    "1": "0.1 %",
    "degC": "60 degC",
    "K": "15 K",
}
"""SI unit -> one value as it may stand in a sheet."""


@dataclass(frozen=True, slots=True)
class Values:
    """What a sheet says of a part's parameters; ``assumed`` names those it is silent on."""

    values: Mapping[str, float]
    tolerances: Mapping[str, float]
    assumed: frozenset[str]
    facts: Mapping[str, float]


def read_values(table: Table, kind: type[Kind], said: frozenset[str]) -> Values:
    """Values and tolerances of a part; ``said`` are the keys that the sheet itself holds."""
    texts = _texts(table, kind)
    derived = _derive(table, kind, texts)
    if derived is None:
        return Values({}, {}, frozenset(), {})
    _only_known(table, kind, derived)
    values = {p.name: _value(table, kind, p, derived) for p in kind.parameters}
    return Values(
        values,
        _tolerances(table, kind, values),
        _assumed(kind, texts, derived, said),
        {fact.name: _fact(table, fact, texts[fact.name]) for fact in kind.facts
         if fact.name in texts},
    )  # fmt: skip


def _fact(table: Table, fact: Fact, text: str) -> float:
    value = quantity(table, fact.name, text, fact.unit)
    if value is not None and not fact.least <= value <= fact.most:
        table.note(fact.name, f"it is between {fact.least:g} and {fact.most:g} {fact.unit}")
    return 0.0 if value is None else value


def _texts(table: Table, kind: type[Kind]) -> dict[str, Any]:
    """The keys that hold values, with everything that is not text noted and left out."""
    texts: dict[str, Any] = {}
    for key, value in table.raw.items():
        if key in ENTRY_KEYS or key in kind.references:
            continue
        if isinstance(value, str):
            texts[key] = value
        else:
            known: tuple[Parameter | Fact, ...] = (*kind.parameters, *kind.facts)
            unit = next((item.unit for item in known if item.name == key), "")
            table.note(shown(key), _no_text(value, unit))
    return texts


def _no_text(value: object, unit: str) -> str:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if number and -1e15 < value < 1e15:  # type: ignore[operator]  # a number, as just seen
        return no_unit(f"{value:g}", unit)
    example = EXAMPLES.get(unit, "250 ohm")
    return f'{kind_of(value)} stands here; write a quantity in quotes: "{example}"'


def no_unit(number: str, unit: str) -> str:
    """The sentence for a number without a unit."""
    if unit == "1":
        share = float(number)
        right = f"{share * 100:g} %" if abs(share) < 1 else number
        return f'{number} is a bare number; write it in quotes: "{right}"'
    return (
        f'"{number}" has no unit; write "{number} {unit}"'
        if unit
        else (f'"{number}" has no unit; write it with one, in quotes')
    )


def _derive(table: Table, kind: type[Kind], texts: dict[str, Any]) -> dict[str, Any] | None:
    try:
        return kind.derive(dict(texts))
    except ConductorError as error:
        table.note(error.key, str(error))
    except DiagnoseError as error:
        table.note("values", str(error))
    return None


def _only_known(table: Table, kind: type[Kind], derived: Mapping[str, Any]) -> None:
    typed = [p.name for p in kind.parameters if p.typed]
    facts = [fact.name for fact in kind.facts]
    known = [*ENTRY_KEYS, "name", *kind.references, *typed, *facts]
    for key in derived:
        if key in typed or key in facts:
            continue
        if any(p.name == key for p in kind.parameters):
            table.note(key, "only faults and actions move this; a sheet cannot set it")
        else:
            table.note(shown(key), f"a {kind.name} has no such key{did_you_mean(key, known)}")


def _value(table: Table, kind: type[Kind], parameter: Parameter, given: Mapping[str, Any]) -> float:
    raw = given.get(parameter.name, parameter.default)
    if raw is None:
        if parameter.name not in table.raw:
            example = EXAMPLES.get(parameter.unit, "")
            table.note(
                parameter.name, f'a {kind.name} needs it; write {parameter.name} = "{example}"'
            )
        return 1.0
    if isinstance(raw, float | int):
        return _inside(table, parameter, float(raw))
    value = quantity(table, parameter.name, raw, parameter.unit)
    return 1.0 if value is None else _inside(table, parameter, value)


def _inside(table: Table, parameter: Parameter, value: float) -> float:
    low = parameter.least is not None and value < parameter.least
    high = parameter.most is not None and value > parameter.most
    if low or high or not isfinite(value):
        unit = "" if parameter.unit == "1" else f" {parameter.unit}"
        bound = f"at least {parameter.least:g}" if low else f"at most {parameter.most:g}"
        table.note(
            parameter.name,
            f"{value:g}{unit} is too {'small' if low else 'large'}; it is {bound}{unit}",
        )
    return value


def quantity(table: Table, key: str, text: str, unit: str) -> float | None:
    """A quantity typed under ``key`` in SI; noted and None if it is none."""
    if unit != "1" and BARE.match(text):
        table.note(key, no_unit(shown(text.strip()), unit))
        return None
    try:
        return parse_quantity(text, unit)
    except QuantityError as error:
        table.note(key, str(error))
        return None


def _assumed(
    kind: type[Kind], texts: Mapping[str, Any], derived: Mapping[str, Any], said: frozenset[str]
) -> frozenset[str]:
    sources = texts.keys() - derived.keys()
    from_sources = derived.keys() - texts.keys() if sources & said else set()
    return frozenset(
        p.name
        for p in kind.parameters
        if p.typed and p.name not in said and p.name not in from_sources
    )


def _tolerances(table: Table, kind: type[Kind], values: Mapping[str, float]) -> dict[str, float]:
    texts = dict(table.table("tolerances", '{ lift_off = "2 %" }'))
    names = [p.name for p in kind.parameters]
    for key in [key for key in texts if key not in names]:
        table.note("tolerances", f"a {kind.name} has no '{shown(key)}'{did_you_mean(key, names)}")
    if "tolerance" in table.raw:
        if names:
            texts.setdefault(names[0], table.text("tolerance", example="0.1 %"))
        else:
            table.note("tolerance", f"a {kind.name} has no value that could have one")
    limits = {p.name: _limit(table, p, texts.get(p.name), values[p.name]) for p in kind.parameters}
    return {name: limit for name, limit in limits.items() if limit}


def _limit(table: Table, parameter: Parameter, text: str | None, nominal: float) -> float:
    """Limit of error in the unit of the parameter."""
    if text is None:
        return parameter.tolerance * (abs(nominal) if parameter.relative else 1.0)
    share = "%" in text or (parameter.unit == "1" and parameter.relative)
    key = f"tolerance of {parameter.name}"
    if not share and BARE.match(text):
        bare = shown(text.strip())
        table.note(key, f'"{bare}" has no unit; write "{bare} %" or "{bare} {parameter.unit}"')
        return 0.0
    # A limit of a temperature is a difference: 15 degC are 15 K here.
    unit = "K" if parameter.unit == "degC" else parameter.unit
    limit = quantity(table, key, text, "1" if share else unit)
    if limit is None:
        return 0.0
    if limit < 0 or (share and limit > 1):
        table.note(key, f"'{shown(text)}' is no limit of error; write \"0.1 %\"")
        return 0.0
    absolute = not share or (parameter.unit == "1" and not parameter.relative)
    limit = limit if absolute else limit * abs(nominal)
    if (parameter.least or 0.0) > 0 and 0 < nominal <= limit:
        # what can never be nothing: at that limit the circuit would divide by it
        table.note(key, f"'{shown(text)}' may leave nothing of the value; write a smaller limit")
        return 0.0
    return limit
