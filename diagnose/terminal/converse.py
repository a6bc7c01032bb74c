"""Talk with a view: on a full screen, or in plain lines where there is none."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import TextIO

from diagnose.terminal.panes import View
from diagnose.terminal.session import uninterrupted
from diagnose.terminal.session_input import PlainLines, plain_wanted


def converse(view: View, plain: bool, out: TextIO) -> None:
    """Talk until the view is over; on leaving a full screen its last answer stays to be read."""
    if plain_wanted(plain) or out is not sys.stdout:
        _in_lines(view, out)
        return
    # Imported here: only a session on a terminal pays for it.
    from diagnose.terminal.full_screen import FullScreen

    screen = FullScreen(view)
    screen.run()
    _say(screen.said(), out)


def _in_lines(view: View, out: TextIO) -> None:
    lines = PlainLines(out)
    _say(view.greeting(), out)
    while not view.over:
        try:
            line = lines.ask(view.prompt())
        except KeyboardInterrupt:
            _say(["Nothing is lost. Type quit to leave."], out)
            continue
        except EOFError:
            line = "quit"
        with uninterrupted():
            _say(view.hear(line), out)


def _say(lines: Iterable[str], out: TextIO) -> None:
    for line in lines:
        print(line.rstrip(), file=out, flush=True)
