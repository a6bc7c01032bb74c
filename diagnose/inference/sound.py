"""What the sound loop does in every condition; the same for every hunt, found once and kept."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.rows import Array, Pieces, State
from diagnose.inference.grid import HIGHEST, LOWEST
from diagnose.inference.ground import Ground
from diagnose.inference.measurement import Condition, Measurement
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

    def state(self, condition: Condition) -> State:
        """Its operating points in a condition."""
        if condition not in self._states:
            columns = self.ground.columns(np.zeros(2, int), np.full(2, 0.5), SWAYED, condition)
            self._states[condition] = self.observer.base(columns, 2, condition)
        return self._states[condition]

    def pieces(self, condition: Condition, rows: int) -> Pieces:
        """Its regimes as a first guess for ``rows`` rows: most faults change little of them."""
        found = self.state(condition).pieces
        return {k: np.full(rows, piece[0]) for k, piece in found.items()}

    def sway(self, measurement: Measurement) -> float:
        """How far its level moves per unit of process value."""
        if measurement not in self._sways:
            self._sways[measurement] = self._swaying(measurement)
        return self._sways[measurement]

    def _swaying(self, measurement: Measurement) -> float:
        if measurement.function == "ohm":
            return 0.0
        state = self.state(measurement.condition)
        # The meter belongs to it: a circuit that floats behind an isolator does not sway under it.
        level = self.observer.level(measurement, state, SWAYED)
        return float(abs(level[1] - level[0]) / (SWAYED[1] - SWAYED[0]))

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
