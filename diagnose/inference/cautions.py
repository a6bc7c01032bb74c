"""Which cautions a step brings: by what is read, where, in which state, and at what volts."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.inference.ammeter import opens
from diagnose.inference.caution_texts import CAUTIONS, STANDING, Caution
from diagnose.inference.hypotheses import action_of
from diagnose.inference.measurement import Applied, Jumper, Measurement
from diagnose.inference.reading_names import volts
from diagnose.loops.facts import SOURCE
from diagnose.loops.kind import Action
from diagnose.loops.loop import EARTH, Loop, Part

__all__ = [
    "CAUTIONS",
    "STANDING",
    "Caution",
    "areas",
    "beyond_extra_low",
    "cautions_for",
    "cautions_of",
    "disturbs",
    "needs_for",
    "of_wiring",
]

EXTRA_LOW = {"alternating": 50.0, "direct": 120.0}
"""Volts, rms if alternating, up to which a circuit is an extra-low one (IEC 61140, from memory)."""

SAFE = "safe"
"""The area of a place that is not classified."""

BY_EYE = frozenset({"shows", "process"})
"""Functions that need no meter and touch no terminal."""


_BY_FUNCTION = {
    "V": ("live volts",),
    "VAC": ("live volts",),
    "Vlow": ("live volts", "low impedance"),
    "mA": ("live volts", "open loop", "series current", "restore"),
    "clamp": ("live volts",),
    "ohm": ("de-energise", "no insulation tester"),
}
_BY_ROLE = {"trip": "trip", "control": "manual", "output": "output"}
_NEED_OF_ROLE = {
    "trip": "trip bypass authorised and recorded",
    "control": "loop in manual",
    "output": "final element isolated or blocked in",
}
_NEED_OF_CAUTION = {
    "mains work": "licensed person, feed isolated and proved dead",
    "zone": "gas test and permit",
    "de-energise": "supply isolated, locked and proved dead",
    "process side": "process connection isolated by operations",
}


def cautions_for(measurement: Measurement, loop: Loop) -> tuple[str, ...]:
    """Keys of ``CAUTIONS`` for one step, in the order of the table."""
    found = {
        *_of_function(measurement, loop),
        *_of_condition(measurement, loop),
        *_of_area(measurement, loop),
        *_of_voltage(measurement, loop),
    }
    if measurement.function not in BY_EYE:
        found.update(of_wiring(loop))
    if disturbs(measurement, loop):
        found.update(_BY_ROLE[role] for role in loop.role if role in _BY_ROLE)
    return tuple(key for key in CAUTIONS if key in found)


def of_wiring(loop: Loop) -> tuple[str, ...]:
    """Keys that belong to any work on the wires of a loop: of its parts, each once.

    What is made to feed intrinsically safe wiring, and feeds a classified area, is taken to do so
    whether its marks are on the sheet or not.
    """
    keys = [key for part in loop.parts for key in part.cautions]
    feeds = any(part.kind.facts == SOURCE for part in loop.parts)
    if feeds and any(place.area != SAFE for place in loop.places):
        keys.append("intrinsic safety")
    return tuple(dict.fromkeys(keys))


_ON_PAPER = (
    *STANDING,
    "de-energise",
    "live volts",
    "series current",
    "no insulation tester",
    "restore",
)


def cautions_of(loop: Loop) -> tuple[str, ...]:
    """Keys of what a printed sheet of a loop must say, whatever is measured; in table order."""
    found = {*_ON_PAPER, *of_wiring(loop)}
    found.update(_BY_ROLE[role] for role in loop.role if role in _BY_ROLE)
    if any(place.area != SAFE for place in loop.places):
        found.update(("zone", "enclosure"))
    if beyond_extra_low(loop):
        found.update(("mains", "mains work"))
    return tuple(key for key in CAUTIONS if key in found)


def needs_for(measurement: Measurement, loop: Loop) -> tuple[str, ...]:
    """What must be agreed or done before a step, the people first.

    To turn a bypass key disturbs nobody, and leaves the plant without its trip: it is authorised.
    """
    needs: list[str] = []
    if disturbs(measurement, loop):
        needs.append("operator told")
        needs += [need for role, need in _NEED_OF_ROLE.items() if role in loop.role]
    elif any("trip" in act.cautions for _, act in _acts(measurement, loop)):
        needs += ["operator told", _NEED_OF_ROLE["trip"]]
    shown = cautions_for(measurement, loop)
    return (*needs, *(need for key, need in _NEED_OF_CAUTION.items() if key in shown))


def disturbs(measurement: Measurement, loop: Loop) -> bool:
    """Whether whoever uses the signal will notice the step."""
    return (
        measurement.function == "Vlow"
        or opens(measurement, loop)
        or any(isinstance(item, Jumper) for item in measurement.condition)
        or any(act.interrupts or act.moves_signal for _, act in _acts(measurement, loop))
    )


def _of_function(measurement: Measurement, loop: Loop) -> tuple[str, ...]:
    """Keys of a function; a meter that opens nothing needs no word on the open loop."""
    keys = _BY_FUNCTION.get(measurement.function, ())
    if measurement.function != "mA" or opens(measurement, loop):
        return keys
    return tuple(key for key in keys if key != "open loop")


def beyond_extra_low(loop: Loop) -> bool:
    """Whether the volts of a loop are dangerous to touch."""
    return volts(loop) > EXTRA_LOW["alternating" if loop.alternating else "direct"]


def areas(measurement: Measurement, loop: Loop) -> tuple[str, ...]:
    """Classified areas in which hands touch something, each once."""
    known = {place.name: place.area for place in loop.places}
    found = (known.get(place, SAFE) for place in _places(measurement, loop))
    return tuple(dict.fromkeys(area for area in found if area != SAFE))


def _acts(measurement: Measurement, loop: Loop) -> Iterator[tuple[Part, Action]]:
    """Parts that something is done to, and what."""
    for item in measurement.condition:
        if isinstance(item, Applied):
            yield loop.part(item.part), action_of(loop, item.part, item.action)


def _places(measurement: Measurement, loop: Loop) -> Iterator[str]:
    """Places where hands touch something; looking at a display touches nothing."""
    nodes: list[str] = []
    for item in measurement.condition:
        nodes += (item.a, item.b) if isinstance(item, Jumper) else ()
    if measurement.function == "clamp":
        yield loop.part(measurement.points[0]).place
    elif measurement.function not in BY_EYE:
        nodes += measurement.points
    yield from (place for node in nodes if (place := loop.place_of(node)))
    yield from (part.place for part, _ in _acts(measurement, loop))


def _of_condition(measurement: Measurement, loop: Loop) -> Iterator[str]:
    """Keys that the state of the loop brings: what was done to get there."""
    for part, action in _acts(measurement, loop):
        yield from action.cautions
        yield "restore"
        if EARTH in part.pins.values():
            yield "earth"
    if any(isinstance(item, Jumper) for item in measurement.condition):
        yield from ("jumper", "live volts", "restore")


def _of_voltage(measurement: Measurement, loop: Loop) -> Iterator[str]:
    """Keys that a voltage beyond the extra-low brings, for hands that touch the circuit."""
    if not beyond_extra_low(loop):
        return
    joins = any(isinstance(item, Jumper) for item in measurement.condition)
    if measurement.function not in BY_EYE or joins:
        yield "mains"
    opens = any(action.interrupts for _, action in _acts(measurement, loop))
    if measurement.function in ("mA", "ohm") or joins or opens:
        yield "mains work"


def _of_area(measurement: Measurement, loop: Loop) -> Iterator[str]:
    if areas(measurement, loop):
        yield from ("zone", "enclosure")
        injects = any("inject" in act.cautions for _, act in _acts(measurement, loop))
        if measurement.function == "ohm" or injects:
            yield "added energy"
