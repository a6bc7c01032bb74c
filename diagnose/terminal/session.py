"""A session: the talk on a hunt, until the technician leaves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TextIO

from diagnose.casework.hunt import Hunt
from diagnose.terminal import session_view as view
from diagnose.terminal.converse import converse, say
from diagnose.terminal.outcome import Look
from diagnose.terminal.panes import View
from diagnose.terminal.session_questions import begin
from diagnose.terminal.session_talk import Talk
from diagnose.terminal.wording import paragraph


class Session:
    """One talk as it goes in plain lines; a ``new`` case begins with its questions."""

    def __init__(self, hunt: Hunt, look: Look, new: bool) -> None:
        self.talk, self.new = Talk(hunt, look), new
        self.prompt, self.hear = self.talk.prompt, self.talk.hear

    def run(self, plain: bool, out: TextIO) -> None:
        """Talk in lines or on a full screen, then say how the case stands."""
        converse(self, self._drawn, plain, out)
        say([self.talk.summary()], out)

    def _drawn(self) -> View:
        # Imported here: only a session on a terminal pays for it.
        from diagnose.terminal.hunt_view import HuntView

        return HuntView(self.talk, self.new)

    @property
    def over(self) -> bool:
        """Whether the technician has left."""
        return self.talk.over

    def greeting(self) -> Iterator[str]:
        """What stands first: loop, case, reminders, the first question or the state."""
        talk, loop = self.talk, self.talk.loop
        title = f"{loop.tag}, {loop.service}" if loop.service else loop.tag
        kept = f"Case {talk.hunt.file.path.stem}. Every line is kept; help lists the commands."
        yield from map(talk.look.strong, paragraph(f"{title}. {kept}", talk.look))
        yield from view.reminders(talk.look)
        yield from begin(talk, self.new)
