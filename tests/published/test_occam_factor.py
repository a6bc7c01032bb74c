"""What a wide prior costs: the Occam factor, by the evidence code of the engine.

D. J. C. MacKay, "Information Theory, Inference, and Learning Algorithms", Cambridge, 2003, ch. 28
(from memory); the figures follow from the two Gaussians and were recomputed.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest

from diagnose.inference.cells import Cells, Levels
from diagnose.inference.data import Datum
from diagnose.inference.evidence import evidence
from diagnose.inference.measurement import Measurement, Reading

SIGMA = 0.01


def log_evidence(z: float, spread: float) -> float:
    """A reading z sigma off, where something unknown may move it by ``spread`` sigma."""
    reading = Reading(Measurement("V", ("a", "b")), "value", z * SIGMA)
    datum = Datum(reading, 0, z * SIGMA, SIGMA, (), 0.0, 0.01, 0.0)
    one = np.zeros(1, int)
    p, corner = np.array([[0.2, 0.8, 0.2, 0.8]]), np.array([[0, 1, 2, 3]])
    cell = Cells(one, one, one, one, np.ones(1), p, corner, False)
    levels = Levels(np.zeros(4), np.full((4, 1), spread * SIGMA), 0.0)
    found, _ = evidence(cell, [datum], [levels], np.ones((1, 1), bool), 0.0)
    return float(found[0])


@pytest.mark.parametrize(("r", "factor", "even"), [(10, 0.0995, 2.159), (100, 0.0100, 3.035)])
def test_occam_factor(r: float, factor: float, even: float) -> None:
    assert exp(log_evidence(0.0, r) - log_evidence(0.0, 0.0)) == pytest.approx(factor, abs=5e-5)
    assert log_evidence(even, r) - log_evidence(even, 0.0) == pytest.approx(0.0, abs=4e-3)


def test_a_fault_with_a_prior_of_5_percent_needs_3_257_sigma() -> None:
    """Posterior one half where the Bayes factor is 19."""
    assert log_evidence(3.257, 10) - log_evidence(3.257, 0.0) == pytest.approx(log(19), abs=4e-3)
