"""The loop of a drill as it really is: its faults, its tolerances, its process, its state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.questions import polish
from diagnose.circuit.rows import Array, Attachment, Column, State
from diagnose.inference.fault_text import Fault
from diagnose.inference.grid import HIGHEST, LOWEST
from diagnose.inference.hypotheses import condition_moves, moves
from diagnose.inference.measurement import Condition, Jumper, Measurement
from diagnose.inference.observe import JUMPER, Observer
from diagnose.loops.loop import Loop, Part


@dataclass(frozen=True)
class Spells:
    """When an intermittent fault is there: seeded spells with and without it, in minutes.

    ``present`` is the mean length of a spell with the fault, ``absent`` of one without.
    """

    seed: int
    present: float = 40.0
    absent: float = 12.0

    def at(self, minute: float) -> bool:
        """Whether the fault is there at a simulated minute; it is there at the start."""
        rng = np.random.default_rng([self.seed, 77])
        end, there = float(rng.uniform(0.5, 1.5)) * self.present, True
        while end <= minute:
            there = not there
            end += float(rng.uniform(0.5, 1.5)) * (self.present if there else self.absent)
        return there


class Scene:
    """What a meter is put to.

    ``process`` is the true process value as a fraction of range; tolerances are drawn once from
    ``seed``: rectangular within their limits; or all values are ``nominal``.  ``spells`` makes the
    faults intermittent.  ``drift`` is by how much the process moves from reading to reading, share
    of range, where that is not what the sheet says.
    """

    def __init__(
        self,
        observer: Observer,
        faults: Sequence[Fault],
        process: float,
        seed: int,
        spells: Spells | None = None,
        nominal: bool = False,
        drift: float | None = None,
    ) -> None:
        self.observer, self.faults, self.process = observer, tuple(faults), process
        self.seed, self.spells = seed, spells
        self.drift = self.loop.drift if drift is None else drift
        rng = np.random.default_rng([seed, 11])
        self._off = {
            spread.number: float(rng.uniform(-1, 1)) * spread.sd * 3**0.5
            for spread in observer.spreads
            if not nominal
        }

    @property
    def loop(self) -> Loop:
        """The loop as its sheet has it."""
        return self.observer.loop

    @property
    def tolerances(self) -> dict[tuple[str, str], float]:
        """How far each uncertain parameter is off its nominal value, SI."""
        names = self.observer.machine.wiring.parameters
        return {names[number]: off for number, off in self._off.items()}

    def present(self, minute: float) -> bool:
        """Whether the faults are there."""
        return bool(self.faults) and (self.spells is None or self.spells.at(minute))

    def columns(self, condition: Condition, minute: float, process: float) -> list[Column]:
        """The parameters: nominal, tolerances, faults, then what was done on purpose."""
        wiring = self.observer.machine.wiring
        by_hand, healed = condition_moves(wiring, condition)
        moved: dict[int, Column] = {}
        for fault in self.faults if self.present(minute) else ():
            if fault.part not in healed:
                part = wiring.parts[fault.part]
                moved.update(moves(wiring, part, fault.mode.changes, fault.severity))
        moved.update(by_hand)
        drawn = {n: wiring.nominal[n] + off for n, off in self._off.items() if n not in moved}
        return self.observer.machine.columns({**drawn, **moved}, np.array([process]))

    def state(
        self,
        condition: Condition,
        minute: float,
        clips: Sequence[Attachment] = (),
        process: float | None = None,
    ) -> State:
        """The operating point, with what is clipped on."""
        machine = self.observer.machine
        value = self.process if process is None else process
        jumpers = [
            Attachment(item.a, item.b, 1 / JUMPER) for item in condition if isinstance(item, Jumper)
        ]
        columns = self.columns(condition, minute, value)
        return polish(machine, machine.solve(columns, 1, (*jumpers, *clips)))

    def drifted(self, number: int) -> float:
        """The process value at reading ``number``: it is never quite at rest."""
        rng = np.random.default_rng([self.seed, 13, number])
        drift = float(rng.normal(0, self.drift)) if self.drift else 0.0
        return float(np.clip(self.process + drift, LOWEST, HIGHEST))

    def level(self, measurement: Measurement, minute: float, process: float | None = None) -> float:
        """What an ideal display would show: the meter loads the circuit, but makes no error."""
        value = self.process if process is None else process
        state = self.state(measurement.condition, minute, process=value)
        return float(self.observer.level(measurement, state, np.array([value]))[0])

    def displays(
        self, condition: Condition, minute: float, clips: Sequence[Attachment] = ()
    ) -> dict[str, float]:
        """Levels of everything that shows something without a meter, by part."""
        state = self.state(condition, minute, clips)
        return {part.name: self.shown(part.name, state) for part in self.showing()}

    def shown(self, name: str, state: State) -> float:
        """The level of one display in a state."""
        wanted = Measurement("shows", (name,))
        return float(self.observer.level(wanted, state, np.array([self.process]))[0])

    def showing(self) -> list[Part]:
        """Parts that show something of the circuit: not what stands beside the loop."""
        return [p for p in self.loop.parts if p.kind.shows and (p.pins or p.kind.follows)]

    def behind(self, a: str, b: str, condition: Condition, minute: float) -> float:
        """Resistance that the loop holds between two points for a small current, ohm."""
        state = self.state(condition, minute)
        node = self.observer.machine.wiring.node
        injected: dict[int, Column] = {}
        for name, sign in ((a, 1.0), (b, -1.0)):
            if node[name]:
                injected[node[name]] = sign
        seen: list[Array] = [np.ravel(v) for v in self.observer.machine.respond(state, injected)]
        return abs(float(seen[node[a]][0] - seen[node[b]][0]))
