"""The order in which repairs are tried: least expected time to the one that is proven."""

from __future__ import annotations

from collections.abc import Container, Sequence
from functools import cache, partial

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.candidates import MANNED, travel
from diagnose.inference.deciding import by_place
from diagnose.inference.decisions import Problem, State, Test
from diagnose.loops.loop import Loop

MOST = 8
"""Repairs at the head of the order that are moved to and fro: the others are hardly reached."""


def repair_problem(
    chances: Array,
    minutes: Sequence[float],
    places: Sequence[str],
    loop: Loop,
    start: str,
    been: Container[str] = (),
) -> Problem:
    """Repairs, each of which ends the hunt if its fault is the one that there is.

    ``been`` are places for which a permit is at hand.
    """
    count = len(chances)
    tests = [
        Test(str(n), (np.arange(count) != n)[None] * 1.0, minutes[n], place * (place != MANNED))
        for n, place in enumerate(places)
    ]
    return Problem(
        chances, tests, start=start, walk=cache(partial(travel, loop, been=been)), sure=2.0
    )


def repair_order(problem: Problem) -> list[int]:
    """The ratio rule over places, then each repair moved to where the whole costs least."""
    found: list[int] = []
    state: State | None = problem.begin()
    while state is not None and (n := by_place(problem, state)) is not None:
        found.append(n)
        state = next((left for _, left in problem.after(state, n)), None)
    head, rest = found[:MOST], found[MOST:]
    least = expected_minutes(problem, head)
    for _ in head:
        tried = [(expected_minutes(problem, order), order) for order in _moved(head)]
        better, order = min(tried, default=(least, head))
        if better > least - 1e-9:
            break
        least, head = better, order
    return head + rest


def expected_minutes(problem: Problem, order: Sequence[int]) -> float:
    """Mean minutes of trying repairs in an order, each proven at once, until one helps."""
    chances = problem.begin().weight
    total, left, place = 0.0, 1.0, problem.start
    for n in order:
        test = problem.tests[n]
        there = test.place or place
        total += left * (test.minutes + (problem.walk(place, there) if there != place else 0.0))
        left, place = left - float(chances[n]), there
    return total


def _moved(order: Sequence[int]) -> list[list[int]]:
    """The order with one repair, or two neighbours, moved to another place in it."""
    found = []
    for width in (1, 2):
        for start in range(len(order) - width + 1):
            block = list(order[start : start + width])
            others = [n for n in order if n not in block]
            for at in range(len(others) + 1):
                if at != start:
                    found.append([*others[:at], *block, *others[at:]])
    return found
