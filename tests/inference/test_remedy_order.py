"""The order in which repairs are tried, on a real loop, against the best order there is.

The judge is exact dynamic programming over what is left; the flat ratio rule p/c is the optimum
where nobody has to walk (J. B. Kadane and H. A. Simon, Annals of Statistics 5, 1977).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.deciding import Optimum
from diagnose.inference.decisions import Problem, State, Test, cost
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Remedy
from diagnose.inference.readings import parse_line
from diagnose.inference.repair_order import expected_minutes, repair_order, repair_problem
from diagnose.loops.loop import MANNED
from diagnose.loops.plant import open_plant
from diagnose.loops.sheet import load_sheet

SHEET = Path(__file__).resolve().parents[1] / "sheets" / "b3.toml"
CASES = {
    "leak": ("complaint reads low", "V d n 2.361", "clamp TX 12.00"),
    "moisture": ("complaint reads high", "V d n 3.397", "TX 50 %"),
    "no current": ("complaint reads low", "V d n 0.000"),
}


@cache
def engine() -> Engine:
    return Engine(load_sheet(SHEET))


def remedies(case: str, place: str) -> list[Remedy]:
    said = [parse_line(line, engine().loop) for line in CASES[case]]
    return list(engine().rank(said, place=place).remedy)


@pytest.mark.parametrize("place", ["cabinet", "transmitter"])
@pytest.mark.parametrize("case", CASES)
def test_expected_time_to_a_proven_repair_is_near_the_least(case: str, place: str) -> None:
    found = remedies(case, place)[:9]
    assert len(found) > 1
    chances = np.array([item.probability for item in found])
    minutes, places = [item.minutes for item in found], [item.place for item in found]
    problem = repair_problem(chances, minutes, places, engine().loop, place)

    def as_told(problem: Problem, state: State) -> int | None:
        return next(iter(problem.useful(state)), None)

    best = Optimum(problem).cost()
    assert best <= cost(problem, as_told) + 1e-9
    assert cost(problem, as_told) <= 1.01 * best
    assert expected_minutes(problem, range(len(found))) == pytest.approx(cost(problem, as_told))


HALVES = np.array([0.5, 0.5])


def test_what_the_control_room_does_moves_nobody() -> None:
    """Ten minutes there by radio, then at even chances ten here in the cabinet: 15, and no way."""
    loop = open_plant().load("LT-214")
    problem = repair_problem(HALVES, (10.0, 10.0), (MANNED, "cabinet"), loop, "cabinet")
    assert expected_minutes(problem, (0, 1)) == pytest.approx(10 + 0.5 * 10)


def test_a_repair_where_a_permit_is_at_hand_waits_for_none() -> None:
    """Ten minutes of way and six to set up at the junction box; 20 more to wait for a permit."""
    loop = open_plant().load("LT-214")
    places = tuple(replace(place, permit=20.0) for place in loop.places)
    loop, there = replace(loop, places=places), ("cabinet", "junction box")
    first = repair_problem(HALVES, (10.0, 10.0), there, loop, "cabinet")
    again = repair_problem(HALVES, (10.0, 10.0), there, loop, "cabinet", {"junction box"})
    assert expected_minutes(first, (0, 1)) == pytest.approx(10 + 0.5 * (36 + 10))
    assert expected_minutes(again, (0, 1)) == pytest.approx(10 + 0.5 * (16 + 10))


def apart(rng: np.random.Generator) -> Problem:
    """Six repairs at three places; one of them has failed."""
    chances, minutes = rng.dirichlet(np.full(6, 0.7)), rng.integers(2, 30, 6)
    walk = {name: float(rng.integers(2, 40)) for name in "abc"}
    tests = [
        Test(str(n), (np.arange(6) != n)[None] * 1.0, float(minutes[n]), "abc"[n % 3])
        for n in range(6)
    ]
    return Problem(chances, tests, start="a", sure=2.0, walk=lambda _, there: walk[there])


def test_repairs_at_three_places_are_tried_in_the_best_order_there_is() -> None:
    """All 720 orders of each of 200 problems are added up: one in a hundred may be missed, by no
    more than one per cent.  Single repairs moved to and fro lose up to 2 %, moved once up to 37 %.
    """
    rng = np.random.default_rng(5)
    lost = []
    for problem in (apart(rng) for _ in range(200)):
        best = min(expected_minutes(problem, order) for order in permutations(range(6)))
        lost.append(expected_minutes(problem, repair_order(problem)) / best)
    assert min(lost) > 1 - 1e-9
    assert sum(ratio > 1 + 1e-9 for ratio in lost) <= 2
    assert max(lost) <= 1.01
