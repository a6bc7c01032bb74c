"""The belief of a hunt as a finite decision problem, and the next step seen some steps ahead.

The points that carry the belief are its hypotheses, so that what one reading tells of a severity
or of the process value is not told again by the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.candidates import MANNED, travel
from diagnose.inference.deciding import LookAhead
from diagnose.inference.decisions import Problem, Test, bits

if TYPE_CHECKING:
    from diagnose.inference.advice import Adviser

SHORTLIST = 8
"""Candidates that are looked at together."""

OUTCOMES = 4
"""Outcomes of each that are told apart when looking ahead."""


def problem_of(adviser: Adviser, some: Sequence[int], sure: float, per_bit: float) -> Problem:
    """What lies ahead with some of the candidates."""
    loop = adviser.engine.loop
    thin = slice(None, None, 2)
    weight = adviser.points.weight[thin]
    _, group = np.unique(adviser.group[adviser.points.h[thin]], return_inverse=True)
    member = (group[:, None] == np.arange(group.max() + 1)).astype(float)
    bins = adviser.outlook.bins[list(some)][:, :, thin]
    tables = merged(bins, weight[:, None] * member)
    tests = []
    for n, table in zip(some, tables, strict=True):
        candidate = adviser.candidates[n]
        place = "" if candidate.place == MANNED else candidate.place
        tests.append(Test(str(n), table, adviser.charged[n], place))
    return Problem(
        weight,
        tests,
        group,
        adviser.place,
        lambda here, there: travel(loop, here, there),
        sure=sure,
        per_bit=per_bit,
        negligible=0.02,
    )


def merged(bins: Array, weight: Array, count: int = OUTCOMES) -> Array:
    """Neighbouring outcomes put together until few are left, with the least loss of information.

    ``bins`` (test, bin, point), ``weight`` (point, group) -> (test, ``count``, point).
    """
    joint = bins @ weight
    label = np.tile(np.arange(bins.shape[1]), (len(bins), 1))
    rows = np.arange(len(bins))
    for _ in range(bins.shape[1] - count):
        both = joint[:, 1:] + joint[:, :-1]
        loss = _spread(both) - _spread(joint[:, 1:]) - _spread(joint[:, :-1])
        at = loss.argmin(axis=1)
        keep = np.arange(joint.shape[1] - 1) + (np.arange(joint.shape[1] - 1) > at[:, None])
        joint[rows, at] = both[rows, at]
        joint = np.take_along_axis(joint, keep[:, :, None], axis=1)
        label -= label > at[:, None]
    chosen = label[:, None, :] == np.arange(count)[:, None]
    result: Array = chosen.astype(float) @ bins
    return result


def _spread(joint: Array) -> Array:
    """P(outcome) times the entropy of the group after it."""
    return bits(joint) - bits(joint.sum(axis=-1, keepdims=True))


def planned(adviser: Adviser, some: Sequence[int], sure: float, per_bit: float) -> int | None:
    """The best of some candidates to begin with; None where it is better to stop."""
    problem = problem_of(adviser, some, sure, per_bit)
    n = LookAhead(1, breadth=4)(problem, problem.begin())
    return None if n is None else some[n]
