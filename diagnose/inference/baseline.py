"""What the displays of the sound loop show over the process value: the yardstick of a complaint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.circuit.wiring import Wiring
from diagnose.inference.complaints import told_by
from diagnose.inference.measurement import Measurement
from diagnose.inference.observe import Observer
from diagnose.loops.loop import Part

POINTS = 241
"""Process values at which the sound loop is looked at."""

AS_IT_STANDS = 0.02
"""A display that is this near to the process value at both ends of range is judged as it stands."""

FOLLOWS = 0.3
"""A display that moves by less of its scale over the whole range tells nothing of the process."""


@dataclass(frozen=True)
class Track:
    """A display that follows the process: what it shows at 0 and at 100 %, sound."""

    low: float
    high: float

    def error(self, level: Array, process: Array) -> Array:
        """How far a level is from what the sound loop would show, as a share of range."""
        return self.share(level) - process

    def share(self, level: Array) -> Array:
        """The process value that a level stands for."""
        return (level - self.low) / (self.high - self.low)


class Baseline:
    """The sound loop.

    ``tracks`` are displays that follow the process, ``still`` the levels of displays that follow
    another part and not the process, ``states`` the levels of lamps, ``senses`` how these go with a
    trip.
    """

    def __init__(self, observer: Observer) -> None:
        self.process = np.linspace(0, 1, POINTS)
        machine = observer.machine
        state = machine.solve(machine.columns({}, self.process), POINTS)

        def seen(part: Part) -> Array:
            return observer.level(Measurement("shows", (part.name,)), state, self.process)

        self.tracks = {
            part.name: track
            for part in told_by(observer.loop, "value")
            if (track := _track(seen(part))) is not None
        }
        self.still = {
            part.name: float(levels.mean())
            for part in told_by(observer.loop, "value")
            if part.name not in self.tracks and part.kind.follows and not _own_unit(part)
            for levels in [seen(part)]
        }
        self.states = {part.name: seen(part) for part in told_by(observer.loop, "state")}
        self.senses = self._senses(machine.wiring)

    def _senses(self, wiring: Wiring) -> dict[str, float]:
        """How each state goes with the trip: 1 with it, -1 against it, 0 not at all.

        A lamp comes on as the trip comes in; a fail-safe relay, and an input that it holds, drop
        out.  The trip is the first switch that others follow; where none is shown, all are taken to
        come on.
        """
        switches = {part.name for part in wiring.switches}
        first = [part.name for part in wiring.switches if not switches & {*wiring.leaders(part)}]
        lead = next((self.states[name] > 0 for name in first if name in self.states), None)
        if lead is None or lead.all() or not lead.any():
            return dict.fromkeys(self.states, 1.0)
        on = {name: level > 0 for name, level in self.states.items()}
        return {
            name: float(np.sign(one[lead].mean() - one[~lead].mean())) for name, one in on.items()
        }

    def due(self, name: str, process: Array) -> Array:
        """Level of a state on the sound loop at process values."""
        result: Array = np.interp(process, self.process, self.states[name])
        return result


def _own_unit(part: Part) -> bool:
    """Whether a display shows something else than a share of the loop's range."""
    return part.kind.shows is not None and bool(part.kind.shows.unit)


def _track(level: Array) -> Track | None:
    low, high = float(level[0]), float(level[-1])
    if abs(high - low) < FOLLOWS:
        return None
    as_it_stands = max(abs(low), abs(high - 1)) < AS_IT_STANDS
    return Track(0.0, 1.0) if as_it_stands else Track(low, high)
