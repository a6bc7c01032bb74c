"""The next measurement: what each would tell, what it costs, and when to stop measuring."""

from __future__ import annotations

from copy import copy
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.candidates import Candidate, excluded, travel, visited
from diagnose.inference.drawn import draw
from diagnose.inference.foresight import Foresight
from diagnose.inference.groups import gain, given, groups, joint_gain, masses
from diagnose.inference.known import Known
from diagnose.inference.moving import beyond

if TYPE_CHECKING:
    from diagnose.inference.atlas import Atlas
    from diagnose.inference.engine import Engine, Told
    from diagnose.inference.measurement import Measurement
    from diagnose.inference.posterior import Belief

SURE = 0.95
"""Probability of one ambiguity group at which the hunt turns to the remedy."""

MINUTES_PER_BIT = 120.0
"""What one bit about the fault is worth: measuring goes on while a step costs less (assumption)."""

LEAST_GAIN = 0.02
"""Bits below which a measurement is not worth naming."""

HANDLING = 3.0
"""Minutes that any reading costs besides: finding the points, entering it, thinking."""

COMPANIONS = 4
"""Measurements of one place that are looked at in pairs when a walk is weighed."""

TRUSTED = 0.01
"""Chance of being worthless up to which a reading is not looked at again.

Above it what a second look tells is weighed against its minutes, as for any other reading.
"""

MOST_TIMES = 3
"""How often one thing is read at most."""

WRONG_REPAIR = 90.0
"""Minutes that a repair of the wrong thing costs, until it is known to be one (assumption).

So long that a lamp on which a verdict hangs is looked at twice: a display is misread once in 200.
"""

FUSED, RISK = 0.4, 0.01
"""Amperes from which the fuse of milliampere jacks blows (common practice, no source), and the
chance of more from which a meter is not advised in series: a short may be behind it."""

PENALTY_INTERRUPTS, PENALTY_MOVES = 15.0, 8.0
"""Minutes charged for opening the loop, or moving its signal: agreeing it with the operator."""


def charged(candidate: Candidate) -> float:
    """Minutes of a candidate at its place: work, handling, and a charge for what it disturbs."""
    return HANDLING + candidate.minutes + charge(candidate)


def charge(candidate: Candidate) -> float:
    """Minutes charged for what a candidate disturbs."""
    disturbs = PENALTY_MOVES if candidate.moves_signal else 0.0
    return PENALTY_INTERRUPTS if candidate.interrupts else disturbs


class Adviser:
    """Looks ahead from a belief; computed once, read by the report."""

    def __init__(
        self,
        engine: Engine,
        atlas: Atlas,
        belief: Belief,
        told: Told,
        place: str,
        without: frozenset[str],
        calm: bool = False,
    ) -> None:
        self.engine, self.belief, self.told, self.place = engine, belief, told, place
        self.atlas = atlas
        self.candidates = [
            c
            for c in engine.candidates
            if not excluded(c, without) and not (calm and (c.interrupts or c.moves_signal))
        ]
        read = [datum.measurement for datum in told.data]
        self.been = visited(engine.loop, engine.candidates, read)
        self.fresh = np.array([not self._known(c) for c in self.candidates], bool)
        drift = beyond(belief.drift, engine.loop)
        self.points = draw(belief.weighted, Known(atlas, told.data, drift))
        count = len(atlas.ground.hypotheses)
        if not len(self.points) or not self.candidates:
            self.group = np.arange(1, count + 1)
            self.gains = np.zeros(0)
            self.order: list[int] = []
            return
        trusted = [d for d, doubt in zip(told.data, belief.suspect, strict=True) if doubt < 0.5]
        self.foresight = Foresight(
            atlas, engine.meter, self.points, self.candidates, trusted, belief.drift
        )
        self.outlook = self.foresight.outlook
        self.blown = self._too_much()
        self.fresh &= ~self.blown
        self.given = given(self.outlook, self.points)
        self.group = groups(self.given, belief.probability)
        self.masses = masses(self.points, belief.probability)
        self.gains = gain(self.given.told, self.masses)
        self.charged = [charged(c) for c in self.candidates]
        self.minutes = np.array([self._minutes(c) for c in self.candidates])
        worth = self._rates()
        usable = self.fresh & (self.gains > LEAST_GAIN) & (worth * MINUTES_PER_BIT > 1)
        self.order = [int(n) for n in np.argsort(-np.round(worth, 3), kind="stable") if usable[n]]
        if self.hinge is not None:
            self.order = [self.hinge, *(n for n in self.order if n != self.hinge)]

    def of(self, engine: Engine | None) -> Adviser:
        """The same of another engine; of none, for one that keeps it."""
        other = copy(self)
        other.engine = engine  # type: ignore[assignment]
        return other

    @cached_property
    def hinge(self) -> int | None:
        """The candidate that takes a reading again on which the verdict hangs; None if none is due.

        One group holds enough, but were a reading worthless, something else might be true: where
        that is likelier than the minutes of a second look are worth, it comes before the remedy.
        """
        weight = self.group_probability()
        if not len(self.gains) or weight.max() < SURE:
            return None
        weighted = self.belief.weighted
        rival = self.group[weighted.cells.h] != int(weight.argmax())
        wrong = np.exp(weighted.log[rival]) @ weighted.wrong[rival]
        worth = {
            n: WRONG_REPAIR * float(wrong[read[0]]) / candidate.minutes
            for n, candidate in enumerate(self.candidates)
            for read in [self._read(candidate.measurement)]
            if len(read) == 1 and not candidate.moves_signal and self._within_reach(candidate)
            if not self.blown[n]
        }
        best = max(worth, key=lambda n: worth[n], default=None)
        return best if best is not None and worth[best] > 1 else None

    def _within_reach(self, candidate: Candidate) -> bool:
        return self.walk(candidate.place) <= 0

    def _rates(self) -> Array:
        """Bits per minute of each candidate: alone, or as the first of two on one walk."""
        rates: Array = self.gains / self.minutes
        for place in dict.fromkeys(c.place for c in self.candidates):
            walk = self.walk(place)
            if walk <= 0:
                continue
            there = [n for n, c in enumerate(self.candidates) if c.place == place and self.fresh[n]]
            best = sorted(there, key=lambda n: -self.gains[n])[:COMPANIONS]
            for place_of, first in enumerate(best):
                for second in best[place_of + 1 :]:
                    both = joint_gain(self.outlook, self.points, self.masses, first, second)
                    rate = both / (self.minutes[first] + self.minutes[second] - walk)
                    quick = max((first, second), key=lambda n: self.gains[n] / self.minutes[n])
                    rates[quick] = max(rates[quick], rate)
        return rates

    def _too_much(self) -> Array:
        """Where a meter in series may carry more than its fuse: (candidate,)."""
        series = np.array([c.measurement.function == "mA" for c in self.candidates], bool)
        over = np.abs(self.outlook.mean) > FUSED
        result: Array = series & (over @ self.points.weight > RISK)
        return result

    def too_much(self, measurement: Measurement) -> bool:
        """Whether a meter in series may carry more than its fuse."""
        if not len(self.gains):
            return False
        same = [n for n, c in enumerate(self.candidates) if c.measurement == measurement]
        return bool(self.blown[same].any())

    def _known(self, candidate: Candidate) -> bool:
        """Read and trusted, or found impossible: asking for it again tells nothing new."""
        if candidate.measurement in self.told.declined:
            return True
        doubts = [self.belief.suspect[n] for n in self._read(candidate.measurement)]
        return len(doubts) >= MOST_TIMES or min(doubts, default=1.0) <= TRUSTED

    def _read(self, measurement: Measurement) -> list[int]:
        """Places of the readings of one thing, in the order in which they were taken."""
        return [n for n, datum in enumerate(self.told.data) if datum.measurement == measurement]

    def again(self, n: int) -> int:
        """Number of the reading (from 1) that candidate ``n`` takes again; 0 where it is new."""
        before = self._read(self.candidates[n].measurement)
        return self.told.numbers[before[-1]] if before else 0

    def _minutes(self, candidate: Candidate) -> float:
        """Minutes of a candidate from where the technician stands, disturbance charged."""
        return charged(candidate) + self.walk(candidate.place)

    def leading(self, count: int) -> list[int]:
        """The best candidates, no two of one function at one place: they would tell the same."""
        chosen: dict[tuple[str, str], int] = {}
        for n in self.order:
            candidate = self.candidates[n]
            chosen.setdefault((candidate.measurement.function, candidate.place), n)
        return list(chosen.values())[:count]

    def companions(self, n: int, count: int = 2) -> list[tuple[int, float]]:
        """What is worth reading as well at the end of a walk to ``n``, with the bits that it adds.

        Nothing that disturbs the loop; each must be worth its own minutes once ``n`` is read.
        """
        place = self.candidates[n].place
        if self.walk(place) <= 0:
            return []
        there = [m for m, c in enumerate(self.candidates) if c.place == place and m != n]
        calm = [m for m in there if self.fresh[m] and not self.candidates[m].moves_signal]
        found = []
        for m in sorted(calm, key=lambda m: -self.gains[m])[:COMPANIONS]:
            more = joint_gain(self.outlook, self.points, self.masses, n, m) - float(self.gains[n])
            if more * MINUTES_PER_BIT > charged(self.candidates[m]):
                found.append((m, more))
        return sorted(found, key=lambda pair: -pair[1])[:count]

    def own_minutes(self, candidate: Candidate) -> float:
        """Minutes of walking and working, a permit included, nothing charged."""
        return candidate.minutes + self.walk(candidate.place)

    def walk(self, place: str) -> float:
        """Minutes to a place from where the technician stands, with the wait for a permit there."""
        return travel(self.engine.loop, self.place, place, self.been)

    def group_probability(self) -> Array:
        """Probability of each ambiguity group, by number (0 is unused)."""
        result: Array = np.bincount(
            self.group, weights=self.belief.probability, minlength=len(self.group) + 1
        )
        return result

    @property
    def resolved(self) -> bool:
        """One group holds what it takes, and no reading is to be looked at twice before."""
        return bool(self.group_probability().max() >= SURE) and self.hinge is None
