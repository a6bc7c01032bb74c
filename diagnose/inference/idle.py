"""Which fault of a pair does not show: it goes first, as readings count as straight in the first.

Most pairs are a fault that explains what is read, and another that does not show beside it.
"""

from __future__ import annotations

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.misfit import Misfit
from diagnose.inference.trial import Trial

IDLE = 0.3
"""Standard deviations by which readings swing with a severity that they do not hang on."""

_EVENLY: Array = np.linspace(0.02, 0.98, 7)


def idle_first(misfit: Misfit, trial: Trial) -> Trial:
    """Pairs with the fault first whose severity no reading hangs on, where there is one."""
    if not len(trial.a):
        return trial
    swapped = (_swing(misfit, trial, 1) < IDLE) & (_swing(misfit, trial, 0) > IDLE)
    z = trial.z.copy()
    z[swapped, :2] = trial.z[swapped, 1::-1]
    first, second = np.where(swapped, trial.b, trial.a), np.where(swapped, trial.a, trial.b)
    return Trial(first, second, z)


def _swing(misfit: Misfit, trial: Trial, way: int) -> Array:
    """Standard deviations by which readings swing over the range of a severity: (row,)."""
    rows = len(trial.a)
    places = np.repeat(trial.z[None], len(_EVENLY), axis=0)
    places[:, :, way] = _EVENLY[:, None]
    a, b = (np.tile(one, len(_EVENLY)) for one in (trial.a, trial.b))
    level = misfit.seen(Trial(a, b, places.reshape(-1, 3)))
    off = misfit.off(level).reshape(len(_EVENLY), rows, -1)
    result: Array = np.ptp(off, axis=0).max(axis=1)
    return result
