"""Alternating volts: hum that a fault lets in, and signalling that must not be taken for it.

The loop's circuit model is one of direct current; hum is evidence only on the kind of fault.  All
numbers are assumptions (common practice, no source) but the level of the signalling: 0.5 mA peak
on the loop current, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log, pi, sqrt

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.measurement import Reading

SIGNALLING = 0.5e-3 / sqrt(2) / 16e-3
"""Signalling, rms, as a share of the span of the loop current."""

QUIET, SCATTER = 2e-3, 0.9
"""Usual hum of a sound loop, V rms, and its scatter in nepers."""

LOUD = (2e-3, 0.5)
"""Range of the hum that a fault lets in, V rms, uniform in its logarithm."""

MOST = 30.0
"""Bound on what one reading of hum may do to the odds."""


def log_odds(reading: Reading, sway: float, signalling: bool) -> float:
    """log likelihood ratio of "a fault lets hum in" to "none does".

    ``sway`` is how far the direct voltage at these points moves over the span of the process, V.
    """
    carried = sway * SIGNALLING if signalling else 0.0
    left = sqrt(max(reading.value**2 - (1.15 * carried) ** 2, 0.0))
    hum = min(max(left, 0.5e-3), 5.0)
    quiet = exp(-0.5 * (log(hum / QUIET) / SCATTER) ** 2) / (SCATTER * sqrt(2 * pi))
    inside = LOUD[0] <= hum <= LOUD[1]
    loud = (1.0 if inside else 0.1) / log(LOUD[1] / LOUD[0])
    return float(np.clip(log(loud / max(quiet, 1e-12)), -log(MOST), log(MOST)))


def hum_factors(
    hypotheses: Sequence[Hypothesis], readings: Sequence[tuple[Reading, float]], signalling: bool
) -> Array:
    """log factor of every hypothesis for readings of alternating volts, each with its sway."""
    total = sum(log_odds(reading, sway, signalling) for reading, sway in readings)
    return np.array([total if h.mode is not None and h.mode.hum else 0.0 for h in hypotheses])
