"""A session: asks for a line, says what the talk says, until it ends.

Ctrl-C never ends it and never cuts an answer short; Ctrl-D is ``quit``.
"""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TextIO

from diagnose.casework.hunt import Hunt
from diagnose.terminal import session_view as view
from diagnose.terminal.outcome import Look
from diagnose.terminal.session_input import PlainLines, plain_wanted
from diagnose.terminal.session_questions import begin
from diagnose.terminal.session_talk import Talk
from diagnose.terminal.wording import paragraph

MOMENT = 1.0
"""Seconds of silence after which a terminal is told that work goes on."""

PATIENCE = 3
"""Ctrl-C so many times during one answer stops the program all the same."""


class Session:
    """One talk with the stream that it prints to: in lines, or on a full screen."""

    def __init__(self, hunt: Hunt, look: Look, out: TextIO) -> None:
        self.talk, self.out = Talk(hunt, look), out
        self.lines = PlainLines(out)

    def run(self, new: bool, plain: bool) -> None:
        """Talk until the technician leaves; a new case begins with its questions."""
        if plain_wanted(plain) or self.out is not sys.stdout or not self._drawn(new):
            self._in_lines(new)
        self.say([self.talk.summary()])

    def _in_lines(self, new: bool) -> None:
        self.say(self.greeting(new))
        while not self.talk.over:
            line = self._next()
            with uninterrupted():
                self.say(self.talk.hear(line))

    def _drawn(self, new: bool) -> bool:
        """Talk on a full screen; False where the terminal has none."""
        # Imported here: only a session on a terminal pays for it.
        from diagnose.terminal.full_screen import FullScreen
        from diagnose.terminal.hunt_view import HuntView

        try:
            screen = FullScreen(HuntView(self.talk, new))
        except Exception as error:
            # Some Windows shells have no console buffer; the class lives in a platform module.
            if type(error).__name__ == "NoConsoleScreenBufferError":
                return False
            raise
        screen.run()
        self.say(screen.said())
        return True

    def _next(self) -> str:
        """The next line; Ctrl-C clears the line, Ctrl-D is ``quit``."""
        while True:
            try:
                return self.lines.ask(self.talk.prompt())
            except KeyboardInterrupt:
                self.say(["Nothing is lost. Type quit to leave; the case stays open."])
            except EOFError:
                return "quit"

    def greeting(self, new: bool) -> Iterator[str]:
        """What stands first: loop, case, reminders, the first question or the state."""
        talk, loop = self.talk, self.talk.loop
        title = f"{loop.tag}, {loop.service}" if loop.service else loop.tag
        kept = f"Case {talk.hunt.file.path.stem}. Every line is kept; help lists the commands."
        yield from map(talk.look.strong, paragraph(f"{title}. {kept}", talk.look))
        yield from view.reminders(talk.look)
        yield from begin(talk, new)

    def say(self, lines: Iterable[str]) -> None:
        """Print lines as they come; on a terminal, say so where one takes long."""
        pending = iter(lines)
        while True:
            with self._patience():
                line = next(pending, None)
            if line is None:
                return
            print(line.rstrip(), file=self.out, flush=True)

    @contextmanager
    def _patience(self) -> Iterator[None]:
        """Work that takes more than a moment is told of; a script gets no such line."""
        if not self.out.isatty():
            yield
            return
        timer = threading.Timer(MOMENT, print, ("Still working ...",), {"file": self.out})
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Ctrl-C does not cut an answer short: what was entered is kept and told."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    times = 0

    def held(number: int, frame: FrameType | None) -> None:
        nonlocal times
        times += 1
        if times >= PATIENCE:
            raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, held)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
