"""Volts are read against the reference of the loop where a lead reaches it, and not against earth.

At a temperature card the return terminal is beside the one that is read; earth is a bare bar that
must be looked for, and brings in whatever lies between it and the common (common practice, no
source).  Earth is read against where it tells more: of a conductor that touches it.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import pytest

from diagnose.inference.advice import Adviser
from diagnose.inference.candidates import HOME
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Measurement
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import EARTH
from diagnose.loops.plant import open_plant

CARDS = ("TT-131", "TT-132", "TT-133")
"""Resistance thermometers with three, two and four wires."""


@cache
def engine(tag: str) -> Engine:
    return Engine(open_plant().load(tag))


def look(tag: str, *lines: str) -> Adviser:
    found = engine(tag)
    return found.look([parse_line(line, found.loop) for line in lines], HOME)


def twins(adviser: Adviser) -> list[tuple[int, int]]:
    """Candidates that read a point against earth and against the reference, both at hand."""
    loop, known = adviser.engine.loop, {c.measurement: n for n, c in enumerate(adviser.candidates)}
    found = []
    for one, n in known.items():
        if one.function == "V" and one.points[1] == EARTH and not one.condition:
            twin = Measurement("V", (one.points[0], loop.reference))
            if twin in known and adviser.candidates[n].place == loop.place_of(loop.reference):
                found.append((n, known[twin]))
    return found


@pytest.mark.parametrize("tag", CARDS)
@pytest.mark.parametrize(
    "lines",
    [("complaint reads high",), ("complaint reads low",), ("complaint erratic", "context rain")],
    ids=" ".join,
)
def test_earth_is_read_against_only_where_it_tells_more(tag: str, lines: Sequence[str]) -> None:
    adviser = look(tag, *lines)
    place = {n: at for at, n in enumerate(adviser.order)}
    both = [pair for pair in twins(adviser) if {*pair} <= place.keys()]
    assert both
    for earth, reference in both:
        gains = adviser.gains
        assert place[reference] < place[earth] or gains[earth] > 1.03 * gains[reference]


def test_a_conductor_that_touches_earth_is_still_looked_for_against_earth() -> None:
    """Both legs of a thermocouple hang together: only earth tells which of its volts are common."""
    adviser = look("TE-140", "complaint erratic", "V X40:+ X40:- 12 mV")
    read = [adviser.candidates[n].measurement for n in adviser.order]
    assert any(EARTH in one.points for one in read if one.function == "V")
