"""Cautions: what a step needs first, and when to stop.  Reminders, never permission.

The texts defer to site procedures, local codes and a licensed person; ``family`` names the
standards that each is about, for whoever wants to read on (common practice where it says so).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.inference.ammeter import opens
from diagnose.inference.hypotheses import action_of
from diagnose.inference.measurement import Applied, Jumper, Measurement
from diagnose.loops.kind import Action
from diagnose.loops.loop import EARTH, Loop, Part

SAFE = "safe"
"""The area of a place that is not classified."""

BY_EYE = frozenset({"shows", "process"})
"""Functions that need no meter and touch no terminal."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One reminder; ``acknowledge`` marks the red ones, which must be answered every time."""

    key: str
    text: str
    family: str
    acknowledge: bool = False


_ALL = (
    Caution(
        "defer",
        "These are reminders only. Site procedures, local codes and a licensed person decide.",
        "site procedures, local codes",
    ),
    Caution(
        "owner",
        "Needs an answer first: what does this signal feed, and what does the plant do if it falls "
        "to zero, rises to the top or stands still? Tell the operator before and after.",
        "site permit; IEC 61511",
    ),
    Caution(
        "stop",
        "Stop until somebody else agrees: thunder, water in the enclosure, working alone where two "
        "are required, too tired, or not sure that this is the right loop.",
        "site procedures",
    ),
    Caution(
        "trip",
        "This loop feeds a trip. Stop until its bypass is authorised, recorded, time-limited and "
        "shown, with the compensating measure in place. Take it off again and confirm it.",
        "IEC 61511-1",
        acknowledge=True,
    ),
    Caution(
        "manual",
        "This loop feeds a controller. It needs manual, agreed with the operator; look for "
        "cascades, ratios and others that read the same signal.",
        "common practice",
        acknowledge=True,
    ),
    Caution(
        "zone",
        "Hazardous area: needs the area released, a gas test and a permit, and a meter, torch and "
        "radio certified for it. An ordinary meter stays out, on intrinsically safe wiring too.",
        "IEC 60079-14, IEC 60079-17, NEC 504",
        acknowledge=True,
    ),
    Caution(
        "enclosure",
        "Stop until the permit covers opening this enclosure: a flameproof one stays shut while "
        "live. Mind seals, joints and bolts when closing.",
        "IEC 60079-1, IEC 60079-17",
        acknowledge=True,
    ),
    Caution(
        "added energy",
        "Ohms ranges, current sources and laptops put energy into the wiring. In a hazardous area "
        "this needs a certificate that covers it; otherwise stop.",
        "IEC 60079-11, IEC 60079-14, IEC 60079-25",
        acknowledge=True,
    ),
    Caution(
        "output",
        "This loop moves a final element. Needs the line of fire clear, stored air and springs "
        "dealt with, and the operator's word on where it will go.",
        "lock-out rules; IEC 61511",
        acknowledge=True,
    ),
    Caution(
        "air",
        "Compressed air: needs the supply shut and the line bled before anything is loosened, the "
        "tube held, eyes covered. It may be nitrogen: stop in a closed space.",
        "ISO 4414, lock-out rules",
        acknowledge=True,
    ),
    Caution(
        "process side",
        "Work on the process connection: needs operations to isolate, drain and vent, and to say "
        "what is inside. Stop if a valve passes.",
        "lock-out rules, site permit",
        acknowledge=True,
    ),
    Caution(
        "inject",
        "The plant will believe this current. Needs every user of the signal agreed first; one "
        "source only in the loop; put the transmitter back to normal afterwards.",
        "common practice",
        acknowledge=True,
    ),
    Caution(
        "by hand",
        "The plant will believe this state. Needs every user of the signal agreed first, fingers "
        "clear of what may move by itself; put everything back afterwards.",
        "common practice",
        acknowledge=True,
    ),
    Caution(
        "earth",
        "An earth or shield may be the only protection. Needs a permit, one at a time, tagged, put "
        "back and measured.",
        "IEC 60079-14, IEC 60364",
        acknowledge=True,
    ),
    Caution(
        "jumper",
        "A jumper across the wrong terminals shorts the loop or earths it. Needs both points read "
        "out loud first, a fused lead where there is one, and a note to take it off.",
        "common practice",
    ),
    Caution(
        "open loop",
        "The signal falls to nothing while the loop is open: expect trips and moving valves. Needs "
        "a make-before-break link where there is one, and a note of what was opened.",
        "common practice",
    ),
    Caution(
        "series current",
        "Needs the meter's current fuse proved first and the lead in the right jack. Current jacks "
        "across two live points are a short. Move the lead back before the next volts.",
        "IEC 61010-2-033",
    ),
    Caution(
        "low impedance",
        "Low-impedance volts load the loop by milliamperes: the signal will jump and may trip. "
        "Needs another way on intrinsically safe wiring.",
        "common practice",
    ),
    Caution(
        "de-energise",
        "Needs the supply isolated, locked, tagged and proved dead: prove the meter, test, prove "
        "it again. The signal falls to nothing, and other loops may share this supply.",
        "NFPA 70E, EN 50110-1, OSHA 1910.147",
    ),
    Caution(
        "no insulation tester",
        "Ohms with the multimeter only. Stop before an insulation tester: its volts destroy "
        "transmitters, receivers, barriers and protectors that are still connected.",
        "IEC 60079-17, IEC 60364-6",
    ),
    Caution(
        "live volts",
        "Mains and relay circuits may share these terminals. Needs rated leads, fingers behind the "
        "guards, meter category and fuse fit for the place, the jacks checked.",
        "IEC 61010-2-033, NFPA 70E, EN 50110-1",
    ),
    Caution(
        "restore",
        "Needs putting back what was touched: links, wires, torque, covers, jumpers. Controller as "
        "it was, bypass off, function checked, all of it written down.",
        "IEC 61511, site procedures",
    ),
)

CAUTIONS: dict[str, Caution] = {caution.key: caution for caution in _ALL}
"""Every caution by key, in the order in which they are shown."""

STANDING = ("defer", "owner", "stop")
"""Shown once, before anything is measured."""

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
    }
    if disturbs(measurement, loop):
        found.update(_BY_ROLE[role] for role in loop.role if role in _BY_ROLE)
    return tuple(key for key in CAUTIONS if key in found)


def needs_for(measurement: Measurement, loop: Loop) -> tuple[str, ...]:
    """What must be agreed or done before a step, the people first."""
    needs: list[str] = []
    if disturbs(measurement, loop):
        needs.append("operator told")
        needs += [need for role, need in _NEED_OF_ROLE.items() if role in loop.role]
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


def _of_area(measurement: Measurement, loop: Loop) -> Iterator[str]:
    if areas(measurement, loop):
        yield from ("zone", "enclosure")
        injects = any("inject" in act.cautions for _, act in _acts(measurement, loop))
        if measurement.function == "ohm" or injects:
            yield "added energy"
