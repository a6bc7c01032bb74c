"""What the tests of the full screen share: keys typed at it through a pipe, and what it shows."""

import asyncio
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from select import select

from prompt_toolkit.application import create_app_session
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput

from diagnose.terminal.full_screen import FullScreen
from diagnose.terminal.full_screen_parts import ESCAPE
from diagnose.terminal.panes import View


class Sized(DummyOutput):
    """A terminal of some size that shows nothing."""

    def __init__(self, columns: int, rows: int) -> None:
        self.columns, self.rows = columns, rows

    def get_size(self) -> Size:
        return Size(rows=self.rows, columns=self.columns)


@contextmanager
def screen_of(
    view: View, columns: int = 80, rows: int = 24
) -> Iterator[tuple[FullScreen, PipeInput]]:
    output = Sized(columns, rows)
    with create_pipe_input() as keys, create_app_session(input=keys, output=output):
        yield FullScreen(view), keys


def seen(screen: FullScreen) -> list[str]:
    """The rows of the screen as text: head, panes, the line that is typed, foot."""
    columns, _ = screen.size()
    rows = ["".join(piece.text for piece in row) for row in screen.laid_out().rows]
    line = screen.shown.before() + screen.app.current_buffer.text
    return [screen.shown.head(columns), *rows, line, screen.shown.foot]


def typed(view: View, keys: Sequence[str], columns: int = 80, rows: int = 24) -> list[list[str]]:
    """What the screen shows after each of some keys (text, Enter is CR), each waited for."""
    shown: list[list[str]] = []
    with screen_of(view, columns, rows) as (screen, pipe):
        asyncio.run(_typed(screen, pipe, keys, shown))
    screen.worker.shutdown(wait=True)
    return shown


async def _typed(
    screen: FullScreen, pipe: PipeInput, keys: Sequence[str], shown: list[list[str]]
) -> None:
    running = asyncio.ensure_future(screen.app.run_async(pre_run=screen.begin))
    await _still(screen, pipe)
    for text in keys:
        if running.done():
            break
        pipe.send_text(text)
        if text.endswith("\x1b"):  # the loop's timers run in order: by then it is the key Esc
            await asyncio.sleep(3 * ESCAPE)
        await _still(screen, pipe)
        shown.append(seen(screen))
    if not running.done():
        screen.app.exit()
    await running


async def _still(screen: FullScreen, pipe: PipeInput) -> None:
    """Wait until all keys are read and all answers given, those to lines that wait as well."""
    await asyncio.sleep(0.02)
    shown = screen.shown
    while select([pipe.fileno()], [], [], 0)[0] or screen.busy or shown.began or shown.ahead:
        await asyncio.sleep(0.005)
    await asyncio.sleep(0.02)
