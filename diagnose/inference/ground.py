"""From (hypothesis, severity, process) to rows of circuit parameters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array, Column, distinct
from diagnose.inference.hypotheses import Hypothesis, condition_moves
from diagnose.inference.measurement import Condition


@dataclass
class Ground:
    """Everything that turns (hypothesis, severity, process) into rows of circuit parameters."""

    machine: Predictor
    hypotheses: tuple[Hypothesis, ...]
    moved: list[list[int]] = field(init=False)
    paired: Array = field(init=False)
    _still: dict[tuple[tuple[int, ...], Condition], Array] = field(default_factory=dict)

    def __post_init__(self) -> None:
        wiring = self.machine.wiring
        self.paired = np.array([bool(h.also) for h in self.hypotheses])
        self.moved = [[number for number, _ in h.moves(wiring, 0.5)] for h in self.hypotheses]

    @property
    def pairs(self) -> bool:
        """Whether there are pairs of faults among the hypotheses."""
        return bool(self.paired.any())

    def columns(
        self, h: Array, x: Array, process: Array, condition: Condition = (), nudge: float = 0.0
    ) -> list[Column]:
        """Parameter columns for rows of (hypothesis, x, process) under a condition; shapes (row,).

        ``nudge`` shifts the severity of the first fault of every pair.
        """
        return self.columns_of(((h, x),), process, condition, nudge)

    def columns_of(
        self,
        faults: Sequence[tuple[Array, Array]],
        process: Array,
        condition: Condition,
        nudge: float = 0.0,
    ) -> list[Column]:
        """The same for rows with several faults at once, each as (hypothesis, x)."""
        by_hand, healed = condition_moves(self.machine.wiring, condition)
        moved: dict[int, Column] = {**self.faults(faults, healed, nudge), **by_hand}
        return self.machine.columns(moved, process)

    def stacked(
        self,
        h: Array,
        x: Array,
        process: Array,
        conditions: Sequence[Condition],
        nudge: float = 0.0,
    ) -> list[Column]:
        """The same rows under several conditions, one after the other: (condition * row,)."""
        wiring, count = self.machine.wiring, len(h)
        moved: dict[int, Array] = {}
        plain = self.faults(((h, x),), set(), nudge)
        for n, condition in enumerate(conditions):
            by_hand, healed = condition_moves(wiring, condition)
            faults = self.faults(((h, x),), healed, nudge) if healed else plain
            for number, value in {**faults, **by_hand}.items():
                if number not in moved:
                    moved[number] = np.full(count * len(conditions), wiring.nominal[number])
                moved[number][n * count : (n + 1) * count] = value
        return self.machine.columns(dict(moved), np.tile(process, len(conditions)))

    def faults(
        self, faults: Sequence[tuple[Array, Array]], healed: set[str], nudge: float = 0.0
    ) -> dict[int, Array]:
        """What faults, each as (hypothesis, x), make of the parameters that they move: (row,)."""
        moved: dict[int, Array] = {}
        for h, x in faults:
            self._put(moved, h, x, healed, nudge)
        return moved

    def _put(
        self, moved: dict[int, Array], h: Array, x: Array, healed: set[str], nudge: float
    ) -> None:
        """Move parameters in the rows of each hypothesis."""
        wiring = self.machine.wiring
        order = np.argsort(h, kind="stable")
        bounds = np.searchsorted(h[order], np.arange(len(self.hypotheses) + 1))
        for number in distinct(h):
            rows = order[bounds[number] : bounds[number + 1]]
            for parameter, value in self.hypotheses[number].moves(wiring, x[rows], healed, nudge):
                if parameter not in moved:
                    moved[parameter] = np.full(len(h), wiring.nominal[parameter])
                moved[parameter][rows] = value

    def still(self, h: Array, parameters: Sequence[int], condition: Condition) -> Array:
        """True where neither fault nor condition moves a parameter: (row, parameter)."""
        key = (tuple(parameters), condition)
        if key not in self._still:
            self._still[key] = self._table(parameters, condition)
        result: Array = self._still[key][h]
        return result

    def _table(self, parameters: Sequence[int], condition: Condition) -> Array:
        """The same for every hypothesis: (hypothesis, parameter)."""
        wiring = self.machine.wiring
        by_hand, healed = condition_moves(wiring, condition)
        table = np.ones((len(self.hypotheses), len(parameters)), bool)
        place = {parameter: n for n, parameter in enumerate(parameters)}
        for number, hypothesis in enumerate(self.hypotheses):
            gone = self.moved[number]
            if healed:
                gone = [parameter for parameter, _ in hypothesis.moves(wiring, 0.5, healed)]
            for parameter in (*gone, *by_hand):
                if parameter in place:
                    table[number, place[parameter]] = False
        return table
