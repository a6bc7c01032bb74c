"""A process that does not hold still while it is read: how restless, and how likely it is.

The sheet says how far the process moves between two readings.  Where the readings do not fit that,
it may be the process that moves by more, and no fault at all.
"""

from __future__ import annotations

from math import exp, log

from diagnose.circuit.rows import Array
from diagnose.inference.posterior import Belief

RESTLESS = 0.05
"""Prior share of calls in which the process is restless (assumption)."""


HELD = 0.9
"""Belief in one fault from which it is asked whether a restless process would do as well."""


def unlikely(belief: Belief, log_prior: Array) -> bool:
    """Whether one fault is as good as certain that was less likely than a restless process."""
    first = int(belief.probability.argmax()) if len(belief.probability) else 0
    held = float(belief.probability.max(initial=0.0)) > HELD
    return held and bool(log_prior[first] < log(RESTLESS))


def restless(log_ratio: float) -> float:
    """Chance that the process is restless.

    ``log_ratio`` is the log probability of the readings with a restless process, less that with
    the unrest that the sheet tells.
    """
    calm = (1 - RESTLESS) / RESTLESS * exp(min(-log_ratio, 700.0))
    return 1 / (1 + calm)
