"""The prompt of a terminal, fed through a pipe: typing, Tab, Up, Ctrl-C, Ctrl-D.

Completion is asynchronous in prompt_toolkit, so that the completer is asked directly.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from threading import Event

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.completion import CompleteEvent
from prompt_toolkit.document import Document
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput

from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.terminal.session import Session
from diagnose.terminal.session_input import PlainLines, PromptLines, plain_wanted, printable
from terminal.session_stand import BY_HAND as RANKING
from terminal.session_stand import SCREEN, Answers, by_hand, talk_on


@pytest.fixture(scope="module")
def loop() -> Loop:
    return open_plant().load("LT-214")


@contextmanager
def session(folder: Path, loop: Loop) -> Iterator[tuple[Session, PipeInput, StringIO]]:
    """A session on a piped terminal, whose engine answers by hand."""
    out = StringIO()
    with create_pipe_input() as keys, create_app_session(input=keys, output=DummyOutput()):
        talk = talk_on(folder, loop, lambda: Answers(RANKING, loop))
        made = Session(talk.hunt, SCREEN, out)
        made.lines = PromptLines(made.offers, made.toolbar, ["V X21:7 X20:0 3.02"])
        yield made, keys, out
        talk.hunt.file.close()


def test_a_session_is_typed(tmp_path: Path, loop: Loop) -> None:
    with session(tmp_path, loop) as (made, keys, out):
        keys.send_text("2\rrain\r\r\r\r\r\r\r12.0\rquit\r")
        made.run(new=True)
        assert made.talk.hunt.case.evidence == (
            "complaint reads high", "context rain", "mA X21:3 X21:4 12.0 mA",
        )  # fmt: skip
        assert out.getvalue().rstrip().endswith("open, 1 reading, 1 open item.")


def test_ctrl_c_clears_the_line_and_ctrl_d_leaves(tmp_path: Path, loop: Loop) -> None:
    with session(tmp_path, loop) as (made, keys, out):
        keys.send_text("reads hi\x03reads low\r\x03\x04")
        made.run(new=True)
        assert made.talk.hunt.case.complaints == ("reads low",)
        assert out.getvalue().count("Nothing is lost") == 2
        assert made.talk.over


def test_up_brings_back_what_was_read(tmp_path: Path, loop: Loop) -> None:
    with session(tmp_path, loop) as (made, keys, _):
        keys.send_text("\x1b[A\rquit\r")
        made.run(new=False)
        assert made.talk.hunt.case.evidence == ("V X21:7 X20:0 3.02 V",)


def test_the_completer_replaces_the_word_being_typed(tmp_path: Path, loop: Loop) -> None:
    with session(tmp_path, loop) as (made, _, _):
        assert isinstance(made.lines, PromptLines)
        completer = made.lines.session.completer
        found = list(completer.get_completions(Document("V X21:7 X2"), CompleteEvent()))
        assert found
        assert all(item.start_position == -2 for item in found)
        assert "X20:0" in [item.text for item in found]


def test_the_toolbar_names_loop_cause_and_open_items(tmp_path: Path, loop: Loop) -> None:
    talk = by_hand(tmp_path, loop)
    list(talk.hear("12.0"))
    made = Session.__new__(Session)
    made.talk = talk
    assert made.toolbar().startswith(" LT-214 | I.W3 leakage")
    assert "X21:3 to X21:4" in made.toolbar()
    assert len(made.toolbar()) <= SCREEN.width
    talk.hunt.file.close()


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
    tmp_path: Path, loop: Loop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer waits here until the screen has said that work goes on: no clock decides."""
    monkeypatch.setattr("diagnose.terminal.session.MOMENT", 0.0)
    with session(tmp_path, loop) as (made, _, out):
        made.out = screen = Screen()

        def answer() -> Iterator[str]:
            assert screen.written.wait(30)
            yield "done"

        made.say(answer())
        assert screen.getvalue().startswith("Still working ...\n")
        assert screen.getvalue().rstrip().splitlines().count("done") == 1
        assert out.getvalue() == ""
