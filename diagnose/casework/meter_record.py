"""A meter as plain data, and back: the accuracy that a case was judged with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

from diagnose.casework.checks import CaseError, number, table, text
from diagnose.inference.meters import GENERIC, Meter, MeterFunction

_PLAIN = tuple(item.name for item in fields(Meter) if item.name not in ("name", "functions"))


def meter_to_record(meter: Meter) -> dict[str, Any]:
    """Everything of a meter as JSON holds it, SI."""
    functions = {
        name: {**asdict(function), "ranges": list(function.ranges)}
        for name, function in meter.functions.items()
    }
    plain = {name: getattr(meter, name) for name in _PLAIN}
    return {"name": meter.name, **plain, "functions": functions}


def meter_from_record(record: Mapping[str, Any]) -> Meter:
    """The meter of a record; the generic one for an empty record.  CaseError if damaged."""
    if not record:
        return GENERIC
    unknown = sorted(set(record) - {"name", "functions", *_PLAIN})
    if unknown:
        raise CaseError(f"meter: there is no field '{unknown[0][:40]}'")
    plain = {name: _positive(record[name], name) for name in _PLAIN if name in record}
    functions = {
        key: _function(table(value, f"meter: {key}"), f"meter: {key}")
        for key, value in table(record.get("functions"), "meter: functions").items()
    }
    name = text(record.get("name"), "meter: name")
    return Meter(name, {**GENERIC.functions, **functions}, **plain)


def _function(record: dict[str, Any], where: str) -> MeterFunction:
    ranges = record.get("ranges")
    if not isinstance(ranges, list) or not 1 <= len(ranges) <= 20:
        raise CaseError(f"{where}: a list of ranges belongs here")
    full = tuple(_positive(item, where) for item in ranges)
    if list(full) != sorted(set(full)):
        raise CaseError(f"{where}: the ranges do not rise")
    percent, counts = (
        _positive(record.get(key), f"{where}: {key}") for key in ("percent", "counts")
    )
    return MeterFunction(percent, counts, full, int(_positive(record.get("display"), where)))


def _positive(value: object, where: str) -> float:
    found = number(value, where)
    if not 0 <= found <= 1e15:
        raise CaseError(f"{where}: {found:g} is out of bounds")
    return found
