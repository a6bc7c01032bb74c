"""Where the lines of a session come from where there is no full screen.

Without a terminal, with ``--plain`` or ``TERM=dumb``, lines are read and echoed as they are, so
that a script, a slow line and a screen reader get the same session.
"""

from __future__ import annotations

import io
import os
import sys
from typing import TextIO

LONGEST = 2_000
"""Longest line that is taken, characters; more is no line that a person types."""


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


def plain_wanted(plain: bool) -> bool:
    """Whether lines are read plainly: asked for, or no terminal that could do more."""
    both = sys.stdin.isatty() and sys.stdout.isatty()
    return plain or not both or (os.environ.get("TERM") in ("dumb", None) and os.name != "nt")
