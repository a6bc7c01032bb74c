"""What a full screen shows: panes of lines, and the view that they come from.

A view is a hunt, a drill, or anything else that one talks to line by line; a screen knows no more
of it than this.  What a view does not want to be seen is a pane that it leaves out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from diagnose.terminal.outcome import Look

Draw = Callable[[Look], Iterable[str]]
"""Lines of a width; drawn anew where the screen changes its size, so without computing."""


@dataclass(frozen=True, slots=True)
class Pane:
    """A titled part of the screen.

    ``title`` says the gist, for on a small screen it may be all that is seen.  ``least`` lines are
    kept for the pane where there are any; line ``focus`` stays in sight.  Where the screen has two
    columns the pane is in the ``left`` one or not.  What must be read ``whole`` takes even the rows
    of titles under which nothing would be seen.
    """

    name: str
    title: str
    draw: Draw
    least: int = 1
    focus: int = 0
    left: bool = False
    whole: bool = False


class View(Protocol):
    """What a screen is told of the thing that it shows.

    ``hear``, ``panes``, ``prompt`` and ``foot`` may compute for long: the screen calls them off the
    keyboard's thread, one at a time, the last three after every ``hear``.  All else is asked for at
    any time, and is to answer at once.
    """

    @property
    def title(self) -> str:
        """What stands at the head of the screen."""
        ...

    @property
    def over(self) -> bool:
        """Whether the talk has ended, and the screen with it."""
        ...

    @property
    def halved(self) -> bool:
        """Whether panes stand at the left of a wide screen, so that answers have half of it."""
        ...

    @property
    def known(self) -> Sequence[str]:
        """Lines that Up brings back at the start."""
        ...

    def fit(self, width: int) -> None:
        """Answers are shown in so many columns from now on."""
        ...

    def greeting(self) -> Iterable[str]:
        """What is said first."""
        ...

    def hear(self, line: str) -> Iterator[str]:
        """What is said to one line."""
        ...

    def panes(self) -> Sequence[Pane]:
        """What is to be seen now, the most needed first."""
        ...

    def prompt(self) -> str:
        """What stands before the line that is typed."""
        ...

    def foot(self) -> str:
        """What the foot of the screen tells before the keys: what is open, where one stands."""
        ...

    def shows(self, line: str) -> bool:
        """Whether a line only asks to see something, whatever is asked when its turn comes."""
        ...

    def offers(self, text: str) -> list[str]:
        """What the word being typed may become."""
        ...


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the screen in one style; the words alone carry the meaning."""

    text: str
    style: str = ""


_STYLES = {"1": "strong", "33": "warning", "2": "faint"}
_CODED = re.compile(r"\033\[(\d+)m(.*)\033\[0m\s*$", re.DOTALL)


def bare(text: str) -> str:
    """A line without its mark."""
    found = _CODED.match(text)
    return (found[2] if found else text).rstrip()


def lines(texts: Iterable[str], width: int) -> list[Line]:
    """Lines as `Look` marks them, each as a line in a style, in no more than ``width`` columns."""
    return [line for text in texts for line in _line(text, width)]


def _line(text: str, width: int) -> Iterator[Line]:
    found = _CODED.match(text)
    style, plain = (_STYLES.get(found[1], ""), found[2]) if found else ("", text)
    plain = plain.rstrip()
    while len(plain) > width:
        cut = plain.rfind(" ", 1, width + 1)
        cut = cut if cut > 0 and plain[:cut].strip() else width
        yield Line(plain[:cut].rstrip(), style)
        plain = plain[cut:].lstrip()
    yield Line(plain, style)
