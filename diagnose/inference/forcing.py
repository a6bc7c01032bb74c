"""When two faults at once must be thought of: where single ones leave doubt."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.inference.data import Datum
from diagnose.inference.posterior import Belief
from diagnose.inference.surprise import SURPRISED, surprise

DOUBT = 0.1
"""Pairs are looked for once this much of the belief distrusts a reading or the model, or holds what
the complaint does not come from."""


def forced(belief: Belief, data: Sequence[Datum], latent: float = 0.0) -> bool:
    """Whether single faults leave so much doubt that two must be considered.

    ``latent`` is the belief in faults that cannot cause what was complained of.  There is doubt
    as well where even what fits best fits badly.
    """
    doubt = belief.unmodelled + min(1.0, float(belief.suspect.sum()))
    return len(data) >= 2 and (max(doubt, latent) > DOUBT or _strained(belief, data))


def _strained(belief: Belief, data: Sequence[Datum]) -> bool:
    weighted = belief.weighted
    if not len(weighted.log):
        return False
    return surprise(weighted, int(weighted.log.argmax()), data) > SURPRISED
