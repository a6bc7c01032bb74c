"""The full screen of a talk: panes, the line that is typed, keys.

What computes runs on a thread of its own, so that the keyboard never waits; what is quick is
answered before the next key is looked at.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from diagnose.terminal.pane_layout import TWO_COLUMNS, Laid, Placed, laid_out
from diagnose.terminal.panes import Pane, View, bare
from diagnose.terminal.session_input import LONGEST

if TYPE_CHECKING:
    from prompt_toolkit import Application
    from prompt_toolkit.buffer import Buffer
    from prompt_toolkit.formatted_text import StyleAndTextTuples

QUICK = 0.05
"""Seconds for which a key waits for its answer; longer work goes on beside the keyboard."""

TICK = 0.5
"""Seconds between two looks at the clock while work goes on."""

AROUND = 3
"""Rows that are no panes: the head, the line that is typed, the foot."""

SHORT, SHORTER = 60, 30
"""Columns of an answer that stands in the title of its pane; of a line that waits its turn."""

LEAST, LEAST_OF_MANY = 4, 10
"""Rows that an answer has at least; one to several lines that were pasted."""

ANSWER, HEARD = "answer", "> "
"""The pane of answers; what stands before a line that was typed or pasted."""

KEPT = 2_000
"""Lines of answers that can be scrolled back to."""


@dataclass
class Shown:
    """What is on the screen apart from the line that is typed; knows no library of screens."""

    view: View
    panes: tuple[Pane, ...] = ()
    prompt: str = ""
    foot: str = ""
    said: list[str] = field(default_factory=list)
    log: list[str] = field(default_factory=list)
    heard: str = ""
    large: str = ""
    scrolled: dict[str, int] = field(default_factory=dict)
    began: float | None = None
    kept: bool = False
    ahead: list[str] = field(default_factory=list)
    _known: tuple[object, Laid] | None = None

    def look(self) -> None:
        """Ask the view what is to be seen now."""
        self.panes = tuple(self.view.panes())
        self.prompt, self.foot = self.view.prompt(), self.view.foot()

    def all_panes(self) -> tuple[Pane, ...]:
        """The panes of the view with the last answer before them; large, all answers."""
        if self.large == ANSWER:
            log = tuple(self.log[-KEPT:])
            return (Pane(ANSWER, "all answers", lambda look: log, focus=len(log)),)
        if not self.said:
            return self.panes
        said = tuple(self.said)
        if len(said) == 1 and len(said[0]) <= SHORT:  # a row of its own would be one row too many
            return (Pane(ANSWER, bare(said[0]).strip(), lambda look: (), least=0), *self.panes)
        title = f"answer to: {self.heard}" if self.heard else "answer"
        most = LEAST_OF_MANY if said[0].startswith(HEARD) else LEAST
        first, rest = self.panes[:1], self.panes[1:]
        if len(said) > most:  # what was asked for is read before the pictures of what is known
            rest = tuple(replace(pane, least=0) for pane in rest)
        return (Pane(ANSWER, title, lambda look: said, min(len(said), most)), *first, *rest)

    def laid_out(self, width: int, height: int) -> Laid:
        """The panes on a screen of a size."""
        state = (width, height, self.panes, len(self.log), self.large, tuple(self.scrolled.items()))
        key = (*state, bool(self.said))
        if self._known is None or self._known[0] != key:
            panes = self.all_panes()
            self._known = key, laid_out(panes, width, height, self.large, self.scrolled)
        return self._known[1]

    def before(self) -> str:
        """What stands before the line that is typed, and what becomes of that line."""
        if self.began is None:
            return f"(not entered; Enter) {self.prompt}" if self.kept else self.prompt
        more = f" and {len(self.ahead) - 1} more" if self.ahead[1:] else ""
        then = f"; then {self.ahead[0][:SHORTER]}{more}" if self.ahead else ""
        then = "; not entered, Enter again after it" if self.kept else then
        return f"(computing{then}) "

    def head(self, width: int) -> str:
        """What is being worked on, and whether something is being computed."""
        busy = ""
        if self.began is not None:
            busy = f" computing {time.monotonic() - self.began:.0f} s "
        room = width - len(busy) - 1
        title = self.view.title
        title = title if len(title) <= room else f"{title[: max(0, room - 3)]}..."
        return f" {title}".ljust(width - len(busy)) + busy

    def scroll(self, pane: Placed, pages: int) -> None:
        """Move a pane by some of its pages."""
        step = max(1, pane.rows - 1)
        most = max(0, len(pane.drawn) - pane.rows)
        self.scrolled[pane.pane.name] = min(max(0, pane.first + pages * step), most)

    def enlarge(self) -> None:
        """Make the next pane large; behind the last one all are seen again."""
        names = ["", *(pane.name for pane in self.panes), *([ANSWER] if self.log else [])]
        here = names.index(self.large) if self.large in names else 0
        self.large = names[(here + 1) % len(names)]
        self.scrolled.pop(self.large, None)

    def settle(self) -> None:
        """Leave what was looked at: all panes again, the last answer put away."""
        if self.large:
            self.large = ""
        else:
            self.said = []
        self.scrolled.clear()


class FullScreen:
    """One talk on a full screen."""

    def __init__(self, view: View) -> None:
        from diagnose.terminal.full_screen_parts import application

        self.view, self.shown = view, Shown(view)
        self.worker = ThreadPoolExecutor(1)
        self.work: Future[None] | None = None
        self.leaving = False
        self.app: Application[None] = application(self)

    def run(self) -> None:
        """Talk until it is over."""
        try:
            self.app.run(pre_run=self.begin)
        finally:
            self.worker.shutdown(wait=True)

    def said(self) -> list[str]:
        """The last answer as plain lines: on leaving it is worth being read below."""
        return [bare(text) for text in self.shown.said]

    def begin(self) -> None:
        """Show what is said first."""
        self._work(self.view.greeting)

    @property
    def busy(self) -> bool:
        """Whether something is being computed."""
        return self.work is not None and not self.work.done()

    def enter(self, buffer: Buffer) -> bool:
        """Take the line that was typed; True keeps it, because the last one is not answered yet.

        What is typed after that is no part of it: two values would become a third one.  What only
        shows something is as right afterwards, and waits for its turn.
        """
        line, shown = buffer.text[:LONGEST], self.shown
        if self.busy and self.view.shows(line):
            shown.ahead.append(line.strip())
            return False
        shown.kept = self.busy and bool(line.strip())
        if self.busy:
            return True
        if not line.strip() and shown.large:
            shown.settle()
            return True
        self.hear(line)
        return False

    def paste(self, text: str, buffer: Buffer) -> None:
        """Take what is pasted: one line as if it were typed, several one after the other."""
        lines = [line for line in text.splitlines() if line.strip()]
        if len(lines) < 2 or self.busy:
            buffer.insert_text(" ".join(lines[:1]))
            return
        lines[0] = buffer.text + lines[0]
        buffer.reset()
        self.shown.said, self.shown.ahead = [], lines
        self._go_on()

    def _go_on(self) -> None:
        """Have the pasted lines answered that are left, and keep all that is said to them."""
        while self.shown.ahead and not self.busy and not self.view.over:
            line = self.shown.ahead.pop(0)[:LONGEST]
            self.hear(line, [*self.shown.said, f"{HEARD}{line.strip()}"])

    def hear(self, line: str, said: Sequence[str] = ()) -> None:
        """Have a line answered; an answer that is not quick comes later.

        ``said`` stays before the answer.
        """
        shown = self.shown
        shown.said, shown.heard, shown.large = [*said], line.strip(), ""
        shown.scrolled.clear()
        shown.log.append(f"{HEARD}{shown.heard}")
        self._work(lambda: self.view.hear(line))

    def _work(self, job: Callable[[], Iterable[str]]) -> None:
        self.shown.began = time.monotonic()
        self.view.fit(self._width())
        self.work = self.worker.submit(self._answer, job)
        wait([self.work], QUICK)
        if self.work.done():
            self._answered(self.work)
        else:
            self.work.add_done_callback(self._answered)
            self._tick()

    def _tick(self) -> None:
        """Show how long it takes, again and again while it does."""
        if self.busy and self.app.loop is not None:
            self.app.invalidate()
            self.app.loop.call_later(TICK, self._tick)

    def leave(self) -> None:
        """Leave as ``quit`` does; what is being computed is answered first."""
        if self.busy:
            self.leaving = True
        else:
            self.hear("quit")

    def _answer(self, job: Callable[[], Iterable[str]]) -> None:
        """On the thread of the worker: what is said, and what then is to be seen."""
        for text in job():
            self._say(text)
        if not self.view.over:
            self.shown.look()

    def _say(self, text: str) -> None:
        self.shown.said.append(text)
        self.shown.log.append(text)
        self.app.invalidate()

    def _answered(self, work: Future[None]) -> None:
        """An answer is complete; a mistake of the program ends it, for nobody else would see it."""
        self.shown.began = None
        self.app.invalidate()
        if self.app.loop is None:
            return
        if work.exception() is not None or self.view.over:
            self.app.loop.call_soon_threadsafe(self._end, work.exception())
        elif self.leaving:
            self.leaving = False
            self.app.loop.call_soon_threadsafe(self.hear, "quit")
        elif self.shown.ahead:
            self.app.loop.call_soon_threadsafe(self._go_on)

    def _end(self, error: BaseException | None) -> None:
        if self.app.is_running and not self.app.is_done:
            self.app.exit(exception=error) if error else self.app.exit()

    # -- what is drawn -----------------------------------------------------------------------------

    def size(self) -> tuple[int, int]:
        """Columns and rows that panes have."""
        size = self.app.output.get_size()
        return size.columns, max(1, size.rows - AROUND)

    def _width(self) -> int:
        """Columns of an answer."""
        columns, _ = self.size()
        return columns // 2 - 2 if columns >= TWO_COLUMNS and self.view.halved else columns

    def laid_out(self) -> Laid:
        """The panes as they are to be seen."""
        return self.shown.laid_out(*self.size())

    def body(self) -> StyleAndTextTuples:
        """The rows of the panes as text in styles."""
        found: StyleAndTextTuples = []
        for *rest, last in self.laid_out().rows:
            # Blanks at the end are not painted: a wide screen has thousands of them.
            pieces = [*rest, replace(last, text=last.text.rstrip())]
            found += [(f"class:{line.style}" if line.style else "", line.text) for line in pieces]
            found.append(("", "\n"))
        return found[:-1]

    def scroll(self, pages: int) -> None:
        """Move the pane that is not wholly seen."""
        pane = self.laid_out().moving()
        if pane is not None:
            self.shown.scroll(pane, pages)
