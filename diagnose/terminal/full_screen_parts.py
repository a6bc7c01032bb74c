"""The windows, keys and colours of the full screen."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

from prompt_toolkit import Application
from prompt_toolkit.buffer import Buffer
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.filters import Condition
from prompt_toolkit.history import InMemoryHistory
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from prompt_toolkit.layout import (
    BufferControl,
    CompletionsMenu,
    Float,
    FloatContainer,
    FormattedTextControl,
    HSplit,
    Layout,
    Window,
)
from prompt_toolkit.layout.processors import BeforeInput
from prompt_toolkit.output import ColorDepth
from prompt_toolkit.styles import Style
from prompt_toolkit.utils import get_cwidth

if TYPE_CHECKING:
    from prompt_toolkit.formatted_text import StyleAndTextTuples

    from diagnose.terminal.full_screen import FullScreen

KEYS = (
    ("Tab", "completes"), ("PgUp PgDn", "scroll"), ("F2", "next pane large"), ("Esc", "back"),
    ("Up", "earlier lines"), ("Ctrl-C", "clears the line"), ("Ctrl-D", "leaves"),
)  # fmt: skip
"""What the keys do, as the foot of the screen and the documents tell it."""

ESCAPE = 0.1
"""Seconds after which Esc is the key, and not the beginning of another one: lines are slow."""

# No dim text, for it vanishes on some terminals; colour only where bold is not enough.
STYLE = Style.from_dict(
    {
        "head": "reverse bold",
        "foot": "reverse",
        "title": "bold",
        "strong": "bold",
        "warning": "ansiyellow",
        "faint": "",
        "prompt": "bold",
        "completion-menu": "reverse",
    }
)


def application(screen: FullScreen) -> Application[None]:
    """The application of a screen; its input and output are those of the session."""
    buffer = Buffer(
        completer=Offers(screen), complete_while_typing=False, multiline=False,
        history=InMemoryHistory(list(screen.view.known)), accept_handler=screen.enter,
        read_only=Condition(lambda: screen.shown.kept and screen.busy),
        on_text_changed=lambda _: _loose(screen),
    )  # fmt: skip
    made: Application[None] = Application(
        layout=_layout(screen, buffer),
        key_bindings=_keys(screen, buffer),
        style=STYLE,
        color_depth=ColorDepth.MONOCHROME if os.environ.get("NO_COLOR") else None,
        full_screen=True,
    )
    made.ttimeoutlen = ESCAPE
    return made


def _loose(screen: FullScreen) -> None:
    """A line that is changed is a new one."""
    screen.shown.kept = False


class Offers(Completer):
    """Completion of the word being typed by what the view offers."""

    def __init__(self, screen: FullScreen) -> None:
        self.screen = screen

    def get_completions(self, document: Document, event: CompleteEvent) -> Iterator[Completion]:
        """The offers for the text before the cursor."""
        text = document.text_before_cursor
        begun = "" if text[-1:].isspace() else text.rpartition(" ")[2]
        for word in self.screen.view.offers(text):
            yield Completion(word, -len(begun))


def _layout(screen: FullScreen, buffer: Buffer) -> Layout:
    def columns() -> int:
        return screen.app.output.get_size().columns

    def head_text() -> StyleAndTextTuples:
        return [("class:head", screen.shown.head(columns()))]

    def foot_text() -> StyleAndTextTuples:
        return [("class:foot", _foot(screen, columns()))]

    line = BufferControl(
        buffer,
        [BeforeInput(lambda: [("class:prompt", screen.shown.before())])],
        focus_on_click=True,
    )

    def scrolled(window: Window) -> int:
        """From the prompt on where all fits: a long line before leaves its scrolling behind."""
        fits = get_cwidth(screen.shown.before() + buffer.text) < columns()
        return 0 if fits else window.horizontal_scroll

    rows = HSplit(
        [
            Window(FormattedTextControl(head_text), height=1),
            Window(FormattedTextControl(screen.body), wrap_lines=False),
            Window(line, height=1, wrap_lines=False, get_horizontal_scroll=scrolled),
            Window(FormattedTextControl(foot_text), height=1),
        ]
    )
    menu = Float(CompletionsMenu(max_height=8, scroll_offset=1), xcursor=True, ycursor=True)
    return Layout(FloatContainer(rows, [menu]), focused_element=line)


def _foot(screen: FullScreen, width: int) -> str:
    """What is open, and as many of the keys as fit beside it."""
    text = f" {screen.shown.foot}".rstrip()
    for key, does in KEYS:
        more = f"{text} | {key} {does}" if text else f" {key} {does}"
        if len(more) > width:
            break
        text = more
    return text[:width].ljust(width)


def _keys(screen: FullScreen, buffer: Buffer) -> KeyBindings:
    """Each key says what it does, as `KEYS` tells it."""
    keys = KeyBindings()

    @keys.add("pageup")
    def _(event: KeyPressEvent) -> None:
        """Scroll back."""
        screen.scroll(-1)

    @keys.add("pagedown")
    def _(event: KeyPressEvent) -> None:
        """Scroll on."""
        screen.scroll(1)

    @keys.add("f2")
    def _(event: KeyPressEvent) -> None:
        """Make the next pane large."""
        screen.shown.enlarge()

    @keys.add("escape", eager=True)
    def _(event: KeyPressEvent) -> None:
        """Go back to all panes; put the last answer away."""
        if buffer.complete_state:
            buffer.cancel_completion()
        else:
            screen.shown.settle()

    @keys.add(Keys.Any, filter=Condition(lambda: screen.shown.kept and not screen.busy))
    def _(event: KeyPressEvent) -> None:
        """Begin a new line in the place of the one that was kept; Enter gives that one."""
        buffer.reset()
        buffer.insert_text(event.data)

    @keys.add(Keys.BracketedPaste)
    def _(event: KeyPressEvent) -> None:
        """Take what is pasted, line by line."""
        screen.paste(event.data, buffer)

    @keys.add("c-c")
    def _(event: KeyPressEvent) -> None:
        """Clear the line, and those that wait behind it; nothing else."""
        _loose(screen)
        screen.shown.ahead.clear()
        buffer.reset()

    @keys.add("c-d")
    def _(event: KeyPressEvent) -> None:
        """Leave, as ``quit`` does."""
        screen.leave()

    return keys
