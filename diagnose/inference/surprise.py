"""How badly readings fit an explanation where it fits them best."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np

from diagnose.inference.data import Datum
from diagnose.inference.weighing import Weighted

SURPRISED = 3.29
"""Normal quantile beyond which readings fit an explanation badly: one sound hunt in 2000."""


def surprise(weighted: Weighted, row: int, data: Sequence[Datum]) -> float:
    """How badly the readings that are trusted in cell ``row`` fit there, as a normal quantile.

    The sum of squared standardised residuals is chi-square with one degree of freedom for each
    reading, less those that severity and process use up; its cube root is nearly normal
    (E. B. Wilson and M. M. Hilferty, PNAS 17:684, 1931; from memory).
    """
    values = np.array([datum.side == 0 for datum in data], bool)
    sized = bool(weighted.cells.low[row] != weighted.cells.high[row])
    free = int((values & ~weighted.wrong[row].astype(bool)).sum()) - 1 - int(sized)
    if free < 1:
        return 0.0
    part = 2 / (9 * free)
    return float(((weighted.peak.misfit[row] / free) ** (1 / 3) - (1 - part)) / sqrt(part))
