"""A hunt reading by reading: what each leaves in the running is kept for the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import distinct
from diagnose.inference.atlas import Atlas
from diagnose.inference.data import Datum
from diagnose.inference.weighing import Scales, Weighted, weigh

LEFT_OUT = -40.0
"""Log weight, against the best, below which a cell is out of the running for good.

A further reading can raise a cell against the best by its sharpest density over that of a worthless
reading: about 15, and what lies 14 below the best does not count.
"""

WORTH_PARTING = 0.7
"""Share of the cells below which those in the running get an atlas of their own."""

MOST = 6
"""Stages that are kept: those of the hunt in hand, and some beside it that were asked about."""


@dataclass
class Stage:
    """The weights of the cells of ``atlas`` after some readings; ``next`` begins the next one."""

    atlas: Atlas
    weighted: Weighted
    next: Atlas


class Stages:
    """Stages of the hunt in hand; another complaint or context begins anew."""

    def __init__(self, atlas: Atlas) -> None:
        self.atlas = atlas
        self._key: object = None
        self._kept: dict[tuple[Datum, ...], Stage] = {}

    def after(self, data: tuple[Datum, ...], scales: Scales) -> Stage:
        """The stage after some readings, from the one before it."""
        key = (scales.symptoms.complaint, scales.log_prior.tobytes())
        if key != self._key:
            self._key, self._kept = key, {}
        atlas = self.atlas
        for count in range(min(1, len(data)), len(data) + 1):
            read = data[:count]
            stage = self._kept.pop(read, None) or _stage(atlas, read, scales)
            self._kept[read] = stage
            atlas = stage.next
        for oldest in list(self._kept)[: -max(MOST, len(data))]:
            del self._kept[oldest]
        return stage


def _stage(atlas: Atlas, data: tuple[Datum, ...], scales: Scales) -> Stage:
    weighted = weigh(atlas, np.arange(len(atlas.cells)), data, scales, LEFT_OUT)
    left = distinct(weighted.row)
    worth = 0 < len(left) < WORTH_PARTING * len(atlas.cells)
    following = atlas.part(left) if worth else atlas
    return Stage(atlas, weighted, following)
