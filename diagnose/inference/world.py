"""A simulated loop with a hidden fault, and a meter that answers as a hand-held one does.

Everything that the belief treats to first order is done in full here: tolerances are drawn and put
into the circuit, meter and displays have errors of their own, values are rounded to what a display
shows, and now and then a reading is worthless.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt

import numpy as np

from diagnose.circuit.rows import Column
from diagnose.inference.data import WORTHLESS, WORTHLESS_METER, stray
from diagnose.inference.grid import HIGHEST, LOWEST
from diagnose.inference.ground import Ground
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.observe import Observer
from diagnose.inference.spreads import systematic

_SPAN = {
    "V": (-30.0, 30.0), "Vlow": (-30.0, 30.0), "VAC": (0.0, 300.0), "mA": (-0.01, 0.05),
    "clamp": (-0.01, 0.05),
}  # fmt: skip


@dataclass
class World:
    """One loop as it really is: hypothesis, severity coordinate, process, errors of everything.

    Where the loop is not as its sheet says, ``shifts`` are added to parameters by number; the
    process wanders by ``wander`` (standard deviation, share of range) from one reading to the next;
    reading number ``mistaken`` (from 1) is worthless whatever its chance.  ``facts`` are what the
    technician notices around it: context facts.
    """

    observer: Observer
    ground: Ground
    hypothesis: Hypothesis
    x: float
    process: float
    rng: np.random.Generator
    mistakes: bool = True
    shifts: dict[int, float] = field(default_factory=dict)
    wander: float = 0.0
    mistaken: int = 0
    facts: tuple[str, ...] = ()
    _count: int = 0
    _errors: dict[str, float] = field(default_factory=dict)
    _tolerances: dict[int, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for spread in self.observer.spreads:
            self._tolerances[spread.number] = float(self.rng.normal(0, spread.sd))

    def error(self, name: str) -> float:
        """A lasting error in standard deviations, drawn once for each meter function or display."""
        if name not in self._errors:
            self._errors[name] = float(self.rng.normal())
        return self._errors[name]

    def level(self, measurement: Measurement) -> float:
        """What would be seen without any error of meter or display."""
        drift = float(self.rng.normal(0, self.observer.loop.drift))
        process = np.array([np.clip(self.process + drift, LOWEST, HIGHEST)])
        row = np.array([self.hypothesis.number]), np.array([self.x])
        columns = self.ground.columns(*row, process, measurement.condition)
        numbers = list(self._tolerances)
        still = self.ground.still(row[0], numbers, measurement.condition)[0]
        moved: list[Column] = list(columns)
        for free, (number, off) in zip(still, self._tolerances.items(), strict=True):
            if free:
                moved[number] = moved[number] + off
        kept = self.ground.still(row[0], list(self.shifts), measurement.condition)[0]
        for free, (number, off) in zip(kept, self.shifts.items(), strict=True):
            if free:
                moved[number] = moved[number] + off
        state = self.observer.base(moved, 1, measurement.condition)
        seen = self.observer.see(measurement, state, process, np.ones((1, len(numbers)), bool))
        return float(seen.level[0])

    def read(self, measurement: Measurement) -> Reading:
        """The reading that a technician would report."""
        function = measurement.function
        doubt = WORTHLESS.get(function, WORTHLESS_METER)
        wrong = self.mistakes and self.rng.random() < doubt
        self._count += 1
        wrong = wrong or self._count == self.mistaken
        if self.wander:
            moved = self.process + float(self.rng.normal(0, self.wander))
            self.process = float(np.clip(moved, LOWEST, HIGHEST))
        if function in ("shows", "process"):
            return self._shown(measurement, wrong)
        level = self.level(measurement)
        if function == "ohm":
            shown = float(self.observer.meter.ohms(level))
            value = float(np.expm1(self.rng.uniform(0, 18))) if wrong else shown
            if not np.isfinite(value) or (not wrong and self.observer.meter.outrun(level)):
                return Reading(measurement, "overload", text="OL")
        else:
            value = float(self.rng.uniform(*_SPAN[function])) if wrong else level
            value += float(self.rng.normal(0, stray(self.observer.loop, function)))
        return self._metered(measurement, value)

    def _metered(self, measurement: Measurement, value: float) -> Reading:
        function = measurement.function
        spec = self.observer.meter.functions[function]
        gain = spec.percent / 100 / sqrt(3) * self.error(function)
        count = float(spec.resolution(np.array(value)))
        value = value * (1 + gain) + self.rng.normal(0, spec.counts * count / sqrt(3))
        value = round(value / count) * count
        if function == "ohm":
            value = max(value, 0.0)
        return Reading(
            measurement, "value", value, text=f"{function} {value:.6g}", rounding=count / 2
        )

    def _shown(self, measurement: Measurement, wrong: bool) -> Reading:
        level = self.level(measurement)
        lasting = systematic(self.observer.loop, measurement)
        if measurement.function == "process" or lasting is None:
            value = round(level + self.rng.normal(0, 0.02), 3)
            return Reading(measurement, "value", value, text=f"process {value:.3f}")
        shows = self.observer.loop.part(measurement.points[0]).kind.shows
        assert shows is not None
        name, sd = lasting
        if shows.what == "state":
            lit = level + sd * self.error(name) > 0
            if wrong:  # by chance half of these are right all the same, but not one put in as wrong
                lit = not lit if self._count == self.mistaken else self.rng.random() < 0.5
            return Reading(measurement, "lit" if lit else "dark", text=f"{name} lit {lit}")
        seen = float(self.rng.uniform(-0.25, 1.25)) if wrong else level + sd * self.error(name)
        seen += self.rng.normal(0, shows.resolution / sqrt(3))
        value = float(
            np.clip(round(seen / shows.resolution) * shows.resolution, shows.least, shows.most)
        )
        return Reading(
            measurement, "value", value, text=f"{name} {value:.3f}", rounding=shows.resolution / 2
        )
