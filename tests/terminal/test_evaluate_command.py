"""``evaluate`` as it is typed: how many readings a hunt may take, and what is refused.

Sources: none outside; counts of readings that were asked for.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.terminal.commands import COMMANDS
from diagnose.training.policies import POLICIES
from diagnose.training.troubles import TROUBLES

SHEET = str(Path(__file__).parents[1] / "sheets" / "b3_terminals.toml")
FEW = ["evaluate", SHEET, "--hunts", "3", "--workers", "1", "--policy", "fixed order"]


def test_a_hunt_is_called_off_after_the_readings_that_it_may_take(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main([*FEW, "--readings", "1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert list(told["policies"]) == ["fixed order, up to 1 reading"]
    assert [hunt["readings"] <= 1 for hunt in told["hunts"]] == [True] * 3
    assert main([*FEW, "--json"]) == 0
    usual = json.loads(capsys.readouterr().out)
    assert max(hunt["readings"] for hunt in usual["hunts"]) > 1


@pytest.mark.parametrize("number", ["0", "201", "many"])
def test_a_number_of_readings_that_makes_no_sense_is_one_line(
    number: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*FEW, "--readings", number]) == 2
    out, error = capsys.readouterr()
    assert not out and error.count("\n") == 1 and "--readings" in error


@pytest.mark.parametrize(("option", "names"), [("--policy", POLICIES), ("--trouble", TROUBLES)])
def test_the_help_names_every_policy_and_trouble(option: str, names: dict[str, object]) -> None:
    (command,) = (one for one in COMMANDS if one.name == "evaluate")
    (told,) = (item.options["help"] for item in command.arguments if option in item.names)
    listed = {word.removesuffix(" (default)") for word in told.partition(";")[0].split(", ")}
    assert listed == set(names)
