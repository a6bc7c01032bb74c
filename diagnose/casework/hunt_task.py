"""One measurement to be taken, and what taking it leaves altered."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from diagnose.casework.case import Open
from diagnose.errors import ReadingError
from diagnose.inference.ammeter import opens
from diagnose.inference.cautions import CAUTIONS
from diagnose.inference.hypotheses import action_of
from diagnose.inference.measurement import Applied, Jumper, Measurement, Reading
from diagnose.inference.ranking import Advice
from diagnose.inference.reading_text import describe_condition
from diagnose.inference.readings import describe, parse_line, value_text
from diagnose.loops.loop import Loop
from diagnose.loops.names import without_hyphen

IN_SERIES = "opened for the meter"
"""What a reading in series leaves to be closed again."""


@dataclass(frozen=True, slots=True)
class Task:
    """One measurement to be taken: an advised step, or reading ``replaces`` once more.

    ``was`` is the line of the reading that it replaces.
    """

    measurement: Measurement
    text: str
    place: str
    minutes: float
    cautions: tuple[str, ...]
    advice: Advice | None = None
    replaces: int | None = None
    was: str = ""

    @property
    def red(self) -> tuple[str, ...]:
        """The cautions that must be answered before the step, every time."""
        return tuple(key for key in self.cautions if CAUTIONS[key].acknowledge)

    def line(self, value: str) -> str:
        """The reading line of a value: ``3.02`` -> ``V X21:7 X20:0 3.02``."""
        return with_value(self.text, value)


def task_of(advice: Advice) -> Task:
    """An advised measurement as a task."""
    return Task(
        advice.measurement, advice.text, advice.place, advice.minutes, advice.cautions, advice
    )


def with_value(measurement: str, value: str) -> str:
    """A measurement line with a value put in before its condition.

    >>> with_value("V X21:7 X20:0 with LT-214 driven 4 mA", "1.002")
    'V X21:7 X20:0 1.002 with LT-214 driven 4 mA'
    """
    head, with_, condition = measurement.partition(" with ")
    return f"{head} {value}{with_}{condition}"


def altered(thing: Applied | Jumper, loop: Loop) -> tuple[str, str]:
    """Item and text of something that was done to the loop: ``wire lifted``, ``W3+.X21``.

    What an action is set to stays apart: a transmitter that drives 4 mA and then 8 mA is one item.
    """
    if isinstance(thing, Jumper):
        return "jumper", f"{thing.a} to {thing.b}"
    return action_of(loop, thing.part, thing.action).title, thing.part


def overtaken(title: str, name: str, items: Iterable[Open], loop: Loop) -> list[Open]:
    """Which open items something done to the loop has taken the place of.

    Two states of one hand, such as a command that was on and is off now, are one thing to be put
    back.  What is set to a value stays: a transmitter left in its output test is still in it when
    a source stands in for it.
    """
    states = {
        action.title: frozenset(change.parameter for change in action.changes)
        for part in loop.parts
        for action in part.kind.actions
        if part.name == name and not action.unit
    }
    moved = states.get(title)
    same = {other for other, moves in states.items() if moves == moved and other != title}
    return [old for old in items if old.text == name and old.item in same]


def left_altered(measurement: Measurement, loop: Loop) -> tuple[tuple[str, str], ...]:
    """Items and texts of all that a measurement leaves to be put back."""
    found = [altered(thing, loop) for thing in measurement.condition]
    if opens(measurement, loop):
        found.append((IN_SERIES, " to ".join(measurement.points)))
    return tuple(found)


def as_written(reading: Reading, loop: Loop) -> str:
    """The text of a reading with names, decimal sign and unit as they are written here.

    ``lr214 68,5`` becomes ``LR-214 68.5 %``: lists and notes then hold one spelling.  The digits
    stay as they were read.
    """
    text = with_unit(reading, loop)
    head, with_, condition = text.partition(" with ")
    bare = replace(reading.measurement, condition=())
    words, names = head.split(), describe(bare, loop).split()
    if _alike(words[: len(names)], names):
        words[: len(names)] = names
    value = [_COMMA.sub(".", word) for word in words[len(names) :]]
    known = describe_condition(reading.measurement.condition, loop)
    told = known if _alike(condition.split(), known.split()) else condition
    whole = f"{' '.join([*words[: len(names)], *value])}{with_}{told}"
    return whole if _says(whole, reading, loop) else text


_COMMA = re.compile(r"(?<=\d),(?=\d)")


def _alike(typed: Sequence[str], names: Sequence[str]) -> bool:
    return [*map(without_hyphen, typed)] == [*map(without_hyphen, names)]


def _says(whole: str, reading: Reading, loop: Loop) -> bool:
    """Whether a text is the same reading, to its last digit."""
    try:
        found = parse_line(whole, loop)
    except ReadingError:
        return False
    return isinstance(found, Reading) and replace(found, text=reading.text) == reading


def with_unit(reading: Reading, loop: Loop) -> str:
    """The text of a reading as typed, its unit filled in where it was left out.

    ``LIC-214 54.6`` becomes ``LIC-214 54.6 %``: what it was taken for is seen at once.
    """
    head, with_, condition = reading.text.partition(" with ")
    if reading.sort not in ("value", "span") or not head[-1:].isdigit():
        return reading.text
    meant = value_text(replace(reading, spread=0.0, sort="value"), loop)
    whole = f"{head} {meant.rpartition(' ')[2]}{with_}{condition}"
    return whole if _says(whole, reading, loop) else reading.text
