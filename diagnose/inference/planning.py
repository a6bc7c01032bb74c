"""The belief of a hunt as a finite decision problem, and the next step seen some steps ahead.

The points that carry the belief are its hypotheses, so that what one reading tells of a severity
or of the process value is not told again by the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.ahead import Ahead
from diagnose.inference.candidates import MANNED, travel
from diagnose.inference.decisions import Problem, Test, bits

if TYPE_CHECKING:
    from diagnose.inference.advice import Adviser

SHORTLIST = 8
"""Candidates that are looked at together."""

OUTCOMES = 6
"""Outcomes of each that are told apart when looking ahead."""

BREADTH = (5, 3, 1, 1, 1, 1)
"""Candidates that are tried in each step; the greedy policy is followed where it is one."""

NEGLIGIBLE = 0.004
"""Chance below which an outcome is not looked at further."""


def planned(
    adviser: Adviser,
    some: Sequence[int],
    sure: float,
    per_bit: float,
    breadth: Sequence[int] = BREADTH,
) -> int | None:
    """The best of some candidates to begin with; None where it is better to stop.

    The hunt ends when one group holds ``sure``; ``per_bit`` are the minutes that a bit is worth.
    """
    problem = problem_of(adviser, some, sure, per_bit)
    n = Ahead(problem, breadth).best(problem.begin())[1]
    return None if n is None else some[n]


def problem_of(adviser: Adviser, some: Sequence[int], sure: float, per_bit: float) -> Problem:
    """What lies ahead with some of the candidates."""
    points, loop = adviser.points, adviser.engine.loop
    _, group = np.unique(adviser.group[points.h], return_inverse=True)
    member = (group[:, None] == np.arange(group.max() + 1)).astype(float)
    bins = adviser.outlook.bins[list(some)]
    tables = merged(bins[:, 0::2] + bins[:, 1::2], points.weight[:, None] * member, OUTCOMES)
    tests = []
    for n, table in zip(some, tables, strict=True):
        candidate = adviser.candidates[n]
        place = "" if candidate.place == MANNED else candidate.place
        tests.append(Test(str(n), table, adviser.charged[n], place))
    return Problem(
        points.weight,
        tests,
        group,
        adviser.place,
        partial(travel, loop),
        sure=sure,
        per_bit=per_bit,
        negligible=NEGLIGIBLE,
    )


def merged(bins: Array, weight: Array, count: int) -> Array:
    """Neighbouring outcomes put together until few are left, with the least loss of information.

    ``bins`` (test, bin, point), ``weight`` (point, group) -> (test, ``count``, point).
    """
    joint = bins @ weight
    label = np.tile(np.arange(bins.shape[1]), (len(bins), 1))
    rows = np.arange(len(bins))
    for width in range(bins.shape[1], count, -1):
        both = joint[:, 1:] + joint[:, :-1]
        told = _spread(joint)
        at = (_spread(both) - told[:, 1:] - told[:, :-1]).argmin(axis=1)
        joint[rows, at] = both[rows, at]
        keep = np.arange(width - 1) + (np.arange(width - 1) > at[:, None])
        joint = np.take_along_axis(joint, keep[:, :, None], axis=1)
        label -= label > at[:, None]
    chosen = label[:, None, :] == np.arange(count)[:, None]
    result: Array = chosen.astype(float) @ bins
    return result


def _spread(joint: Array) -> Array:
    """P(outcome) times the entropy of the group after it."""
    return bits(joint) - bits(joint.sum(axis=-1, keepdims=True))
