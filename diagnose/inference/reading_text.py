"""Measurements and readings as the one line that parses back to them."""

from __future__ import annotations

from diagnose.inference.ammeter import metered
from diagnose.inference.conditions import exact
from diagnose.inference.measurement import (
    Applied,
    Condition,
    Jumper,
    Measurement,
    Reading,
    scale_of,
    states_of,
)
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.reading_names import ends, find_node
from diagnose.loops.loop import Loop
from diagnose.quantities import format_quantity

_WORDS = {"overload": "OL", "impossible": "not possible"}


def describe(item: Measurement | Reading, loop: Loop) -> str:
    """The canonical line of a measurement, or of a reading with its value."""
    if isinstance(item, Measurement):
        return _tail(_head(item, loop), item.condition, loop)
    seen = item.measurement
    return _tail(f"{_head(seen, loop)} {value_text(item, loop)}", seen.condition, loop)


def _head(measurement: Measurement, loop: Loop) -> str:
    if measurement.function == "shows":
        return measurement.points[0]
    names = _series(measurement, loop) if measurement.function == "mA" else measurement.points
    return " ".join((measurement.function, *names))


def _series(measurement: Measurement, loop: Loop) -> tuple[str, ...]:
    """The two nodes if leads reach both, else the part between them where that says the same."""
    if all(loop.place_of(at) for at in measurement.points):
        return measurement.points
    for part in metered(loop):
        if ends(part) == measurement.points and not find_node(part.name, loop):
            return (part.name,)
    return measurement.points


def _tail(head: str, condition: Condition, loop: Loop) -> str:
    return f"{head} with {describe_condition(condition, loop)}" if condition else head


def describe_condition(condition: Condition, loop: Loop) -> str:
    """The clauses of a condition, as they are typed behind ``with``."""
    return " and ".join(_clause(item, loop) for item in condition)


def _clause(item: Applied | Jumper, loop: Loop) -> str:
    if isinstance(item, Jumper):
        return f"jumper {item.a} {item.b}"
    if item.value is None:
        return f"{item.part} {item.action}"
    actions = {action.name: action for action in loop.part(item.part).kind.actions}
    return f"{item.part} {item.action} {exact(item.value, actions[item.action].unit)}"


def value_text(reading: Reading, loop: Loop) -> str:
    """The value of a reading as it is typed."""
    if reading.sort in _WORDS:
        return _WORDS[reading.sort]
    states = states_of(reading.measurement, loop)
    if states is not None:
        return states.word(reading.sort == "lit")
    scale = scale_of(reading.measurement, loop)
    unit = FUNCTION_UNITS.get(reading.measurement.function, scale.unit)
    if reading.sort == "span":
        ends = reading.value - reading.spread, reading.value + reading.spread
        return "..".join(exact(scale.value(end), unit) for end in ends)
    wide = scale.value(reading.spread) - scale.value(0.0)
    stated = f" +- {exact(wide, unit)}" if reading.spread else ""
    return exact(scale.value(reading.value), unit) + stated


def shown_text(reading: Reading, loop: Loop) -> str:
    """The value of a reading in the unit of what is due beside it: ``142.8 mV``, ``1.2 kohm``."""
    unit = FUNCTION_UNITS.get(reading.measurement.function, "")
    if reading.sort != "value" or reading.spread or unit not in ("V", "ohm"):
        return value_text(reading, loop)
    shown = format_quantity(reading.value, unit, 4).rpartition(" ")[2]
    by = {"m": 1e-3, "k": 1e3, "M": 1e6}.get(shown.removesuffix(unit), 1.0)
    return f"{reading.value / by + 0.0:.12g} {shown}"
