"""The advice plans the walk: what else is worth reading where it ends.

Judge: information is counted once (the chain rule of T. M. Cover and J. A. Thomas, "Elements of
Information Theory", from memory): what a second reading adds is at most what it tells alone plus
what the two share; and putting outcomes together tells nothing new (data processing).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from diagnose.inference.advice import MINUTES_PER_BIT, SURE, Adviser, charged
from diagnose.inference.engine import Engine
from diagnose.inference.groups import joint_gain
from diagnose.inference.planning import OUTCOMES, planned, problem_of
from diagnose.inference.readings import parse_line
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parents[1] / "sheets" / "b3.toml"
NOTHING_FLOWS = ("complaint reads low", "V d n 0.000", "V b c 24.00")


@cache
def adviser(place: str) -> Adviser:
    engine = Engine(load_sheet(SHEET))
    told = engine.sort([parse_line(line, engine.loop) for line in NOTHING_FLOWS])
    belief, atlas = engine.believe(told)
    return Adviser(engine, atlas, belief, told, place, frozenset())


def far(known: Adviser) -> list[int]:
    """The advised readings that need a walk."""
    return [n for n in known.order if known.candidates[n].place == "transmitter"]


def test_a_walk_is_told_what_else_to_read_there() -> None:
    known = adviser("cabinet")
    found = {n: known.companions(n) for n in far(known)}
    assert any(found.values())
    for first, others in found.items():
        for second, more in others:
            candidate = known.candidates[second]
            assert candidate.place == known.candidates[first].place
            assert not candidate.moves_signal
            assert more * MINUTES_PER_BIT > charged(candidate)
            both = joint_gain(known.outlook, known.points, known.masses, first, second)
            assert more == pytest.approx(both - known.gains[first])
            assert both >= max(known.gains[first], known.gains[second]) - 0.1  # coarser outcomes


def test_where_one_stands_already_there_is_no_walk_to_share() -> None:
    known = adviser("transmitter")
    assert [known.companions(n) for n in far(known)] == [[] for _ in far(known)]


def test_the_problem_that_lies_ahead_is_that_of_the_belief() -> None:
    known = adviser("cabinet")
    some = known.leading(6)
    problem = problem_of(known, some, SURE, MINUTES_PER_BIT)
    state = problem.begin()
    assert problem.table.shape[:2] == (len(some), OUTCOMES + 1)
    assert problem.table.sum(axis=1) == pytest.approx(1.0)
    assert [problem.minutes(state, n) for n in range(len(some))] == pytest.approx(
        known.minutes[some]
    )
    # The groups are at most as hard to tell apart as the hypotheses, in fewer outcomes.
    assert all(problem.gains(state) <= known.gains[some] + 0.05)
    assert problem.gains(state).max() > 0.5 * known.gains[some].max()
    assert planned(known, some, SURE, MINUTES_PER_BIT) in some
