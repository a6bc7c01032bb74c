"""One hunt as a conversation without a screen: what was said, what is believed, what comes next.

Everything that changes the hunt is appended to its case before the answer is given, so that a
session can end at any moment and go on from the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING

from diagnose.casework import events as e
from diagnose.casework.case import Case, Open
from diagnose.casework.checks import CaseError
from diagnose.casework.digest import ranked
from diagnose.casework.hunt_mend import Mending
from diagnose.casework.hunt_task import Task, as_written, left_altered, overtaken, task_of
from diagnose.casework.numbering import renumbered
from diagnose.inference.candidates import MANNED, travel
from diagnose.inference.cautions import cautions_for
from diagnose.inference.measurement import Cleared, Complaint, Context, Measurement, Reading
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import describe, parse_line, parse_lines
from diagnose.loops.loop import Loop

if TYPE_CHECKING:
    from diagnose.casework.log import CaseFile
    from diagnose.inference.engine import Engine

RECORDS = {"trip": "bypass", "control": "manual", "output": "manual"}
"""Role of a loop -> what must be on record before a step that disturbs it is advised."""

RULED_OUT = "ruled out: "
"""How a note begins that keeps a place or a meter function out of the advice."""

USUAL_MINUTES = 2.0
"""Minutes of a reading that is none of the loop's candidates."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a line was taken for: a reading, a complaint, a fact, what was found good or declined.

    ``number`` counts readings from 1, withdrawn ones included; ``opened`` are new open items;
    ``typed`` is a reading as it came, its unit or the hyphen of its tag left out perhaps.
    """

    what: str
    text: str
    number: int = 0
    opened: tuple[str, ...] = ()
    measurement: Measurement | None = None
    typed: str = ""


class Hunt:
    """The state of one hunt beside its case: place, what is ruled out, the task in hand.

    ``file`` keeps the case; ``make`` makes the engine, which is asked for only when something is
    to be ranked.  ``onward`` asks for steps even where one explanation holds 95 %.
    """

    def __init__(self, file: CaseFile, loop: Loop, make: Callable[[], Engine], place: str) -> None:
        self.file, self.loop, self._make = file, loop, make
        self._engine: Engine | None = None
        self._making = Lock()
        self._known: tuple[object, Ranking] | None = None
        self.mending = Mending(file, loop)
        self._agreed: Measurement | None = None
        self._again: int | None = None
        self._skip = 0
        self.onward = False
        taken = self.case.in_force
        self.place = taken[-1].place if taken and taken[-1].place != MANNED else place

    @property
    def case(self) -> Case:
        """The case as it stands."""
        return self.file.case

    @property
    def engine(self) -> Engine:
        """The engine of the loop, made when it is first needed, whichever thread needs it."""
        with self._making:
            if self._engine is None:
                self._engine = self._make()
        return self._engine

    # -- belief ------------------------------------------------------------------------------------

    @property
    def missing(self) -> tuple[str, ...]:
        """What must be on record before steps that disturb are advised: bypass, manual."""
        wanted = dict.fromkeys(RECORDS[role] for role in sorted(self.loop.role) if role in RECORDS)
        there = {item.item for item in self.case.open_items}
        return tuple(record for record in wanted if record not in there)

    @property
    def without(self) -> frozenset[str]:
        """Places and meter functions that are ruled out."""
        notes = (note.text for note in self.case.notes)
        return frozenset(n.removeprefix(RULED_OUT) for n in notes if n.startswith(RULED_OUT))

    def ranking(self) -> Ranking:
        """What is believed now, readings numbered as in this session."""
        return self._renumbered(self.believed())

    def believed(self) -> Ranking:
        """What is believed now, readings numbered as they are in force; goes on record if new."""
        state = (self.case.evidence, self.place, self.without, bool(self.missing))
        if self._known is None or self._known[0] != state:
            self._known = state, self._rank(self.case.evidence)
            self._keep(ranked(self._known[1], self.case))
        return self._known[1]

    def what_if(self, line: str) -> Ranking:
        """The ranking with one more line, which is not entered."""
        parse_line(line, self.loop)
        return self._renumbered(self._rank((*self.case.evidence, line)))

    def _keep(self, digest: e.Ranked) -> None:
        """Record what is believed, where it is not what was believed before."""
        if self.case.is_open and self.case.last_ranking != digest:
            self._noted_down(digest)

    def _noted_down(self, event: e.Event) -> None:
        """Record what can be worked out again; on a full disk the hunt goes on without it."""
        try:
            self.file.append(event)
        except CaseError as error:
            self.file.warnings.append(f"'{event.word}' is not on record: {error}")

    def _rank(self, lines: tuple[str, ...]) -> Ranking:
        said, calm = parse_lines(lines, self.loop), bool(self.missing)
        return self.engine.rank(said, place=self.place, without=self.without, calm=calm)

    def _renumbered(self, ranking: Ranking) -> Ranking:
        """The ranking with the readings numbered as in this session."""
        return renumbered(ranking, self.numbers(), len(self.case.readings) + 1)

    def numbers(self) -> list[int]:
        """Session number of each reading in force, in order."""
        return [n for n, item in enumerate(self.case.readings, 1) if item.withdrawn is None]

    # -- the task in hand --------------------------------------------------------------------------

    def task(self) -> Task | None:
        """What is to be read now; None where measuring is over or nothing is worth its minutes."""
        if self._again not in self.numbers():
            self._again = None  # what was to be taken again was withdrawn meanwhile
        if self._again is not None:
            return self._task_again(self._again)
        ranking = self.ranking()
        if self.case.cause and not self.onward:
            return None
        if not ranking.next or ((ranking.resolved or ranking.stop) and not self.onward):
            return None
        return task_of(ranking.next[self._skip % len(ranking.next)])

    def advise(self) -> Task | None:
        """The task in hand; a new advice goes on record."""
        task = self.task()
        if task and task.advice:
            last = self.case.advice[-1].text if self.case.advice else ""
            if last != task.text:
                self._noted_down(e.AdviceGiven(task.text, task.advice.gain_bits, task.minutes))
        return task

    def _task_again(self, number: int) -> Task:
        taken = self.mending.reading(number)
        measurement = self.mending.measurement(taken)
        minutes, place = self.cost(measurement)
        text, keys = describe(measurement, self.loop), cautions_for(measurement, self.loop)
        return Task(measurement, text, place, minutes, keys, replaces=number, was=taken.text)

    def retake(self, number: int) -> None:
        """Ask for a reading once more; the new one takes its place."""
        self.mending.in_force(number)
        self._settle()
        self._again = number

    def other(self) -> bool:
        """Turn to the next best step without declining this one; False where there is none."""
        self._again = None
        self._skip += 1
        return len(self.ranking().next) > 1

    def agreed(self, task: Task) -> bool:
        """Whether the red cautions of a task were answered."""
        return not task.red or self._agreed == task.measurement

    def agree(self, task: Task) -> None:
        """Record that the red cautions of a task were read and answered."""
        self.acknowledge(task.red)
        self._agreed = task.measurement

    def acknowledge(self, keys: tuple[str, ...]) -> None:
        """Record that cautions were read and answered."""
        for key in keys:
            self.file.append(e.CautionAcknowledged(key))

    def cost(self, measurement: Measurement) -> tuple[float, str]:
        """Minutes of a measurement from here, and the place where it is taken."""
        for candidate in self.engine.candidates:
            if candidate.measurement == measurement:
                walk = travel(self.loop, self.place, candidate.place, self._been)
                return candidate.minutes + walk, candidate.place
        places = (self.loop.place_of(point) for point in measurement.points)
        place = next((name for name in places if name), self.place)
        return USUAL_MINUTES + travel(self.loop, self.place, place, self._been), place

    @property
    def _been(self) -> set[str]:
        """Where readings of this case were taken: permits for these are at hand."""
        return {taken.place for taken in self.case.readings}

    def to_put_back(self, task: Task) -> tuple[Open, ...]:
        """Open items that a task does not ask for; bypass and manual stay on until the end."""
        wanted = set(left_altered(task.measurement, self.loop))
        items = (item for item in self.case.open_items if item.item not in RECORDS.values())
        return tuple(item for item in items if (item.item, item.text) not in wanted)

    # -- what is said ------------------------------------------------------------------------------

    def take(self, line: str) -> Said:
        """Enter a reading, complaint or context fact; ReadingError if it is none."""
        found = parse_line(line, self.loop)
        if isinstance(found, Complaint):
            self.mending.said(e.Complained(found.text))
            return Said("complaint", found.name)
        if isinstance(found, Context):
            self.mending.said(e.Context(found.text))
            return Said("context", found.fact)
        if isinstance(found, Cleared):
            self.found_good(found)
            return Said("found good", f"{found.part} {found.fault}")
        if found.sort == "impossible":
            self.decline(found.measurement, "")
            return Said("declined", describe(found.measurement, self.loop))
        return self._take(found)

    def found_good(self, *looks: Cleared) -> None:
        """Record faults that were looked for at one part and are not there."""
        self.mending.found_good(looks)
        self._settle()

    def _take(self, reading: Reading) -> Said:
        asked = self.case.advice[-1].text if self.case.advice else ""
        advised = self._again is None and asked == describe(reading.measurement, self.loop)
        minutes, place = self.cost(reading.measurement)
        opened = tuple(self.open_for(reading.measurement))
        text = as_written(reading, self.loop)
        self.file.append(e.ReadingTaken(text, place, minutes, advised))
        replaced = self._replace(reading.measurement)
        self._settle()
        # A display is read out by radio, and a process value told: nobody walked.
        if reading.measurement.function != "process" and place != MANNED:
            self.place = place
        number = len(self.case.readings)
        self.mending.taken(number, replaced)
        return Said("reading", text, number, opened, reading.measurement, reading.text)

    def _replace(self, measurement: Measurement) -> int | None:
        """Withdraw the reading that was asked for again; which one, if there is one."""
        if self._again is None:
            return None
        old = self.mending.reading(self._again)
        if old.withdrawn is not None or self.mending.measurement(old) != measurement:
            return None
        self.file.append(e.ReadingWithdrawn(old.number, "taken again"))
        return self._again

    def _settle(self) -> None:
        """Forget what belonged to the task that was in hand."""
        self._again, self._skip, self._agreed = None, 0, None

    def open_for(self, measurement: Measurement) -> Iterator[str]:
        """Open an item for everything that a reading leaves to be put back."""
        for item, text in left_altered(measurement, self.loop):
            if (item, text) not in {(old.item, old.text) for old in self.case.open_items}:
                for old in overtaken(item, text, self.case.open_items, self.loop):
                    self.file.append(e.Restored(old.item, old.text))
                self.file.append(e.Altered(item, text))
                yield f"{item}: {text}"

    def decline(self, measurement: Measurement, reason: str) -> None:
        """Leave a measurement out from now on."""
        self.file.append(e.Declined(describe(measurement, self.loop), reason))
        self._settle()

    def rule_out(self, word: str) -> None:
        """Leave a place or a meter function out from now on; on record, so that it stays so."""
        self.file.append(e.Noted(f"{RULED_OUT}{word}"))
        self._settle()

    def stand(self, place: str) -> None:
        """Be at a place, whatever the readings say."""
        self.place, self._skip = place, 0
