"""A hunt on a full screen: the same talk as in lines, its parts drawn as panes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from threading import Timer

from diagnose.errors import DiagnoseError
from diagnose.terminal import session_lists as lists
from diagnose.terminal import session_view as view
from diagnose.terminal.outcome import Look
from diagnose.terminal.panes import Pane
from diagnose.terminal.screen import fitted
from diagnose.terminal.session_commands import SHOWS, command_of
from diagnose.terminal.session_completion import offers
from diagnose.terminal.session_questions import begin
from diagnose.terminal.session_talk import Question, Talk
from diagnose.terminal.session_turn import Turn, bars_first, due
from diagnose.terminal.wording import paragraph

AHEAD = 0.3
"""Seconds after the first question from which on the engine is loaded beside the keyboard."""

NEEDED, ALL = 9, 99
"""Lines of the step that are kept on a small screen."""


class HuntView:
    """What a screen shows of a talk; ``hidden`` names panes that are left out."""

    def __init__(self, talk: Talk, new: bool, hidden: frozenset[str] = frozenset()) -> None:
        self.talk, self.new, self.hidden = talk, new, hidden

    @property
    def title(self) -> str:
        """Loop and case."""
        loop = self.talk.loop
        name = f"{loop.tag}, {loop.service}" if loop.service else loop.tag
        return f"{name} | case {self.talk.hunt.file.path.stem}"

    @property
    def over(self) -> bool:
        """Whether the technician has left."""
        return self.talk.over

    @property
    def halved(self) -> bool:
        """Whether the loop stands at the left: not yet beside the opening questions."""
        return "loop" not in self.hidden and not (self.new and self.talk.now is None)

    @property
    def known(self) -> Sequence[str]:
        """The readings of the case."""
        return [item.text for item in self.talk.hunt.case.readings]

    def fit(self, width: int) -> None:
        """Answers in so many columns."""
        self.talk.look, self.talk.drawn = fitted(width, True), True

    def greeting(self) -> Iterator[str]:
        """The reminders; then the first question stands, or where the hunt stood is shown."""
        yield from view.reminders(self.talk.look)
        yield from begin(self.talk, self.new)
        ahead = Timer(AHEAD, self._load)
        ahead.daemon = True
        ahead.start()

    def _load(self) -> None:
        """Make the engine while the first question is read: the first reading finds it there."""
        try:
            _ = self.talk.hunt.engine
        except DiagnoseError:
            return  # whoever needs it is told

    def hear(self, line: str) -> Iterator[str]:
        """What the talk says; what stands then is drawn."""
        yield from self.talk.hear(line)

    def prompt(self) -> str:
        """That of the talk."""
        return self.talk.prompt()

    def foot(self) -> str:
        """What is open, and where the technician stands."""
        return view.foot(self.talk.hunt.case, self.talk.loop, self.talk.hunt.place)

    def shows(self, line: str) -> bool:
        """A command that alters nothing, alone: with words behind it, it may be an answer."""
        word, rest = command_of(line)
        return word is not None and word.name in SHOWS and not rest

    def offers(self, text: str) -> list[str]:
        """Completion of a line."""
        question = self.talk.question
        return offers(
            text, self.talk.loop, self.talk.hunt.case, question.prompt if question else ""
        )

    # -- panes -------------------------------------------------------------------------------------

    def panes(self) -> Sequence[Pane]:
        """The question or the step, the faults, the loop, the readings, what is open."""
        return [pane for pane in self._panes() if pane.name not in self.hidden]

    def _panes(self) -> Iterator[Pane]:
        talk, turn = self.talk, self._turn()
        if talk.question is not None:
            yield _asked(talk.question)
        elif turn is not None:
            yield _step(turn)
        if turn is not None and talk.told:
            yield _faults(turn)
        if turn is not None and talk.told and "loop" not in self.hidden:
            yield self._drawn(turn)
        yield from self._readings()
        yield from self._items()

    def _turn(self) -> Turn | None:
        """Where the hunt stood last; what was answered since counts."""
        turn, hunt = self.talk.now, self.talk.hunt
        if turn is None:
            return None
        task = turn.task
        back = hunt.to_put_back(task) if task else hunt.case.open_items
        agreed = task is None or hunt.agreed(task)
        return replace(turn, case=hunt.case, back=back, agreed=agreed, owed=self.talk.owed)

    def _drawn(self, turn: Turn) -> Pane:
        """The loop with what is due and what was read; computed here, only laid out later."""
        # Imported late, like the engine: the first question is asked at once.
        from diagnose.terminal.render_loop import loop_lines

        step = turn.task.measurement if turn.task else None
        picture = self.talk.pictures.draw(self.talk.hunt, turn.ranking, step)
        loop = self.talk.loop
        return Pane(
            "loop", picture.title, lambda look: loop_lines(picture.rows, loop, look),
            least=3, focus=picture.focus, left=True,
        )  # fmt: skip

    def _readings(self) -> Iterator[Pane]:
        case, turn = self.talk.hunt.case, self.talk.now
        told = [(n, item.text) for n, item in enumerate(case.readings, 1) if item.withdrawn is None]
        said, good = [*case.complaints, *case.contexts], case.found_good
        doubted = turn.ranking.suspects if turn else ()
        title = f"readings: {len(told)}" if told else "readings: none yet"
        title += "".join(f", reading {item.index} distrusted" for item in doubted)

        def draw(look: Look) -> Iterator[str]:
            if said:
                yield f"      {'; '.join(said)}"
            if good:
                yield from paragraph("; ".join(good), look, "      ")
            if told and turn:
                yield from lists.readings(told, turn.ranking, look)
            else:
                yield from (f"{number:>4}  {text}" for number, text in told)

        many = len(told) + bool(said) + bool(good)
        yield Pane("readings", title, draw, least=0, focus=many)

    def _items(self) -> Iterator[Pane]:
        texts = [str(item) for item in self.talk.hunt.case.open_items]
        if texts:
            title = f"altered and not yet put back: {'; '.join(texts)}"
            yield Pane("items", title, lambda look: lists.items(texts, look), least=0)


def _asked(question: Question) -> Pane:
    text = [line for line in question.text if line]
    return Pane("asked", f"asked: {question.prompt}", lambda look: text, len(text), whole=True)


def _step(turn: Turn) -> Pane:
    """What is to be done, without blank lines: its title says where."""
    head = f"n{view.step_head(turn.task, turn.loop)[1:]}" if turn.task else "next"
    # What is to be agreed to, repaired or put back is to be read in full.
    whole = not (turn.task and turn.agreed)
    least = ALL if whole else NEEDED
    return Pane("step", head, lambda look: _full(due(turn, look, headed=False)), least, whole=whole)


def _faults(turn: Turn) -> Pane:
    leading = view.leading(turn.ranking, turn.case)
    return Pane("faults", f"faults: {leading}", lambda look: _full(bars_first(turn, look)), least=2)


def _full(lines: Iterator[str]) -> list[str]:
    """Lines without the blank ones."""
    return [line for line in lines if line]
