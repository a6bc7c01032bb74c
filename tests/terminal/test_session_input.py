"""Where lines come from without a full screen, and what is told while work goes on."""

from collections.abc import Iterator
from io import StringIO
from threading import Event

import pytest

from diagnose.terminal.converse import say
from diagnose.terminal.session_input import PlainLines, plain_wanted, printable


def test_without_a_terminal_lines_are_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", StringIO("V X21:7 3\n" + "x" * 5000 + "\nlast"))
    assert plain_wanted(False)
    out = StringIO()
    lines = PlainLines(out)
    assert lines.ask("> ").strip() == "V X21:7 3"
    assert len(lines.ask("> ")) <= 2000
    assert lines.ask("> ") == "last"  # the rest of the long line is no line of its own
    with pytest.raises(EOFError):
        lines.ask("> ")
    assert "> V X21:7 3\n" in out.getvalue()


def test_what_would_move_the_cursor_is_not_echoed() -> None:
    assert printable("a\x1b[2Jb\x07\n") == "a?[2Jb?"


@pytest.mark.parametrize(("term", "plain"), [("dumb", True), ("xterm", False)])
def test_a_dumb_terminal_gets_plain_lines(
    monkeypatch: pytest.MonkeyPatch, term: str, plain: bool
) -> None:
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", term)
    assert plain_wanted(False) == plain
    assert plain_wanted(True)


class Screen(StringIO):
    """A terminal that tells when something was written."""

    def __init__(self) -> None:
        super().__init__()
        self.written = Event()

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.written.set()
        return super().write(text)


def test_long_work_is_told_of_on_a_terminal(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The answer waits here until the screen has said that work goes on: no clock decides."""
    monkeypatch.setattr("diagnose.terminal.converse.MOMENT", 0.0)
    screen = Screen()

    def answer() -> Iterator[str]:
        assert screen.written.wait(30)
        yield "done"

    say(answer(), screen)
    assert screen.getvalue().startswith("Still working ...\n")
    assert screen.getvalue().rstrip().splitlines().count("done") == 1
