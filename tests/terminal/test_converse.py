"""A session on a terminal: on a full screen, and in lines where that cannot be had."""

from io import StringIO
from pathlib import Path

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.input import create_pipe_input

from diagnose.loops.plant import open_plant
from diagnose.terminal.session import Session
from terminal.full_screen_stand import Sized
from terminal.session_stand import BY_HAND, SCREEN, Answers, talk_on


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Session:
    monkeypatch.setattr("diagnose.terminal.converse.plain_wanted", lambda plain: plain)
    loop = open_plant().load("LT-214")
    hunt = talk_on(tmp_path, loop, lambda: Answers(BY_HAND, loop)).hunt
    return Session(hunt, SCREEN, new=True)


def test_after_a_full_screen_it_is_said_how_the_case_stands(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = StringIO()
    monkeypatch.setattr("sys.stdout", out)
    with (
        create_pipe_input() as keys,
        create_app_session(input=keys, output=Sized(80, 24)),
        session.talk.hunt.file,
    ):
        keys.send_text("\x04")  # the greeting, should it not be computed yet, comes first
        session.run(plain=False, out=out)
    assert session.talk.drawn
    assert out.getvalue().splitlines()[-1].endswith(": open, 0 readings.")


def test_without_a_console_buffer_the_first_question_is_told_in_lines(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some Windows shells have none; prompt_toolkit raises this class there."""
    no_buffer = type("NoConsoleScreenBufferError", (Exception,), {})

    def none(_: object) -> None:
        raise no_buffer

    out = StringIO()
    monkeypatch.setattr("sys.stdout", out)
    monkeypatch.setattr("sys.stdin", StringIO("2\n"))
    monkeypatch.setattr("diagnose.terminal.full_screen.FullScreen", none)
    with session.talk.hunt.file:
        session.run(plain=False, out=out)
    assert "Every line is kept" in " ".join(out.getvalue().split())
    assert "complaint> 2" in out.getvalue()
    assert "context> " in out.getvalue()
    assert not session.talk.drawn
    context = session.talk.question
    assert context is not None
    assert all(line in out.getvalue().splitlines() for line in context.text)
