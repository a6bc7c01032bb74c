"""How far the leads of a meter reach: a reading between two places is doubted in one line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from diagnose.casework.hunt import Hunt
from diagnose.inference.candidates import Candidate
from diagnose.inference.measurement import Measurement, Reading
from diagnose.loops.loop import EARTH, Loop
from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import paragraph

ACROSS = ("V", "VAC", "Vlow", "ohm")
"""Functions whose two leads touch both points."""


def far(measurement: Measurement | None, hunt: Hunt, look: Look) -> Iterator[str]:
    """That a reading just entered is one between two places."""
    told = apart(measurement, hunt.loop, hunt.engine.candidates) if measurement else ""
    if told:
        yield from paragraph(told, look, "note  ")


def apart(measurement: Measurement, loop: Loop, usual: Iterable[Candidate]) -> str:
    """That a reading is one between two places; empty where it is not, or is one we advise.

    Earth is at every place.  A current is read where the wire was opened, between the point there
    and the end of the wire, which is the other point.
    """
    if measurement.function not in ACROSS or len(measurement.points) != 2:
        return ""
    places = {point: loop.place_of(point) for point in measurement.points if point != EARTH}
    if None in places.values() or len(set(places.values())) < 2:
        return ""
    known = (item.measurement for item in usual)
    what = measurement.function, measurement.points
    if any((item.function, item.points) == what for item in known):
        return ""
    told = " and ".join(f"{point} is at {place}" for point, place in places.items())
    return f"{told}: few leads reach that far; see that the terminals are the ones you were on"


def all_apart(said: Iterable[object], loop: Loop, usual: Iterable[Candidate]) -> list[str]:
    """What is to be doubted so of all that was said, each once."""
    usual = list(usual)
    read = (item.measurement for item in said if isinstance(item, Reading))
    return list(dict.fromkeys(filter(None, (apart(item, loop, usual) for item in read))))
