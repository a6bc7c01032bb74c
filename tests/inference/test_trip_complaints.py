"""What a trip that came in by itself, or did not come in, may be due to.

A safety trip is de-energised to trip: its relay drops out and the input that it holds goes dark,
while lamp and horn come on (de-energise to trip: IEC 61511-1, term from memory; which contact does
what is read off the comment at the head of ``models/trip.toml``).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from diagnose.inference.engine import Engine
from diagnose.inference.readings import parse_line
from diagnose.loops.sheet import load_sheet
from diagnose.terminal.render_ranking import verdict

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"

SPURIOUS = [("RL1", "open"), ("RL1", "out of its socket"), ("RL1.2", "open"), ("RL1.1", "welded")]
MISSED = [("RL1", "sticking"), ("RL1.2", "welded"), ("RL1.1", "open"), ("H1", "burnt out")]


@cache
def chances(tag: str, complaint: str) -> dict[tuple[str | None, str], float]:
    engine = Engine(load_sheet(SHEETS / f"{tag}.toml"))
    ranking = engine.rank([parse_line(f"complaint {complaint}", engine.loop)])
    return {(h.part, h.fault): h.probability for h in ranking.hypotheses}


@pytest.mark.parametrize("tag", ["LAHH-214", "LIC-214"])
@pytest.mark.parametrize("fault", SPURIOUS, ids=" ".join)
def test_what_lets_the_relay_go_trips_and_does_not_miss_a_trip(
    tag: str, fault: tuple[str, str]
) -> None:
    assert chances(tag, "tripped")[fault] > 10 * chances(tag, "no trip")[fault]


@pytest.mark.parametrize("tag", ["LAHH-214", "LIC-214"])
@pytest.mark.parametrize("fault", MISSED, ids=" ".join)
def test_what_holds_the_relay_or_hides_a_trip_is_no_cause_of_one(
    tag: str, fault: tuple[str, str]
) -> None:
    assert chances(tag, "no trip")[fault] > 10 * chances(tag, "tripped")[fault]


def test_a_trip_without_its_input_is_not_called_sound() -> None:
    """With the vessel at 70 % and an indicator at its bottom, a trip at 50 % does not protect."""
    loop = load_sheet(SHEETS / "LAHH-214.toml")
    lines = ("complaint no trip", "H2 silent", "U5 lit", "process 70 %", "LIC-214 -10 %")
    ranking = Engine(loop).rank([parse_line(line, loop) for line in lines])
    lead = ranking.hypotheses[0]
    assert (lead.part, lead.fault) == ("B1", "lost")
    assert ranking.sound < 0.05
    assert verdict(ranking, loop).startswith("Almost certainly: B1 lost")
    assert "look at the process" not in ranking.stop
    assert "input loop" in ranking.remedy[0].action
