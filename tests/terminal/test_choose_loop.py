"""The loop of a session by a few letters: one that fits is taken, several are asked about."""

from io import StringIO

import pytest

from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.loops.plant import open_plant
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.choose_loop import choose_loop

PLANT = open_plant()


def chosen(
    words: str, typed: str = "", *, terminal: bool = False, monkeypatch: pytest.MonkeyPatch
) -> tuple[str, str]:
    """The tag that is chosen, and what was printed."""
    lines = StringIO(typed)
    monkeypatch.setattr("sys.stdin", lines)
    monkeypatch.setattr(lines, "isatty", lambda: terminal)
    out = StringIO()
    return choose_loop(words, PLANT, out).tag, out.getvalue()


@pytest.mark.parametrize(
    ("words", "tag"),
    [("LT-214", "LT-214"), ("lt214", "LT-214"), ("reflux drum level", "LT-216"),
     ("xv221", "XV-221"), ("vacuum pump", "PT-322")],
)  # fmt: skip
def test_what_fits_one_loop_is_that_loop(
    words: str, tag: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert chosen(words, monkeypatch=monkeypatch)[0] == tag


def test_several_are_offered_by_number(monkeypatch: pytest.MonkeyPatch) -> None:
    tag, out = chosen("solvent level", "7 o\n99\n2\n", terminal=True, monkeypatch=monkeypatch)
    assert f"  2  {tag} " in out
    assert out.count("Which of them?") == 3


def test_a_slip_is_asked_about_and_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    tag, out = chosen("LT-241", "1\n", terminal=True, monkeypatch=monkeypatch)
    assert f"  1  {tag} " in out


def test_without_a_word_a_terminal_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    assert chosen("", "\nxv221\n", terminal=True, monkeypatch=monkeypatch)[0] == "XV-221"


@pytest.mark.parametrize(
    ("words", "typed", "terminal", "error", "told"),
    [
        ("solvent level", "", False, UsageError, "LT-214"),
        ("LT-241", "", False, UsageError, "like it: "),
        ("", "", False, UsageError, "troubleshoot LOOP"),
        ("", "", True, UsageError, "no loop was named"),
        ("solvent level", "\n", True, UsageError, "can mean|solvent"),
        ("qqqq", "", True, UnknownNameError, "qqqq"),
        ("no/such.toml", "", True, UsageError, "there is no sheet"),
    ],
)
def test_what_cannot_be_taken_is_told_in_one_line(
    words: str,
    typed: str,
    terminal: bool,
    error: type[DiagnoseError],
    told: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with pytest.raises(DiagnoseError, match=told) as caught:
        chosen(words, typed, terminal=terminal, monkeypatch=monkeypatch)
    assert isinstance(caught.value, error | UnknownNameError)
    assert len(str(caught.value).splitlines()) == 1
