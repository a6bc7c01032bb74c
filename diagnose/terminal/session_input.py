"""Where the lines of a session come from: a prompt with completion, or plain lines.

Without a terminal, with ``--plain`` or ``TERM=dumb``, lines are read and echoed as they are, so
that a script, a slow line and a screen reader get the same session.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Protocol, TextIO

if TYPE_CHECKING:
    from prompt_toolkit import PromptSession
    from prompt_toolkit.completion import CompleteEvent, Completion
    from prompt_toolkit.document import Document

Offers = Callable[[str], list[str]]

LONGEST = 2_000
"""Longest line that is taken, characters; more is no line that a person types."""


class Lines(Protocol):
    """Gives one line after the other; EOFError at the end, KeyboardInterrupt on Ctrl-C."""

    def ask(self, prompt: str) -> str:
        """The next line, asked for with a prompt."""
        ...


def prepare() -> None:
    """Bytes that are no text never stop a session; to be called before anything is read."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")


class PlainLines:
    """Lines of standard input; the prompt and what came in are printed, as on a screen."""

    def __init__(self, out: TextIO) -> None:
        self.out = out

    def ask(self, prompt: str) -> str:
        """The next line; EOFError at the end."""
        echo = not sys.stdin.isatty()
        print(prompt, end="", file=self.out, flush=True)
        line = _line(sys.stdin)
        if not line:
            print(file=self.out)
            raise EOFError
        if echo:
            print(printable(line), file=self.out)
        return line


def _line(stream: TextIO) -> str:
    """The next line, empty at the end; of an endless one the beginning, the rest is dropped."""
    line = rest = stream.readline(LONGEST)
    while len(rest) == LONGEST and not rest.endswith("\n"):
        rest = stream.readline(LONGEST)
    return line


def printable(line: str) -> str:
    """A line without its end and without what would move the cursor."""
    return "".join(letter if letter.isprintable() else "?" for letter in line.rstrip("\r\n"))


class PromptLines:
    """A prompt with completion on Tab, history, and a toolbar at the foot of the screen."""

    def __init__(
        self, offers: Offers, toolbar: Callable[[], str], known: Iterable[str] = ()
    ) -> None:
        """``offers`` completes a line; ``known`` are lines that Up brings back."""
        self.session = _prompt_session(offers, toolbar, known)

    def ask(self, prompt: str) -> str:
        """The next line, edited; EOFError on Ctrl-D, KeyboardInterrupt on Ctrl-C."""
        return self.session.prompt(prompt)[:LONGEST]


def _prompt_session(
    offers: Offers, toolbar: Callable[[], str], known: Iterable[str]
) -> PromptSession[str]:
    # Imported here: only a session on a terminal pays for it.
    from prompt_toolkit import PromptSession
    from prompt_toolkit.completion import Completer, Completion
    from prompt_toolkit.history import InMemoryHistory
    from prompt_toolkit.output import ColorDepth
    from prompt_toolkit.shortcuts import CompleteStyle

    class Words(Completer):
        def get_completions(self, document: Document, event: CompleteEvent) -> Iterator[Completion]:
            text = document.text_before_cursor
            begun = "" if text[-1:].isspace() else text.rpartition(" ")[2]
            for word in offers(text):
                yield Completion(word, -len(begun))

    return PromptSession(
        completer=Words(),
        complete_while_typing=False,
        complete_style=CompleteStyle.READLINE_LIKE,
        history=InMemoryHistory(list(known)),
        bottom_toolbar=lambda: toolbar(),
        color_depth=ColorDepth.MONOCHROME if os.environ.get("NO_COLOR") else None,
    )


def plain_wanted(plain: bool) -> bool:
    """Whether lines are read plainly: asked for, or no terminal that could do more."""
    both = sys.stdin.isatty() and sys.stdout.isatty()
    return plain or not both or (os.environ.get("TERM") in ("dumb", None) and os.name != "nt")


def lines_for(
    plain: bool, out: TextIO, offers: Offers, toolbar: Callable[[], str], known: Iterable[str]
) -> Lines:
    """What a session asks: the prompt where the terminal can do it, else plain lines."""
    if plain_wanted(plain) or out is not sys.stdout:
        return PlainLines(out)
    try:
        return PromptLines(offers, toolbar, known)
    except Exception as error:
        # Some Windows shells have no console buffer; the class lives in a platform module.
        if type(error).__name__ == "NoConsoleScreenBufferError":
            return PlainLines(out)
        raise
