"""Questions of a command that is told too little: asked on a terminal, or answered from a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable

from diagnose.terminal.arguments import UsageError
from diagnose.terminal.session_input import PlainLines, prepare

Ask = Callable[[str], str]
"""Asks with a prompt and gives the answer, without blanks around."""


def asker(otherwise: str) -> Ask:
    """Asks on standard error, so that standard output holds the answer of the command alone.

    At the end of the input a UsageError says ``otherwise``: how to do without questions.
    """
    if sys.stdin is None:
        raise UsageError(f"standard input is closed, and there is something to ask; {otherwise}")
    prepare()
    lines = PlainLines(sys.stderr)

    def ask(prompt: str) -> str:
        try:
            return lines.ask(prompt).strip()
        except EOFError:
            raise UsageError(
                f"the input ended before the question was answered; {otherwise}"
            ) from None

    return ask


def say(text: str = "") -> None:
    """A line beside the questions."""
    print(text, file=sys.stderr)
