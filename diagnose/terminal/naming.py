"""Faults, places and steps in the words of the loop sheet."""

from __future__ import annotations

from math import inf, isinf

from diagnose.inference.ammeter import opens
from diagnose.inference.candidates import MANNED
from diagnose.inference.measurement import Applied, Condition, Jumper, Measurement, states_of
from diagnose.inference.meters import GENERIC
from diagnose.inference.ranking import Ranked
from diagnose.inference.reading_text import describe_condition
from diagnose.loops.loop import Loop, Part
from diagnose.terminal.wording import listed

SOUND = "loop electrically sound"


def part_of(name: str | None, loop: Loop) -> Part | None:
    """The part of a name, or None where the loop has none such."""
    return next((part for part in loop.parts if part.name == name), None)


def fault_name(part: str | None, fault: str, loop: Loop) -> str:
    """``R1 drift (sense resistor)``; the sound loop has a name of its own."""
    if part is None:
        return SOUND if fault == "none" else fault
    found = part_of(part, loop)
    title = (found.title or found.kind.title) if found else ""
    return f"{part} {fault} ({title})" if title else f"{part} {fault}"


def ranked_name(item: Ranked, loop: Loop) -> str:
    """The name of a hypothesis, both faults of a pair included."""
    keys = ((item.part, item.fault), *item.also)
    return " together with ".join(fault_name(part, fault, loop) for part, fault in keys)


def short_name(item: Ranked) -> str:
    """``R1 drift``: the name without titles."""
    keys = ((item.part, item.fault), *item.also)
    return " + ".join(SOUND if part is None else f"{part} {fault}" for part, fault in keys)


def looked_at(part: Part) -> str:
    """The title of a part, and what of it shows a state: ``trip relay, flag of the relay``."""
    title, shows = part.title or part.kind.title, part.kind.shows
    own = shows is None or shows.title in ("", "own display")
    return title if own or shows is None else f"{title}, {shows.title}"


def place_title(name: str, loop: Loop) -> str:
    """The title of a place, or its name."""
    return next((place.title for place in loop.places if place.name == name), name) or name


def preparation(condition: Condition, loop: Loop) -> str:
    """What to do to the loop before the reading, in words; empty for the loop as it is."""
    return listed([_deed(item, loop) for item in condition])


def _deed(item: Applied | Jumper, loop: Loop) -> str:
    text = describe_condition((item,), loop)
    if isinstance(item, Jumper):
        return text
    part = loop.part(item.part)
    action = next(action for action in part.kind.actions if action.name == item.action)
    # "wire lifted" behind "W3+.JB9 lifted" says nothing new: then the part says what it is.
    clear = action.title if not action.title.endswith(action.name) else part.title
    return f"{text} ({clear or part.kind.title}; {place_title(part.place, loop)})"


def instruction(measurement: Measurement, loop: Loop, largest: float, least: float = inf) -> str:
    """What to do with the meter: jack, range, leads.

    ``largest`` is the largest value to expect, SI; ``least`` the end of the lowest outcome.
    """
    function, points = measurement.function, measurement.points
    if function == "process":
        return "find out the true process value, by gauge, dip or sample"
    if function == "shows":
        part = loop.part(points[0])
        states = states_of(measurement, loop)
        if states is not None:
            how = "see, or ask by radio," if part.read_at == MANNED else "see"
            what = f"{how} how {part.name} ({looked_at(part)}) is: {states.either}{states.note}"
            return what + (_delay(loop) if measurement.condition else "")
        how = "read, or ask by radio," if part.read_at == MANNED else "read"
        return f"{how} what {part.name} ({part.title or part.kind.title}) shows"
    if function == "clamp":
        part = loop.part(points[0])
        how = "set the clamp to AC" if loop.alternating else "zero the clamp"
        name = f"{part.name} ({part.title or part.kind.title})"
        return f"{how}, then close it round {name} and no other core"
    across = function == "mA" and not opens(measurement, loop)
    text = _METER["mA across" if across else function]
    text = text.replace("DC ", "AC ", 1) if loop.alternating else text
    return text.format(a=points[0], b=points[1], range=_range(function, largest, least))


def _delay(loop: Loop) -> str:
    """How long a trip takes to come in, behind what is to be seen once something was done to it."""
    waits = (p for p in loop.parts if p.kind.tries is not None and p.values.get("delay"))
    return next((f"; {p.name} takes {p.values['delay']:g} s to trip" for p in waits), "")


_METER = {
    "V": "DC volts, V jack, {range}: red lead on {a}, black lead on {b}",
    "Vlow": "DC volts at low impedance, V jack, {range}: red lead on {a}, black lead on {b}",
    "VAC": "AC volts, V jack, {range}: leads on {a} and {b}",
    "mA": "DC milliamperes, mA jack, {range}: open between {a} and {b} and put the meter in, "
    "red lead on {a}, black lead on {b}; then back to the V jack",
    "mA across": "DC milliamperes, mA jack, {range}: open nothing, red lead on {a}, black lead on "
    "{b}; then back to the V jack",
    "ohm": "ohms, V jack, {range}: leads on {a} and {b}",
}


def _range(function: str, largest: float, least: float) -> str:
    """The smallest range of a common meter that holds a value; a lower one may do once it is seen.

    What is read on too wide a range has fewer digits than the belief counts with.
    """
    if function == "ohm" or (function != "mA" and isinf(largest)):
        return "auto range"
    ranges = GENERIC.functions[function].ranges
    fit, low = (
        next((full for full in ranges if abs(value) <= full), ranges[-1])
        for value in (largest, least)
    )
    down = ", lower if it fits" if low < fit and function != "mA" else ""  # in series: not live
    if fit < 1:
        return f"{fit * 1e3:g} m{'A' if function == 'mA' else 'V'} range{down}"
    return f"{fit:g} V range{down}"
