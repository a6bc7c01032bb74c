"""Readings that were wrong: corrected, withdrawn, taken back; all of it stays on record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from diagnose.casework import events as e
from diagnose.casework.case import Taken
from diagnose.casework.checks import CaseError
from diagnose.casework.hunt_task import as_written, with_value
from diagnose.casework.lines import found_good
from diagnose.errors import DiagnoseError
from diagnose.inference.measurement import Cleared, Measurement, Reading
from diagnose.inference.readings import describe, parse_line
from diagnose.loops.loop import Loop

if TYPE_CHECKING:
    from diagnose.casework.log import CaseFile


class Mending:
    """Changes to readings of a case; readings count 1, 2, 3 ... in the order of entry.

    What was changed in this session is taken back in turn; before that, the last reading is.
    """

    def __init__(self, file: CaseFile, loop: Loop) -> None:
        self.file, self.loop = file, loop
        self._undo: list[tuple[str, int, str]] = []

    def taken(self, number: int, replaced: int | None = None) -> None:
        """Remember that a reading was entered, and which one it took the place of."""
        self._undo.append(("taken", number, str(replaced or "")))

    def said(self, event: e.Complained | e.Context) -> None:
        """Record a complaint or a fact."""
        self.file.append(event)
        self._undo.append(("said", 0, event.text))

    def found_good(self, looks: Sequence[Cleared]) -> None:
        """Record faults that were looked for at one part and are not there."""
        for look in looks:
            self.file.append(e.FoundGood(look.part, look.fault, look.seen))
        lines = [found_good(look.part, look.fault) for look in looks]
        self._undo.append(("looked", 0, "\n".join(lines)))

    def unsay(self, words: str) -> str:
        """Take back a complaint, a fact or what was found good, by any words of it; what it was."""
        case = self.file.case
        there = (*case.complaints, *case.contexts, *case.found_good)
        found = [text for text in there if words.casefold() in text.casefold()]
        if len(found) != 1:
            known = "; ".join(there) or "nothing yet"
            raise CaseError(f"say which, by its words: {known}")
        self.file.append(e.Unsaid(found[0]))
        return found[0]

    def measurement(self, taken: Taken) -> Measurement:
        """What a reading measured."""
        found = parse_line(taken.text, self.loop)
        if not isinstance(found, Reading):
            raise CaseError(f"'{taken.text}' is no reading")
        return found.measurement

    def reading(self, number: int) -> Taken:
        """Reading 1, 2, 3 … of the session; CaseError if there is none."""
        many = len(self.file.case.readings)
        if not 1 <= number <= many:
            known = f"there are readings 1 to {many}" if many else "there is none yet"
            raise CaseError(f"there is no reading {number}; {known}")
        return self.file.case.readings[number - 1]

    def in_force(self, number: int) -> Taken:
        """A reading that counts; CaseError if it does not."""
        taken = self.reading(number)
        if taken.withdrawn is not None:
            raise CaseError(f"reading {number} counts no more ({taken.withdrawn}); enter it anew")
        return taken

    def correct(self, number: int, text: str) -> str:
        """Put another value, or another whole line, in the place of a reading's."""
        taken = self.in_force(number)
        line = text
        if not self._reads(text):
            line = with_value(describe(self.measurement(taken), self.loop), text)
            parse_line(line, self.loop)
            if not self._reads(line):
                raise CaseError("a reading that was not possible is declined or withdrawn")
        line = self._spelt(line)
        self.file.append(e.ReadingCorrected(taken.number, line))
        self._undo.append(("corrected", number, taken.text))
        return line

    def _spelt(self, line: str) -> str:
        found = parse_line(line, self.loop)
        return as_written(found, self.loop) if isinstance(found, Reading) else line

    def _reads(self, text: str) -> bool:
        """Whether a text is a whole reading line."""
        try:
            found = parse_line(text, self.loop)
        except DiagnoseError:
            return False
        return isinstance(found, Reading) and found.sort != "impossible"

    def withdraw(self, number: int, reason: str) -> None:
        """Take a reading out of the evidence; it stays on record."""
        taken = self.in_force(number)
        self.file.append(e.ReadingWithdrawn(taken.number, reason))
        self._undo.append(("withdrawn", number, taken.text))

    def undo(self) -> str:
        """Take back what was said or changed last; the sentence says what."""
        what, number, text = self._undo.pop() if self._undo else self._before()
        if what in ("said", "looked"):
            return self._undo_said(text.splitlines())
        taken = self.reading(number)
        if what == "withdrawn":
            return self._count_again(number)
        if taken.withdrawn is not None:
            return self.undo()
        if what == "corrected":
            self.file.append(e.ReadingCorrected(taken.number, text))
            return f"Reading {number} is '{text}' again."
        self.file.append(e.ReadingWithdrawn(taken.number, "undone"))
        told = f"Reading {number}, '{taken.text}', is taken back."
        return f"{told} {self._count_again(int(text))}" if text else told

    def _count_again(self, number: int) -> str:
        """Enter a reading that was withdrawn once more, as it was."""
        old = self.reading(number)
        self.file.append(e.ReadingTaken(old.text, old.place, 0.0, old.advised))
        return f"Reading {number} counts again, as reading {len(self.file.case.readings)}."

    def _undo_said(self, texts: Sequence[str]) -> str:
        case = self.file.case
        there = [t for t in texts if t in (*case.complaints, *case.contexts, *case.found_good)]
        if not there:
            return self.undo()  # it was taken back by name meanwhile
        for text in there:
            self.file.append(e.Unsaid(text))
        are = "is" if len(there) == 1 else "are"
        told = ", ".join(f"'{text}'" for text in there)
        return f"{told} {are} taken back."

    def _before(self) -> tuple[str, int, str]:
        """What was entered last before this session; a fact or a complaint only if nothing else."""
        case = self.file.case
        numbers = {taken.number: n for n, taken in enumerate(case.readings, 1)
                   if taken.withdrawn is None}  # fmt: skip
        for entry in reversed(self.file.events):
            if entry.number in numbers:
                return "taken", numbers[entry.number], ""
            if isinstance(entry.event, e.FoundGood) and entry.event in case.looks:
                return "looked", 0, found_good(entry.event.part, entry.event.fault)
        for text in (*case.complaints, *case.contexts)[::-1]:
            return "said", 0, text
        raise CaseError("there is nothing to take back")
