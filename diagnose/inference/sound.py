"""What the sound loop does in every condition; the same for every hunt, found once and kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from diagnose.circuit.rows import Array, Pieces, State, window
from diagnose.inference.grid import HIGHEST, LOWEST
from diagnose.inference.ground import Ground
from diagnose.inference.measurement import Condition, Measurement, alike, jumpers_of
from diagnose.inference.observe import Observer, Sight

SWAYED = np.array([0.4, 0.6])
"""Process values between which it is seen how far a level moves."""

ALONG = np.linspace(LOWEST, HIGHEST, 61)
"""Process values at which it is seen what the sound loop shows; straight lines between them."""


class Sound:
    """The sound loop at the two process values ``SWAYED``."""

    def __init__(self, observer: Observer, ground: Ground) -> None:
        self.observer, self.ground = observer, ground
        self._states: dict[Condition, State] = {}
        self._sways: dict[Measurement, float] = {}
        self._seen: dict[Measurement, Sight] = {}

    def look(self, conditions: Iterable[Condition]) -> None:
        """Solve it in conditions that are new, all at once."""
        new = [one for one in dict.fromkeys(conditions) if one not in self._states]
        for some in alike(new, jumpers_of):
            h, half, p = np.zeros(2, int), np.full(2, 0.5), SWAYED
            columns = self.ground.stacked(h, half, p, some)
            state = self.observer.base(columns, 2 * len(some), jumpers_of(some[0]))
            for n, condition in enumerate(some):
                self._states[condition] = window(state, slice(2 * n, 2 * n + 2))

    def pieces(self, condition: Condition, rows: int) -> Pieces:
        """Its regimes as a first guess for ``rows`` rows: most faults change little of them."""
        self.look([condition])
        found = self._states[condition].pieces
        return {k: np.full(rows, piece[0]) for k, piece in found.items()}

    def sways(self, wanted: Sequence[Measurement]) -> list[float]:
        """How far the level of each measurement moves per unit of process value."""
        new = [one for one in dict.fromkeys(wanted) if one not in self._sways]
        self.look(one.condition for one in new)
        for some in alike(new, lambda one: one.condition):
            self._sways.update(zip(some, self._swaying(some), strict=True))
        return [self._sways[one] for one in wanted]

    def sway(self, measurement: Measurement) -> float:
        """The same of one."""
        return self.sways([measurement])[0]

    def _swaying(self, some: list[Measurement]) -> list[float]:
        # The meter belongs to it: a circuit that floats behind an isolator does not sway under it.
        levels = self.observer.levels(some, self._states[some[0].condition], SWAYED)
        way = SWAYED[1] - SWAYED[0]
        return [float(abs(level[1] - level[0]) / way) for level in levels]

    def sight(self, measurement: Measurement, process: Array) -> Sight:
        """What it shows at process values (point,), as a sight of one measurement."""
        if measurement not in self._seen:
            self._seen[measurement] = self._along(measurement)
        seen = self._seen[measurement]
        place = np.interp(process, ALONG, np.arange(len(ALONG)))
        below = np.minimum(place.astype(int), len(ALONG) - 2)
        share = place - below

        def between(values: Array) -> Array:
            result: Array = values[..., below] * (1 - share) + values[..., below + 1] * share
            return result

        return Sight(between(seen.level), between(seen.slope))

    def _along(self, measurement: Measurement) -> Sight:
        condition, count = measurement.condition, len(ALONG)
        zero = np.zeros(count, int)
        columns = self.ground.columns(zero, np.full(count, 0.5), ALONG, condition)
        state = self.observer.base(columns, count, condition, self.pieces(condition, count))
        still = self.ground.still(zero, self.observer.numbers, condition)
        return self.observer.see_all([measurement], state, ALONG, still)
