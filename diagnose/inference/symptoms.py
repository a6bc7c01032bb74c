"""What was complained of, as a likelihood: it costs nothing and starts the hunt.

A fault that cannot cause the complaint keeps only the floor.  Every number here is an assumption
of this project (common practice, no source), and each is bounded: no complaint moves the odds of
two hypotheses by more than the ratio of 1 to its floor.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import log
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.baseline import Baseline
from diagnose.inference.cells import Cells, Peak, open_at, process_at, value_at
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.measurement import Measurement
from diagnose.inference.normal import below

if TYPE_CHECKING:
    from diagnose.inference.weighing import Weighted

FLOOR, LEAST_FLOOR = 0.01, 0.002
"""Bounds on the likelihood of a complaint that the fault cannot cause."""

LATENT = 1 / 30
"""How often a call for something else meets such a fault, against a call on a sound loop."""

CAUSED = 0.7
"""Likelihood of the complaint when the fault does cause it."""

NOTICED = 0.03
"""Error of range that somebody notices, and how sharply (fraction of range)."""

SHARPNESS = 0.01

SOUND: Mapping[str, float] = {
    "reads low": 0.30,
    "reads high": 0.30,
    "reads zero": 0.05,
    "frozen": 0.08,
    "erratic": 0.05,
    "clips": 0.03,
    "disagree": 0.01,
    "tripped": 0.10,
    "no trip": 0.03,
    "does not follow": 0.30,
    "stays on": 0.10,
    "stays off": 0.20,
}
"""How calls on a sound loop are worded."""

UNKNOWN: Mapping[str, float] = {
    "reads low": 0.25,
    "reads high": 0.25,
    "reads zero": 0.15,
    "frozen": 0.15,
    "erratic": 0.20,
    "clips": 0.05,
    "disagree": 0.10,
    "tripped": 0.25,
    "no trip": 0.10,
    "does not follow": 0.30,
    "stays on": 0.30,
    "stays off": 0.40,
}
"""How calls are worded where something unknown is wrong: as one thing or another, so that what is
complained of on one loop adds up to little more than one."""


def floor(complaint: str) -> float:
    """Likelihood of a complaint that a fault cannot cause: the loop is as good as sound then."""
    return min(FLOOR, max(LEAST_FLOOR, LATENT * SOUND[complaint]))


class Symptoms:
    """Likelihood of one complaint for the cells of an atlas."""

    def __init__(self, complaint: str | None, baseline: Baseline | None) -> None:
        """``baseline`` is the sound loop; None will do without a complaint."""
        self.complaint, self.baseline = complaint, baseline
        self.values = [*baseline.tracks] if baseline else []
        self.states = [*baseline.states] if baseline else []
        self.still = dict(baseline.still) if baseline else {}

    def hypothesis(self, h: Hypothesis) -> float | None:
        """Likelihood where it does not depend on severity or process; None where it does."""
        if self.complaint is None:
            return 1.0
        if h.mode is None:
            return SOUND[self.complaint]
        return None

    def cells(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        """log likelihood of the complaint in each cell, at the peak of the readings there."""
        if self.complaint is None:
            return np.zeros(len(cells))
        flat = [self.hypothesis(h) for h in atlas.ground.hypotheses]
        fixed = np.array([np.nan if value is None else value for value in flat])[cells.h]
        open_ = np.flatnonzero(np.isnan(fixed))
        likelihood = fixed
        if len(open_):
            some = cells.some(open_)
            at = peak.some(open_)
            caused = self._caused(atlas, some, at)
            least = floor(self.complaint)
            likelihood[open_] = least + (CAUSED - least) * caused
        return np.asarray(np.log(likelihood))

    def _caused(self, atlas: Atlas, some: Cells, at: Peak) -> Array:
        """The chance that each cell causes the complaint: by what it shows, or as its mode says."""
        name = str(self.complaint)
        found: Array = getattr(self, "_" + name.replace(" ", "_"))(atlas, some, at)
        if name == "erratic":  # what its mode says counts there as far as it can be seen
            return found
        return np.maximum(found, self._told(atlas, name)[some.h])

    def unknown(self) -> float:
        """Likelihood where the fault is none of the modelled."""
        return 1.0 if self.complaint is None else UNKNOWN[self.complaint]

    def least(self) -> float:
        """log of the smallest factor by which a complaint can lower a weight."""
        if self.complaint is None:
            return 0.0
        return log(min(floor(self.complaint), SOUND[self.complaint]))

    def unexplained(self, atlas: Atlas, weighted: Weighted) -> float:
        """Share of a normalised belief in faults that cannot cause the complaint."""
        if self.complaint is None or not len(weighted.log):
            return 0.0
        cells = atlas.cells.some(weighted.row)
        likelihood = np.exp(self.cells(atlas, cells, weighted.peak))
        latent = (likelihood < 2 * floor(self.complaint)) & (weighted.cells.h > 0)
        return float(np.exp(weighted.log[latent]).sum())

    # -- each returns the chance that the cell causes the complaint ------------------------------

    def _error(self, atlas: Atlas, cells: Cells, peak: Peak, name: str) -> tuple[Array, Array]:
        """Error of a display at the peak, and its sd over what is left open in the cell."""
        corner = self._corners(atlas, cells, name) - cells.p
        sd = np.sqrt(SHARPNESS**2 + open_at(corner, peak))
        return value_at(corner, peak.s, peak.t), sd

    def _corners(self, atlas: Atlas, cells: Cells, name: str) -> Array:
        """The process value that a display stands for at the corners of cells: (cell, 4)."""
        return self._share(atlas, name, cells.corners(self._heights(atlas, name)))

    def _heights(self, atlas: Atlas, name: str) -> Array:
        """Levels of a display; those of all displays are looked up together, for speed."""
        names = [*self.values, *self.states, *self.still]
        return atlas.heights([_shown(other) for other in names])[names.index(name)]

    def _along(self, atlas: Atlas, name: str) -> Array:
        """The same on whole lines: (line, place)."""
        found = atlas.along([_shown(other) for other in self.values])
        return self._share(atlas, name, found[self.values.index(name)])

    def _share(self, atlas: Atlas, name: str, f: Array) -> Array:
        shows = atlas.machine.loop.part(name).kind.shows
        assert shows is not None and self.baseline is not None
        return self.baseline.tracks[name].share(np.clip(f, shows.least, shows.most))

    def _any(self, atlas: Atlas, cells: Cells, peak: Peak, sign: int) -> Array:
        chances = [np.zeros(len(cells))]
        for name in self.values:
            error, sd = self._error(atlas, cells, peak, name)
            chances.append(below((sign * error - NOTICED) / sd))
        return np.asarray(np.max(chances, axis=0))

    def _reads_low(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        return self._any(atlas, cells, peak, -1)

    def _reads_high(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        return self._any(atlas, cells, peak, 1)

    def _reads_zero(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        low = self._any(atlas, cells, peak, -1)
        least = self._shown(atlas, cells, peak).min(axis=0, initial=np.inf)
        return np.asarray(low) * below((0.02 - least) / SHARPNESS)

    def _shown(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        """What every receiver shows at the peak: (receiver, cell); there may be none."""
        shown = np.empty((len(self.values), len(cells)))
        for n, name in enumerate(self.values):
            shown[n] = value_at(self._corners(atlas, cells, name), peak.s, peak.t)
        return shown

    def _frozen(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        moves = [np.ptp(self._along(atlas, name), axis=1)[cells.low] for name in self.values]
        still = np.any([np.zeros(len(cells), bool), *(move < NOTICED for move in moves)], axis=0)
        result: Array = np.maximum(self._told(atlas, "frozen")[cells.h], 0.7 * still)
        return result

    def _erratic(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        """A fault that comes and goes, and that can be seen when it is there."""
        result: Array = self._told(atlas, "erratic")[cells.h] * self._off(atlas, cells, peak)
        return result

    @staticmethod
    def _told(atlas: Atlas, complaint: str) -> Array:
        """Likelihood of a complaint as the fault modes state it: (hypothesis,)."""
        modes = [h.mode for h in atlas.ground.hypotheses]
        return np.array([mode.symptoms.get(complaint, 0.0) if mode else 0.0 for mode in modes])

    def _clips(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        """Right at the bottom of the range, short of the top."""
        chances = [np.zeros(len(cells))]
        lines, lowest = np.arange(len(atlas.lines)), np.abs(atlas.lines.p).argmin(axis=1)
        for name in self.values:
            along = self._along(atlas, name)
            off, top = (along - atlas.lines.p)[lines, lowest], along.max(axis=1)
            low, short = (one[cells.low] + peak.s * (one[cells.high] - one[cells.low])
                          for one in (off, top))  # fmt: skip
            room = NOTICED - np.abs(low), 1 - NOTICED - short, short - 0.05
            chances.append(np.prod([below(one / SHARPNESS) for one in room], axis=0))
        return np.asarray(np.max(chances, axis=0))

    def _disagree(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        shown = self._shown(atlas, cells, peak)
        apart = shown.max(axis=0, initial=-np.inf) - shown.min(axis=0, initial=np.inf)
        return below((apart - NOTICED) / SHARPNESS)

    def _off(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        """Some display is off to either side, or some lamp contradicts the process."""
        sides = [self._any(atlas, cells, peak, sign) for sign in (1, -1)]
        lamps = [
            self._contradicted(atlas, cells, peak, dict.fromkeys(self.states, sign))
            for sign in (1, -1)
        ]
        return np.asarray(np.max([*sides, *lamps], axis=0))

    def _contradicted(
        self, atlas: Atlas, cells: Cells, peak: Peak, signs: Mapping[str, float]
    ) -> Array:
        """A lamp contradicts the process: on where it should be off, or (sign -1) off."""
        chances = [np.zeros(len(cells))]
        process = process_at(cells, peak)
        for name, sign in signs.items():
            level = value_at(cells.corners(self._heights(atlas, name)), peak.s, peak.t)
            assert self.baseline is not None
            due = self.baseline.due(name, process)
            chances.append(below(sign * level / 0.05) * below(-sign * due / 0.05))
        return np.asarray(np.max(chances, axis=0))

    def _tripped(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        return self._contradicted(atlas, cells, peak, self._as_a_trip(1))

    def _as_a_trip(self, sign: int) -> dict[str, float]:
        """The sign by which each state tells of a trip; what tells nothing of it is left out."""
        assert self.baseline is not None
        return {name: sign * sense for name, sense in self.baseline.senses.items() if sense}

    def _does_not_follow(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        """Off to either side; not moving counts too where the process moves the display."""
        if self.still:
            return self._elsewhere(atlas, cells, peak)
        off, frozen = self._off(atlas, cells, peak), self._frozen(atlas, cells, peak)
        result: Array = np.maximum(off, frozen)
        return result

    def _elsewhere(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        """Displays that stand elsewhere than on the sound loop, whatever the process does."""
        chances = [np.zeros(len(cells))]
        for name, due in self.still.items():
            corner = cells.corners(self._heights(atlas, name))
            off = np.abs(value_at(corner, peak.s, peak.t) - due)
            chances.append(below((off - NOTICED) / SHARPNESS))
        return np.asarray(np.max(chances, axis=0))

    def _switched(self, sign: int) -> dict[str, float]:
        """The sign by which each lamp tells that something is on (``sign`` -1: off).

        A lamp of the shut end goes out as a valve opens: one that is dark tells of a valve that
        does not shut.  Where none comes on as the process rises, all are taken to tell it.
        """
        assert self.baseline is not None
        levels = self.baseline.states
        rise = {name: float(np.sign(levels[name][-1] - levels[name][0])) for name in self.states}
        if max(rise.values(), default=0.0) <= 0:
            return dict.fromkeys(self.states, float(sign))
        return {name: sign * way for name, way in rise.items() if way}

    def _stays_on(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        return self._contradicted(atlas, cells, peak, self._switched(1))

    def _stays_off(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        return self._contradicted(atlas, cells, peak, self._switched(-1))

    def _no_trip(self, atlas: Atlas, cells: Cells, peak: Peak) -> Array:
        return self._contradicted(atlas, cells, peak, self._as_a_trip(-1))


def _shown(name: str) -> Measurement:
    """What a display shows in the loop as it is."""
    return Measurement("shows", (name,))
