"""What every candidate measurement would show, given all that is now believed.

The belief is carried by a fixed number of points drawn evenly from its cells; at each the circuit
is solved anew, the tolerances that the readings so far have already revealed are taken into
account, and the outcomes of every candidate are spread over bins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.candidates import Candidate
from diagnose.inference.data import Datum
from diagnose.inference.measurement import Measurement
from diagnose.inference.meters import Meter
from diagnose.inference.observe import Sight
from diagnose.inference.outcomes import Outcomes, Outlook
from diagnose.inference.stated import states
from diagnose.inference.views import Points, Reader

SOUND_POINTS = 24
"""Points at which it is told what a sound loop would show."""


class Foresight:
    """What candidates would show, all that ``data`` tell of the tolerances put in.

    ``outlook`` are the outcomes at the points of the belief; ``sound`` are points of the sound loop
    at process values of these.
    """

    def __init__(
        self,
        atlas: Atlas,
        meter: Meter,
        points: Points,
        candidates: Sequence[Candidate],
        data: Sequence[Datum],
        drift: float | None = None,
    ) -> None:
        """``drift`` is the unrest of the process, where it is not the loop's own."""
        self.atlas, self.meter = atlas, meter
        self.wanted = [candidate.measurement for candidate in candidates]
        self.sound = _sound(points)
        self.read = read = [datum for datum in data if datum.side == 0]
        every = [*self.wanted, *(datum.measurement for datum in read)]
        reader = Reader(atlas, points, every)
        loop = atlas.machine.loop
        if drift is not None and drift != loop.drift:
            loop = replace(loop, drift=drift)
        outcomes = Outcomes(loop, meter, data, reader.spreads, points.weight, points.h)
        seen = _Seen(reader, self.wanted)
        for some in reader.together(datum.measurement for datum in read):
            sways = atlas.sound.sways(some)
            for datum in read:
                if datum.measurement in some:
                    sway = sways[some.index(datum.measurement)]
                    outcomes.learn(datum, *seen.of(datum.measurement), sway)
        self.outlook = self._outlook(seen, outcomes, len(points))

    def _outlook(self, seen: _Seen, outcomes: Outcomes, count: int) -> Outlook:
        """Outcomes of all candidates, lot by lot: slopes of all at once would take much room."""
        found = Outlook.empty(len(self.wanted), count)
        place = {measurement: n for n, measurement in enumerate(self.wanted)}
        for number, some in enumerate(seen.lots):
            sways = self.atlas.sound.sways(some)
            rows = [place[measurement] for measurement in some]
            found.put(rows, outcomes.of(some, seen.lot(number), sways))
        return found

    def healthy(self, numbers: Sequence[int]) -> Outlook:
        """What some candidates would show at the sound points, before any reading.

        But for what tells an operating state: the loop is sound where a person has set it.
        """
        wanted, sound = [self.wanted[n] for n in numbers], self.atlas.sound
        seen = [sound.sight(measurement, self.sound.p) for measurement in wanted]
        level, slope = [one.level for one in seen], [one.slope for one in seen]
        sight = Sight(np.concatenate(level), np.concatenate(slope))
        loop, spreads = self.atlas.machine.loop, sight.slope.shape[1]
        told = [datum for datum in self.read if states(loop, datum.measurement)]
        outcomes = Outcomes(loop, self.meter, told, spreads, self.sound.weight)
        for datum in told:
            one = sound.sight(datum.measurement, self.sound.p)
            outcomes.learn(datum, one.level[0], one.slope[0], sound.sway(datum.measurement))
        return outcomes.of(wanted, sight, sound.sways(wanted))


class _Seen:
    """Lots of candidates as they are read at the points; what was read before is among them."""

    def __init__(self, reader: Reader, wanted: Sequence[Measurement]) -> None:
        self.reader, self.lots = reader, list(reader.together(wanted))
        self._lot = {one: number for number, some in enumerate(self.lots) for one in some}
        self._kept: dict[int, Sight] = {}

    def of(self, measurement: Measurement) -> tuple[Array, Array]:
        """Level (point,) and slopes (spread, point) of one; its lot is kept until asked for."""
        if measurement not in self._lot:
            alone = self.reader.see([measurement])
            return alone.level[0], alone.slope[0]
        number = self._lot[measurement]
        if number not in self._kept:
            self._kept[number] = self.reader.see(self.lots[number])
        sight, n = self._kept[number], self.lots[number].index(measurement)
        return sight.level[n], sight.slope[n]

    def lot(self, number: int) -> Sight:
        """Levels and slopes of a lot."""
        kept = self._kept.pop(number, None)
        return self.reader.see(self.lots[number]) if kept is None else kept


def _sound(points: Points) -> Points:
    """The sound loop at ``SOUND_POINTS`` of the process values."""
    some = np.linspace(0, len(points) - 1, SOUND_POINTS).astype(int)
    zero = np.zeros(SOUND_POINTS, int)
    return Points(zero, np.full(SOUND_POINTS, 0.5), points.p[some], points.weight[some])


__all__ = ["Foresight", "Points"]
