"""A technician of the demo plant on one call: what the engine advises is done, more or less.

The loop and the meter are simulated (`inference.world`); everything else is the session's own
`Hunt` on a case file, so that each record is one that a session writes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from casework import history_words as say
from casework.history_calls import Call, Fault
from casework.history_end import Ending
from diagnose.casework import events as e
from diagnose.casework.hunt import RECORDS, Hunt
from diagnose.casework.hunt_task import Task
from diagnose.casework.log import CaseFile
from diagnose.inference.engine import Engine
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.readings import describe
from diagnose.inference.world import World
from diagnose.loops.loop import Loop
from diagnose.training.draws import draw

MOST_READINGS = 9
SLOW = {"LIC-214": 3}
"""Readings of loops that are slow to rank."""

FAVOURED = {
    "leakage": "rain",
    "earthed": "rain",
    "input collapsed": "lightning",
    "reversed": "work",
    "swapped": "work",
    "left on": "work",
    "blocked": "frost",
}
"""Mode -> the fact that often comes with it."""

OFTEN, SELDOM = 0.55, 0.06


class Crew:
    """One call from the first look to the end of the case."""

    def __init__(self, call: Call, folder: Path, loop: Loop, engine: Engine) -> None:
        self.call, self.engine = call, engine
        self.rng = np.random.default_rng([call.seed, 77])
        self.words = say.Words(self.rng)
        self.now: datetime = call.at
        self.file = CaseFile.create(folder, loop, clock=lambda: self.now)
        self.loop = self.file.loop
        self.hunt = Hunt(self.file, self.loop, lambda: engine, "cabinet")
        self.careful = self.rng.random() > 0.08
        self.released: set[str] = set()
        self._hide()

    def _hide(self) -> None:
        """Put the fault into the loop, drawn or as written."""
        call = self.call
        if call.fault is None:
            self.world, self.complaint = draw(self.engine, call.seed)
            self.fault: Fault = self.world.hypothesis.key
        else:
            self.fault, self.complaint = call.fault, call.complaint
            x, process = self.rng.uniform(0.3, 0.7), self.rng.uniform(0.2, 0.8)
            process = float(round(process)) if self.loop.states else float(process)
            process = 0.95 if self.complaint == "clips" else process
            self.world = self.world_of(call.fault, float(x), process)
        if call.fate == "gone":
            self.complaint = "erratic"
            self.world = self.world_of((None, "none"), 0.5, self.world.process)

    def world_of(self, fault: Fault, x: float, process: float) -> World:
        return World(self.engine.observer, self.engine.atlas.ground,
                     self.engine.hypothesis(fault), x, process, self.rng)  # fmt: skip

    def mended(self) -> None:
        """From now on nothing is wrong."""
        self.world = self.world_of((None, "none"), 0.5, self.world.process)

    # -- small things ------------------------------------------------------------------------------

    def wait(self, low: float, high: float) -> None:
        """Some minutes pass."""
        self.now += timedelta(seconds=round(60 * self.rng.uniform(low, high)))

    def chance(self, share: float) -> bool:
        """Luck."""
        return bool(self.rng.random() < share)

    def add(self, *events: e.Event) -> None:
        """Append to the case, a minute or two each."""
        for event in events:
            self.file.append(event)
            self.wait(0.4, 2)

    def note(self, text: str) -> None:
        """Write a note; an empty one is none."""
        self.add(*([e.Noted(text)] if text else []))

    def typed(self, measurement: Measurement) -> str:
        """A reading as it is typed: what meter or display shows."""
        seen = self.world.read(measurement)
        return describe(Reading(measurement, seen.sort, seen.value, seen.spread), self.loop)

    # -- the hunt ----------------------------------------------------------------------------------

    def work(self) -> bool:
        """Go through the whole call; whether the fault, if there is one, is gone."""
        self.note(self.words.called(self.now))
        self._tell()
        self._look()
        self._records()
        limit = SLOW.get(self.call.tag, MOST_READINGS)
        cut = self.call.fate in ("handed over", "open")
        self._follow(int(self.rng.integers(2, 4)) if cut else limit)
        if cut:
            self._leave()
            if self.call.fate == "open" or self.chance(0.3):
                self.file.close()
                return self.fault[0] is None
            self._go_on(limit)
        gone = Ending(self).reached()
        self.file.close()
        return gone

    def _tell(self) -> None:
        self.hunt.take(f"complaint {self.complaint}")
        facts = list(self.call.facts)
        usual = FAVOURED.get(self.fault[1])
        if usual == "frost" and self.now.month not in (1, 2, 12):
            usual = None
        if not facts and usual and self.chance(OFTEN):
            facts = [usual]
        elif not facts and self.chance(SELDOM):
            facts = ["rain" if self.chance(0.6) else "work"]
        for fact in facts:
            self.hunt.take(f"context {fact}")
        self.wait(1, 4)

    def _look(self) -> None:
        """One or two displays of the panel, before anything else."""
        shown = [c.measurement for c in self.engine.candidates
                 if c.measurement.function == "shows" and c.place == "control room"
                 and not c.measurement.condition]  # fmt: skip
        for measurement in shown[: 1 + self.chance(0.4)]:
            self.hunt.take(self.typed(measurement))
            self.wait(0.5, 2)

    def _records(self) -> None:
        """Bypass and manual, where the loop needs them and somebody agrees."""
        for item in self.hunt.missing:
            if self.chance(0.6 if say.is_night(self.now) else 0.8):
                self.wait(5, 30)
                self.add(e.Altered(item, f"{self.call.tag}, agreed with the shift leader"))

    def _follow(self, most: int) -> None:
        """Do what is advised until nothing more is, or for so many readings."""
        start = len(self.file.case.readings)
        while len(self.file.case.readings) - start < most:
            task = self.hunt.advise()
            if task is None:
                break
            self._step(task)
        self.put_back(lambda item: item not in RECORDS.values())

    def _step(self, task: Task) -> None:
        wanted = {str(item) for item in self.hunt.to_put_back(task)}
        for item in self.file.case.open_items:
            if str(item) in wanted:
                self.add(e.Restored(item.item, item.text))
        if self._refused(task):
            return
        if task.red and self.careful:
            self.hunt.agree(task)
            self.wait(1, 3)
        self.wait(0.8 * task.minutes, 1.7 * task.minutes)
        self._enter(task)

    def _refused(self, task: Task) -> bool:
        """A zone needs a permit, which takes its time and may not come."""
        if "zone" not in task.red or task.place in self.released:
            return False
        self.wait(10, 50)
        if self.chance(0.3 if say.is_night(self.now) else 0.08):
            self.hunt.decline(task.measurement, self.words.of(say.NO_PERMIT))
            self.hunt.rule_out(task.place)
            return True
        self.released.add(task.place)
        return False

    def _enter(self, task: Task) -> None:
        """Type the reading; now and then with a slip, which is seen or not."""
        seen = self.world.read(task.measurement)
        reading = Reading(task.measurement, seen.sort, seen.value, seen.spread)
        slip = seen.sort == "value" and task.measurement.function == "V" and self.chance(0.03)
        wrong = replace(reading, value=reading.value / 10) if slip else reading
        self.hunt.take(describe(wrong, self.loop))
        number = len(self.file.case.readings)
        if slip and self.chance(0.7):
            self.wait(1, 4)
            self.hunt.mending.correct(number, describe(reading, self.loop))
        elif not slip and self.chance(0.012):
            self.wait(1, 5)
            self.hunt.mending.withdraw(number, say.WRONG_LEADS)

    def put_back(self, which: Callable[[str], bool]) -> None:
        """Restore the open items that ``which`` says, by what was altered."""
        for item in self.file.case.open_items:
            if which(item.item):
                self.add(e.Restored(item.item, item.text))

    def _leave(self) -> None:
        self.hunt.believed()
        if self.call.fate == "handed over":
            self.note(self.words.of(say.SHIFT_ENDS))
            self.add(e.Closed(e.HANDED_OVER))

    def _go_on(self, limit: int) -> None:
        self.wait(180, 700)
        who = self.words.who(self.now)
        self.note(self.words.of(say.GONE_ON, who=who, at=f"{self.now:%H:%M}"))
        self._follow(limit)
