"""The order in which repairs are tried, on a real loop, against the best order there is.

The judge is exact dynamic programming over what is left; the flat ratio rule p/c is the optimum
where nobody has to walk (J. B. Kadane and H. A. Simon, Annals of Statistics 5, 1977).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.deciding import Optimum
from diagnose.inference.decisions import Problem, State, cost
from diagnose.inference.engine import Engine
from diagnose.inference.ranking import Remedy
from diagnose.inference.readings import parse_line
from diagnose.inference.repair_order import expected_minutes, repair_problem
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
