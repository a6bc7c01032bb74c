"""Where a step of a drill is done, and the way there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.inference.candidates import MANNED, Candidate, travel
from diagnose.inference.measurement import Applied, Measurement
from diagnose.loops.loop import EARTH, Loop
from diagnose.training.setting import DrillError
from diagnose.training.steps import Item

WIRED = ("V", "Vlow", "VAC", "ohm")
"""Functions for which two leads must reach two points."""


def walk(loop: Loop, here: str, stops: Iterable[str], been: Iterable[str]) -> tuple[float, str]:
    """Minutes of a way over some places, and where it ends; who is called by radio is no stop.

    ``been`` are the places for which a permit is at hand.
    """
    minutes, known = 0.0, set(been)
    for stop in stops:
        minutes += travel(loop, here, stop, known)
        known.add(stop)
        here = here if stop == MANNED else stop
    return minutes, here


def item_place(loop: Loop, item: Item, here: str) -> str:
    """Where something is altered."""
    if isinstance(item, Applied):
        return loop.part(item.part).place or here
    return loop.place_of(item.a) or here


def stops(
    loop: Loop, usual: Sequence[Candidate], wanted: Measurement, new: Sequence[Item], here: str
) -> tuple[str, ...]:
    """Where one goes for a measurement and for what is altered anew; the last is where it is read.

    A step that the tool would advise is done where it advises it.  DrillError where no lead
    reaches.
    """
    for candidate in usual:
        if candidate.measurement == wanted:
            return (candidate.place,)
    before = tuple(item_place(loop, item, here) for item in new)
    return (*before, _read_at(loop, usual, wanted, here))


def _read_at(loop: Loop, usual: Sequence[Candidate], wanted: Measurement, here: str) -> str:
    for candidate in usual:
        alike = candidate.measurement
        if (alike.function, alike.points, ()) == (wanted.function, wanted.points, alike.condition):
            return candidate.place
    if wanted.function in ("shows", "clamp"):
        part = loop.part(wanted.points[0])
        return part.read_at if wanted.function == "shows" else part.place
    if wanted.function in WIRED:
        for point in wanted.points:
            if point != EARTH and loop.place_of(point) is None:
                raise DrillError(f"no lead reaches {point}")
    places = {loop.place_of(point) for point in wanted.points if point != EARTH} - {None}
    if len(places) > 1:
        raise DrillError(f"{' and '.join(wanted.points)} are at different places")
    return next(iter(places), None) or here
