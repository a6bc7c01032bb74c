"""What a receiver, a lamp or a gauge shows: with its lasting error, rounded, held at its ends."""

from __future__ import annotations

import numpy as np

from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.spreads import systematic
from diagnose.loops.loop import Loop

PROCESS_OFF = 0.02
"""Limit of error of a process value that somebody finds out, fraction of range (assumption)."""


def display(loop: Loop, wanted: Measurement, level: float, seed: int, number: int) -> Reading:
    """The reading of a display at a level; ``number`` counts the readings of a hunt."""
    rng = np.random.default_rng([seed, 41, number])
    lasting = systematic(loop, wanted)
    if wanted.function == "process" or lasting is None:
        value = round(level + float(rng.uniform(-PROCESS_OFF, PROCESS_OFF)), 3)
        return Reading(wanted, "value", value)
    name, sd = lasting
    shows = loop.part(wanted.points[0]).kind.shows
    assert shows is not None
    own = np.random.default_rng([seed, 43, *name.encode()])
    seen = level + float(own.uniform(-1, 1)) * sd * 3**0.5
    if shows.what == "state":
        return Reading(wanted, "lit" if seen > 0 else "dark")
    count = shows.resolution
    seen = round(seen / count + float(rng.uniform(-0.5, 0.5))) * count
    return Reading(wanted, "value", float(np.clip(seen, shows.least, shows.most)))
