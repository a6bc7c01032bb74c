"""The talk of a session: one line in, lines out; knows no keyboard and no screen.

A line is an answer to the question that stands, a command, a reading, or a bare value of the
measurement that was asked for.  What cannot be understood is told in one line, changes nothing,
and leaves the question standing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from diagnose.casework.case import Open
from diagnose.casework.checks import CaseError, UnwritableError
from diagnose.casework.hunt import Hunt, Said
from diagnose.errors import DiagnoseError, ReadingError
from diagnose.inference.cautions import CAUTIONS, cautions_for
from diagnose.inference.measurement import Measurement
from diagnose.inference.reading_words import FUNCTION_WORDS, OVERLOAD_WORDS
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import Loop
from diagnose.loops.states import SAID
from diagnose.quantities import plain, whole_number
from diagnose.terminal import session_view as view
from diagnose.terminal.asked_value import decimals, line_of, prompt_of, settled, that_is
from diagnose.terminal.leads import far
from diagnose.terminal.outcome import Look
from diagnose.terminal.session_turn import Turn, belief, due, take_stock
from diagnose.terminal.slips import meant
from diagnose.terminal.wording import count, paragraph

if TYPE_CHECKING:
    from diagnose.terminal.loop_picture import Pictures


AGREE = "ok?"
"""The prompt where cautions are to be answered."""

WITHOUT = "until then 'diagnose rank {tag}' and the readings ranks and advises, and writes nothing"
"""What can be done where no case can be written."""


@dataclass(frozen=True)
class Question:
    """Something that is asked: how the prompt reads, what is shown first, what an answer does.

    ``free`` takes any words, so that a command is only one alone or with a number; ``back`` is what
    ``undo`` does while it stands.  ``words`` are answers though a command may be called so.  One
    that ``asks`` for a measurement or a fact is not asked once that has been told unasked; of one
    that asks for several, ``rest`` is what is still to be asked.
    """

    prompt: str
    answer: Callable[[str], Iterable[str]]
    text: tuple[str, ...] = ()
    free: bool = False
    back: Callable[[], Iterable[str]] | None = None
    words: frozenset[str] = frozenset()
    asks: frozenset[Measurement | str] = frozenset()
    rest: Callable[[], Question | None] | None = None


@dataclass
class Talk:
    """What a session remembers beside the hunt: questions ahead, cautions seen, a value kept.

    ``now`` is where the hunt stood at its last turn.  Where a screen draws that, and the question
    that stands, they are ``drawn`` and not told in lines.  ``listed`` is what was numbered just
    before: the command that takes such a number, and how many there are.
    """

    hunt: Hunt
    look: Look
    questions: list[Question] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)
    held: str = ""
    owed: tuple[str, ...] = ()
    changed: bool = False
    told: bool = False
    over: bool = False
    drawn: bool = False
    now: Turn | None = None
    listed: tuple[str, int] = ("", 0)

    @cached_property
    def pictures(self) -> Pictures:
        """Draws the loop."""
        # Imported late, like the engine: the first question is asked at once.
        from diagnose.terminal.loop_picture import Pictures

        return Pictures(self.loop)

    @property
    def loop(self) -> Loop:
        """The loop that is hunted on."""
        return self.hunt.loop

    @property
    def question(self) -> Question | None:
        """The question that stands, if any does."""
        return self.questions[0] if self.questions else None

    def settled(self) -> None:
        """The question that stands is answered."""
        del self.questions[:1]

    def prompt(self) -> str:
        """What stands before the line that is typed."""
        if self.question is not None:
            return f"{self.question.prompt}> "
        task = None if self.changed or not self.told else self.hunt.task()
        if task is None:
            return f"{self.loop.tag}> "
        if not self.hunt.agreed(task):
            return f"{AGREE}> "
        return prompt_of(task)

    # -- one line ----------------------------------------------------------------------------------

    def hear(self, line: str) -> Iterator[str]:
        """What is said to one line; the question that stands next is shown at the end."""
        from diagnose.terminal.session_stop import stop

        before, known = self.question, len(self.hunt.file.warnings)
        try:
            yield from self._heard(" ".join(line.split()))
            stop(self)
            yield from self.ahead(before)
        except DiagnoseError as error:
            yield from self._refused(error, line)
        for warning in self.hunt.file.warnings[known:]:
            yield from paragraph(f"Case file: {warning}.", self.look, "", "  ")

    def _refused(self, error: DiagnoseError, line: str) -> Iterator[str]:
        """What is wrong, in one line on most screens."""
        from diagnose.terminal.session_commands import WORDS

        head = "Not done: " if isinstance(error, CaseError) else "Not understood: "
        tail = f"; {WITHOUT.format(tag=self.loop.tag)}" * isinstance(error, UnwritableError)
        tail = tail or meant(line, error, (word.name for word in WORDS))
        for text in f"{error}{tail}".splitlines():
            yield from paragraph(f"{head}{text}", self.look, "", "  ")

    def ahead(self, before: Question | None = None) -> Iterator[str]:
        """The next question, or where the hunt stands if something has changed."""
        if self.over:
            return
        if self.question is not None:
            if self.question is not before and not self.drawn:
                yield from self.question.text
        elif self.changed:
            yield from self.turn()

    def _heard(self, line: str) -> Iterator[str]:
        from diagnose.terminal.session_commands import command_of

        question, (word, many), self.listed = self.question, self.listed, ("", 0)
        command, rest = command_of(line)
        alone = command is not None and (not rest or rest.isdecimal())
        answers = question is not None and line.casefold() in question.words
        if question is not None and (not line or answers or (question.free and not alone)):
            yield from question.answer(line)
        elif command is not None:
            yield from command.run(self, rest)
        elif question is not None:
            yield from question.answer(line)
        elif word and whole_number(line, 1, many):
            raise ReadingError(line, f"behind a list, type {word} {line}; a value with its unit")
        elif line:
            yield from self.said(line)

    def said(self, line: str) -> Iterator[str]:
        """A bare value of the task in hand, or a whole reading line."""
        standing = self.hunt.task() if self.told else None
        line = settled(line) if standing is not None else line
        task = standing if is_value(line) else None
        if task is None:
            yield from self.entered(line)
            return
        text = decimals(line_of(task, line), self.loop)
        parse_line(text, self.loop)
        if self.hunt.agreed(task):
            yield from self.entered(text)
        else:
            self.held = text
            yield "Type ok first, once what stands behind STOP is dealt with; your value is kept."

    def entered(self, line: str) -> Iterator[str]:
        """Take a reading, complaint or fact; say what it was taken for."""
        if is_value(line):
            raise ReadingError(line, "no measurement is asked for: write the whole reading")
        task = self.hunt.task() if self.told else None
        ready = task if task is not None and self.hunt.agreed(task) else None
        said = self.hunt.take(decimals(line, self.loop))
        self.changed, self.held = True, ""
        self._answered(said)
        if said.measurement is not None and not (ready and ready.measurement == said.measurement):
            self._owe(cautions_for(said.measurement, self.loop))
        yield from self._taken(said)

    def _answered(self, said: Said) -> None:
        """Questions that are still ahead and need not be asked any more."""
        known: Measurement | str | None = said.measurement or said.text
        ahead = [item for item in self.questions[1:] if item.rest or known not in item.asks]
        left = (item.rest() if item.rest is not None else item for item in ahead)
        self.questions[1:] = [item for item in left if item is not None]

    def _owe(self, keys: Sequence[str]) -> None:
        """Red cautions of a reading that came before its ok, unless they were answered before."""
        known = self.hunt.case.acknowledged
        new = [key for key in keys if CAUTIONS[key].acknowledge and key not in known]
        self.owed = tuple(dict.fromkeys((*self.owed, *new)))

    def _taken(self, said: Said) -> Iterator[str]:
        if said.what == "reading":
            yield f"Reading {said.number}: {said.text}{that_is(said, self.loop)}"
            yield from far(said.measurement, self.hunt, self.look)
        elif said.what == "declined":
            yield f"Left out from now on: {said.text}."
        else:
            yield f"{said.what.capitalize()}: {said.text}."
        for item in said.opened:
            yield from paragraph(f"Open item: {item} (type done once it is put back).", self.look)

    # -- where the hunt stands ---------------------------------------------------------------------

    def turn(self) -> Iterator[str]:
        """Verdict, open items, and what to do next; a screen draws them from ``now``."""
        if not self.told and not self.drawn:
            yield "Working it out ..."
        self.changed, self.told = False, True
        self.now = take_stock(self)
        if not self.drawn:
            yield from belief(self.now, self.look)
            yield from due(self.now, self.look)

    def summary(self) -> str:
        """One sentence on leaving."""
        case, name = self.hunt.case, self.hunt.file.path.stem
        still = f", {count(len(case.open_items), 'open item')}" if case.open_items else ""
        return f"Case {name}: {case.status}, {count(len(case.in_force), 'reading')}{still}."

    def must_agree(self, keys: tuple[str, ...], then: Callable[[], Iterable[str]]) -> Iterator[str]:
        """Show cautions; go on at once where none is red, else when ``ok`` is typed.

        On a screen they stand with the question: an answer is gone with the next line.
        """
        told = tuple(view.cautions(keys, frozenset(self.seen), self.look))
        self.seen.update(keys)
        red = tuple(key for key in keys if CAUTIONS[key].acknowledge)
        if not (red and self.drawn):
            yield from told
        if not red:
            yield from then()
            return

        def answer(line: str) -> Iterator[str]:
            if line.casefold() != "ok":
                if not self.drawn:
                    yield from view.cautions(red, frozenset(), self.look)
                yield "Type ok once what stands behind STOP is dealt with, or cancel."
                return
            self.hunt.acknowledge(red)
            self.settled()
            yield from then()

        text = (*(told if self.drawn else ()), "Type ok once this is dealt with.")
        self.questions.insert(0, Question(AGREE, answer, text))


def joined(items: Iterable[Open]) -> str:
    """Open items in one sentence."""
    return "; ".join(str(item) for item in items)


def is_value(line: str) -> bool:
    """Whether a line is a bare value: it begins like a number, or is OL, or says a state."""
    text = plain(line).strip().casefold()
    first = text.split(" with ")[0].strip().rstrip(".")
    if text[:1] and text[0] in "+-.,0123456789":
        return True
    return first in OVERLOAD_WORDS or first in SAID


def begins_reading(line: str) -> bool:
    """Whether a line begins with a meter function."""
    return bool(line) and line.split()[0].casefold().rstrip(":") in FUNCTION_WORDS
