"""Talk with a hunt, a drill or the like: on a full screen, or in plain lines where there is none.

Ctrl-C never ends a talk and never cuts an answer short; Ctrl-D is ``quit``.
"""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Protocol, TextIO

from diagnose.terminal.arguments import UsageError
from diagnose.terminal.panes import View
from diagnose.terminal.session_input import PlainLines, plain_wanted

MOMENT = 1.0
"""Seconds of silence after which a terminal is told that work goes on."""

PATIENCE = 3
"""Ctrl-C so many times during one answer stops the program all the same."""


class Spoken(Protocol):
    """What can be talked with in lines; every `View` is one."""

    @property
    def over(self) -> bool:
        """Whether the talk has ended."""
        ...

    def greeting(self) -> Iterable[str]:
        """What is said first."""
        ...

    def prompt(self) -> str:
        """What stands before the line that is typed."""
        ...

    def hear(self, line: str) -> Iterable[str]:
        """What is said to one line."""
        ...


def listen() -> None:
    """To be called before anything is begun; UsageError where standard input is closed."""
    if sys.stdin is None:
        raise UsageError("a session needs somebody who types, or lines on standard input")


def converse(spoken: Spoken, view: Callable[[], View], plain: bool, out: TextIO) -> None:
    """Talk until it is over; on leaving a full screen its last answer stays to be read.

    ``view`` makes what a full screen shows; it is called only where there is one.
    """
    if plain_wanted(plain) or out is not sys.stdout or not _on_screen(view, out):
        _in_lines(spoken, out)


def _on_screen(view: Callable[[], View], out: TextIO) -> bool:
    """Talk on a full screen; False where the terminal has none."""
    # Imported here: only a talk on a terminal pays for it.
    from diagnose.terminal.full_screen import FullScreen

    try:
        screen = FullScreen(view())
    except Exception as error:
        # Some Windows shells have no console buffer; the class lives in a platform module.
        if type(error).__name__ == "NoConsoleScreenBufferError":
            return False
        raise
    screen.run()
    say(screen.said(), out)
    return True


def _in_lines(spoken: Spoken, out: TextIO) -> None:
    lines = PlainLines(out)
    say(spoken.greeting(), out)
    while not spoken.over:
        line = _next(lines, spoken.prompt(), out)
        with _uninterrupted():
            say(spoken.hear(line), out)


def _next(lines: PlainLines, prompt: str, out: TextIO) -> str:
    """The next line; Ctrl-C clears the line, Ctrl-D is ``quit``."""
    while True:
        try:
            return lines.ask(prompt)
        except KeyboardInterrupt:
            say(["Nothing is lost. Type quit to leave; it can be gone on with."], out)
        except EOFError:
            return "quit"


def say(lines: Iterable[str], out: TextIO) -> None:
    """Print lines as they come; on a terminal, say so where one takes long."""
    pending = iter(lines)
    while True:
        with _patience(out):
            line = next(pending, None)
        if line is None:
            return
        print(line.rstrip(), file=out, flush=True)


@contextmanager
def _patience(out: TextIO) -> Iterator[None]:
    """Work that takes more than a moment is told of; a script gets no such line."""
    if not out.isatty():
        yield
        return
    timer = threading.Timer(MOMENT, print, ("Still working ...",), {"file": out})
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


@contextmanager
def _uninterrupted() -> Iterator[None]:
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
