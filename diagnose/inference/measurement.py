"""What was read, where, and in which state of the loop; what was complained of."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from diagnose.inference.moving import MOVING
from diagnose.loops.loop import Loop, Scale
from diagnose.loops.states import LIT, States

_Item = TypeVar("_Item")

COMPLAINTS = {
    "reads low": "shows less than it should",
    "reads high": "shows more than it should",
    "reads zero": "shows nothing, or stands at or below zero",
    "frozen": "does not move",
    "erratic": "jumps or wanders",
    "clips": "stops short of full scale",
    "disagree": "receivers of the same signal disagree",
    "tripped": "a trip came in",
    "no trip": "a trip should have come in and did not",
    "does not follow": "the final element does not go where it is sent",
    "stays on": "does not go off when it should",
    "stays off": "does not come on when it should",
}
"""Known complaints and what each means."""

CONTEXTS = {
    "work": "somebody worked on the loop lately",
    "rain": "rain, washing-down or flooding",
    "lightning": "lightning nearby",
    "frost": "frost",
    "shared supply": "other loops on the same supply are affected",
    MOVING: "the process moves while it is read; better with its size: moving 3 %",
}
"""Known context facts and what each means."""


def contexts_of(loop: Loop) -> dict[str, str]:
    """The context facts that say something of a loop: one of two states does not move between."""
    return {fact: what for fact, what in CONTEXTS.items() if fact != MOVING or not loop.states}


@dataclass(frozen=True, slots=True)
class Applied:
    """A deliberate action on a part; ``value`` in SI where the action has a unit."""

    part: str
    action: str
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Jumper:
    """A wire clipped across two points."""

    a: str
    b: str


@dataclass(frozen=True, slots=True)
class Cleared:
    """A part that was looked at and does not have a fault, or has it no more: it was put right.

    ``seen`` is what was seen there, in free words.
    """

    part: str
    fault: str
    seen: str = field(default="", compare=False)

    @property
    def text(self) -> str:
        """The line that says so."""
        return f"good {self.part} {self.fault}"


Condition = tuple[Applied | Jumper, ...]
"""The state a reading was taken in, sorted; empty means the loop as it is."""


def normal_condition(items: Iterable[Applied | Jumper]) -> Condition:
    """The one form of a condition: sorted by ``repr``, each item once, jumpers one way round."""
    turned = {
        Jumper(*sorted((item.a, item.b))) if isinstance(item, Jumper) else item for item in items
    }
    return tuple(sorted(turned, key=repr))


def jumpers_of(condition: Condition) -> Condition:
    """The jumpers of a condition."""
    return tuple(item for item in condition if isinstance(item, Jumper))


def alike(items: Iterable[_Item], key: Callable[[_Item], Hashable]) -> list[list[_Item]]:
    """Items sorted into groups of one key, in the order in which they come."""
    found: dict[Hashable, list[_Item]] = {}
    for item in items:
        found.setdefault(key(item), []).append(item)
    return list(found.values())


@dataclass(frozen=True, slots=True)
class Measurement:
    """One thing that can be read.

    ``function`` is ``V``, ``Vlow``, ``VAC``, ``mA``, ``clamp``, ``ohm``, ``shows`` or ``process``.
    ``points`` are two nodes for volts and ohms, the two nodes of an openable part for ``mA``
    (current counts from the first to the second), the part for ``clamp`` and ``shows``, nothing
    for ``process``.
    """

    function: str
    points: tuple[str, ...]
    condition: Condition = ()


def volts_of(loop: Loop) -> str:
    """The meter function that reads the volts of a loop: ``V``, or ``VAC`` where it alternates."""
    return "VAC" if loop.alternating else "V"


def is_hum(measurement: Measurement, loop: Loop) -> bool:
    """Whether alternating volts were read where the loop has none of its own."""
    return measurement.function == "VAC" and not loop.alternating


def scale_of(measurement: Measurement, loop: Loop) -> Scale:
    """The scale on which a display, or the process value, is read; a share of range for most."""
    return loop.scale(measurement.points[0]) if measurement.function == "shows" else Scale()


def states_of(measurement: Measurement, loop: Loop) -> States | None:
    """The words of a display that shows a state; None for all else that can be read."""
    if measurement.function != "shows":
        return None
    shows = loop.part(measurement.points[0]).kind.shows
    return shows.states if shows is not None and shows.what == "state" else None


def ends_of(measurement: Measurement, loop: Loop) -> Mapping[str, float]:
    """The words of a display that stands at one of its ends -> where that is; mostly none."""
    if measurement.function != "shows":
        return {}
    shows = loop.part(measurement.points[0]).kind.shows
    if shows is None or shows.what == "state" or shows.states is LIT:
        return {}
    ends = {"lit": shows.most, "dark": shows.least}
    return {word: ends[sort] for word, sort in shows.states.words.items()}


@dataclass(frozen=True, slots=True)
class Reading:
    """What a measurement gave.

    ``sort`` is ``value``, ``span``, ``overload``, ``lit``, ``dark`` or ``impossible``; ``value``
    is in SI, or a fraction of its scale for ``shows`` and ``process`` (the middle of a span);
    ``spread`` is half the width of a span, or the stated ``+-`` of a process value; ``rounding``
    half a unit of the last digit that was typed.
    """

    measurement: Measurement
    sort: str
    value: float = 0.0
    spread: float = 0.0
    text: str = ""
    rounding: float = field(default=0.0, compare=False)


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the loop was reported for; ``name`` is a key of ``COMPLAINTS``."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Context:
    """What surrounds the complaint; ``fact`` is a key of ``CONTEXTS``."""

    fact: str
    text: str
