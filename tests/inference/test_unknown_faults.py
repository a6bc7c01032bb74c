"""How much "none of the modelled" takes up: it explains one complaint or another, not every one.

By hand: the chances of what one and the same fault makes people say, or a display show, add up to
one; a likelihood that is larger than that for all of them at once lets the unknown win each call.
"""

from __future__ import annotations

from math import exp

import pytest

from diagnose.inference.data import BROAD, datum_of
from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line, parse_lines
from diagnose.inference.symptoms import CAUSED, UNKNOWN, Symptoms
from diagnose.loops.plant import open_plant

OF_A_VALUE = ("reads low", "reads high", "reads zero", "frozen", "erratic", "clips", "disagree")
OF_A_STATE = ("stays on", "stays off", "erratic", "frozen")


@pytest.mark.parametrize("complaints", [OF_A_VALUE, OF_A_STATE])
def test_what_the_unknown_makes_people_say_adds_up_to_about_one(complaints: tuple[str]) -> None:
    assert 0.8 < sum(UNKNOWN[complaint] for complaint in complaints) < 1.25


def test_no_complaint_speaks_for_the_unknown_against_a_fault_that_causes_it() -> None:
    assert max(UNKNOWN.values()) < CAUSED
    assert Symptoms(None, None).unknown() == 1.0


@pytest.mark.parametrize("tag, part", [("LT-214", "LIC-214"), ("PT-119", "PI-119")])
def test_what_a_worthless_display_shows_adds_up_to_about_one(tag: str, part: str) -> None:
    """Both ends, and all that lies between them."""
    engine = Engine(open_plant().load(tag))
    shows = engine.loop.part(part).kind.shows
    assert shows is not None
    ends = 0.0
    for end in (shows.least, shows.most):
        text = f"{part} {100 * end:g} %"
        datum = datum_of(parse_line(text, engine.loop), engine.loop, engine.meter)
        assert datum is not None and datum.side
        ends += exp(datum.broad)
    assert 0.9 < ends + BROAD["shows"] * (shows.most - shows.least) < 1.25


@pytest.mark.parametrize(
    "tag, display, valve", [("LV-214", "LIC-214", "LV-214"), ("FV-118", "FIC-118", "FV-118")]
)
def test_no_air_at_all_explains_a_valve_that_stays_at_its_end(
    tag: str, display: str, valve: str
) -> None:
    """A gauge at 0 kPa and a stem at its spring's end (common practice, no source)."""
    engine = Engine(open_plant().load(tag))
    lines = ("complaint does not follow", f"{display} 50 %", f"{valve} 0 %", "PG1 0 kPa")
    ranking = engine.rank(parse_lines(lines, engine.loop))
    assert ranking.hypotheses[0].part == "AS" and ranking.hypotheses[0].fault == "lost"
    assert ranking.unexplained < 0.2


def test_a_valve_that_does_not_shut_has_a_dark_lamp_at_its_shut_end() -> None:
    """Complained of is that it stays open; its lamp for shut is what tells of it (drawing)."""
    engine = Engine(open_plant().load("XV-221"))
    lines = ("complaint stays open", "HS-221 off", "A1 dark", "ZLO-221 dark", "ZLC-221 dark")
    ranking = engine.rank(parse_lines(lines, engine.loop))
    first = ranking.hypotheses[0]
    assert (first.part, first.fault) == ("XV-221", "stuck part way") and first.probability > 0.5
    assert ranking.unexplained < 0.1


@pytest.mark.parametrize(
    ("pointer", "first"),
    [("part way", ("XV-221", "stuck part way")), ("40 %", ("XV-221", "stuck part way")),
     ("shut", ("ZLC-221", "stuck dark"))],
)  # fmt: skip
def test_the_pointer_tells_a_valve_from_its_lamp(pointer: str, first: tuple[str, str]) -> None:
    engine = Engine(open_plant().load("XV-221"))
    lines = ("complaint stays open", "HS-221 off", "A1 dark", "ZLO-221 dark", "ZLC-221 dark")
    ranking = engine.rank(parse_lines((*lines, f"XV-221 {pointer}"), engine.loop))
    leader = ranking.hypotheses[0]
    assert (leader.part, leader.fault) == first and leader.probability > 0.9
