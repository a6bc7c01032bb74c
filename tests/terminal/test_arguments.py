"""The command line is parsed as the table of commands says, and complains in one line."""

import argparse

import pytest

from diagnose.errors import UnknownNameError
from diagnose.terminal.arguments import Command, UsageError, argument, parse, parser, whole
from diagnose.terminal.commands import COMMANDS
from diagnose.terminal.outcome import Outcome


def nothing(_: argparse.Namespace) -> Outcome:
    return Outcome({}, lambda look: ())


TOY = (
    Command("walk", "walks", (argument("words", nargs="*"), argument("--far")), nothing, ("x",)),
    Command("wait", "waits", (), nothing, ("x",)),
)


def test_a_command_is_found_with_its_arguments() -> None:
    command, found = parse(["walk", "a", "b"], TOY)
    assert (command.name, found.words, found.far, found.json) == ("walk", ["a", "b"], None, False)


def test_options_may_stand_between_words() -> None:
    """A reading that comes to mind later is added at the end of the line."""
    _, found = parse(["walk", "a", "--json", "b", "--far", "c", "d"], TOY)
    assert (found.words, found.far, found.json) == (["a", "b", "d"], "c", True)


def test_a_negative_number_is_a_word() -> None:
    assert parse(["walk", "V", "-0.02"], TOY)[1].words == ["V", "-0.02"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "name a command"),
        (["wait", "for", "me"], "unrecognized arguments: for me"),
        (["walk", "--far"], "expected one argument"),
        (["walk", "--fa", "x"], "unrecognized arguments: --fa"),
        (["--jason"], "unrecognized arguments: --jason"),
    ],
)
def test_words_that_make_no_sense_are_told(words: list[str], told: str) -> None:
    with pytest.raises(UsageError, match=told) as found:
        parse(words, TOY)
    assert "--help" in str(found.value)
    assert "\n" not in str(found.value)


@pytest.mark.parametrize("text", ["", "x", "-1", "2.0", "0", "257", "9" * 5000, "\u00b2", "\u0663"])
def test_a_number_that_is_none_is_told_in_one_line(text: str) -> None:
    """Python itself refuses thousands of digits, and takes digits of other writings."""
    with pytest.raises(
        UsageError, match=r"--workers: '.*' is no whole number from 1 to 256"
    ) as found:
        whole("--workers", text, 1, 256)
    assert len(str(found.value)) < 120
    assert whole("--workers", "016", 1, 256) == 16


def test_an_unknown_command_gets_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="no command called 'wlak'; did you mean walk"):
        parse(["wlak"], TOY)


@pytest.mark.parametrize("words", [["--help"], ["help"], ["walk", "--help"], ["help", "walk"]])
def test_help_leaves_with_zero(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        parse(words, TOY)
    assert stop.value.code == 0
    assert "walks" in capsys.readouterr().out.casefold()


def test_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    from diagnose import __version__

    with pytest.raises(SystemExit):
        parse(["--version"], TOY)
    assert capsys.readouterr().out == f"diagnose {__version__}\n"


@pytest.mark.parametrize("command", COMMANDS, ids=[command.name for command in COMMANDS])
def test_each_command_tells_about_each_of_its_arguments(command: Command) -> None:
    for item in command.arguments:
        assert item.options.get("help"), item.names
    assert parser(command).format_help().isascii()


@pytest.mark.parametrize("command", COMMANDS, ids=[command.name for command in COMMANDS])
def test_each_command_takes_json_and_plant(command: Command) -> None:
    text = parser(command).format_help()
    assert "--json" in text
    assert "--plant" in text
