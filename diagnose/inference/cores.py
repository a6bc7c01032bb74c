"""Cores tried one by one, with everything off: joined to earth at one end, ohms at the other.

Where nothing joins a loop to earth, an open core leaves no volts that would tell it from its
neighbour (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from diagnose.inference.measurement import (
    Applied,
    Condition,
    Jumper,
    Measurement,
    normal_condition,
)
from diagnose.loops.loop import EARTH, MANNED, Loop, Part


def can_be_off(part: Part) -> bool:
    """Whether a part is a supply that a person can switch off."""
    return any(action.name == "off" for action in part.kind.actions)


def everything_off(loop: Loop) -> Condition:
    """All supplies switched off; empty where there is none that can be."""
    return tuple(Applied(part.name, "off") for part in loop.parts if can_be_off(part))


def single_cores(loop: Loop) -> Iterator[tuple[Measurement, str]]:
    """Ohms to earth of each core of a floating loop, between places next to each other."""
    off = everything_off(loop)
    if not off or any(EARTH in p.pins.values() and not p.kind.latent for p in loop.parts):
        return
    field = [place.name for place in loop.places if place.name != MANNED]
    for near, far in pairwise(field):
        for point in loop.points:
            end = _far_end(loop, point.name, near, far) if point.place == near else None
            if end is not None:
                condition = normal_condition([*off, Jumper(end, EARTH)])
                yield Measurement("ohm", (point.name, EARTH), condition), near


def _far_end(loop: Loop, start: str, near: str, far: str) -> str | None:
    """The point at the far place to which a core leads; None where it leads nowhere.

    On its way it meets no other point of the near place.
    """
    known, waiting = {start}, [start]
    while waiting:
        node = waiting.pop()
        for part in loop.parts:
            ends = list(part.pins.values())
            if len(ends) == 2 and node in ends and part.kind.carries_loop:
                other = ends[1 - ends.index(node)]
                if loop.place_of(other) == far:
                    return other
                if loop.place_of(other) != near and other not in known:
                    known.add(other)
                    waiting.append(other)
    return None
