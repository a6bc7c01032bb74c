"""The completion scripts, really sourced: bash always, zsh and fish where they are installed."""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.terminal.commands import COMMANDS
from diagnose.terminal.completion_table import CASES, FILES, LOOPS, lines


@pytest.fixture(scope="module")
def scripts(tmp_path_factory: pytest.TempPathFactory, root: Path) -> Path:
    """A folder with the scripts, and a ``diagnose`` for them to ask."""
    folder = tmp_path_factory.mktemp("scripts")
    program = folder / "diagnose"
    program.write_text(
        f'#!/bin/sh\nPYTHONPATH={root} exec {sys.executable} -m diagnose "$@"\n', encoding="utf-8"
    )
    program.chmod(0o755)
    for shell in ("bash", "zsh", "fish"):
        text = subprocess.run(
            [program, "completion", shell], capture_output=True, text=True, check=True, cwd=folder
        ).stdout
        (folder / shell).write_text(text, encoding="utf-8")
    return folder


def run(shell: list[str], script: str, folder: Path, **more: str) -> list[str]:
    path = f"{folder}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        [*shell, "-c", script], env=os.environ | {"PATH": path, "HOME": str(folder)} | more,
        capture_output=True, text=True, check=True, cwd=folder,
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout.splitlines()


def bash(line: str, folder: Path) -> list[str]:
    """What bash offers for the last word of a line."""
    words = " ".join(shlex.quote(word) for word in line.split(" "))
    script = (
        f"source {folder}/bash; COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); "
        '_diagnose; printf "%s\\n" "${COMPREPLY[@]}"'
    )
    return sorted(filter(None, run(["bash", "--norc"], script, folder)))


def fish(line: str, folder: Path) -> list[str]:
    script = f"source {folder}/fish; complete -C {shlex.quote(line)}"
    offered = run(["fish", "--no-config"], script, folder, XDG_CONFIG_HOME=str(folder))
    return sorted(text.partition("\t")[0] for text in offered)


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant with a loop of its own."""
    folder = tmp_path_factory.mktemp("other")
    (folder / "sheets").mkdir()
    (folder / "plant.toml").write_text('[plant]\nname = "Other"\n', encoding="utf-8")
    (folder / "sheets" / "QT-7.toml").write_text("", encoding="utf-8")
    return folder


LINES = (
    ("diagnose sim", ["simulate"]),
    ("diagnose rank LT-2", ["LT-214", "LT-216"]),
    ("diagnose rank --fi", ["--file"]),
    ("diagnose plant im", ["import"]),
    ("diagnose plant --name new im", ["import"]),
    ("diagnose sheet new X --type two", ["two-wire-input"]),
    ("diagnose cases show LT-214_2024-03", ["LT-214_2024-03-12_01"]),
    ("diagnose completion f", ["fish"]),
    ("diagnose evaluate LT-214 LT-216 TT-131 TT-13", ["TT-131", "TT-132", "TT-133"]),
)


@pytest.mark.parametrize(("line", "offered"), LINES)
def test_bash_offers(line: str, offered: list[str], scripts: Path) -> None:
    assert bash(line, scripts) == offered


def test_bash_knows_the_plant_of_the_line(scripts: Path, other: Path) -> None:
    assert bash(f"diagnose rank --plant {other} QT", scripts) == ["QT-7"]
    assert bash("diagnose rank QT", scripts) == []


def test_bash_offers_every_command_and_files(scripts: Path) -> None:
    names = {command.name for command in COMMANDS}
    assert names <= set(bash("diagnose ", scripts))
    assert bash("diagnose rank LT-214 --file ba", scripts) == ["bash"]
    assert bash("diagnose nothing of it", scripts) == []


def test_bash_takes_a_tag_in_small_letters(scripts: Path) -> None:
    assert bash("diagnose rank lt-21", scripts) == ["LT-214", "LT-216"]


@pytest.mark.fish
@pytest.mark.parametrize(("line", "offered"), LINES)
def test_fish_offers(line: str, offered: list[str], scripts: Path) -> None:
    assert fish(line, scripts) == offered


@pytest.mark.fish
def test_fish_knows_the_plant_of_the_line(scripts: Path, other: Path) -> None:
    assert fish(f"diagnose rank --plant {other} QT", scripts) == ["QT-7"]


@pytest.mark.zsh
@pytest.mark.parametrize(("line", "offered"), LINES)
def test_zsh_offers(line: str, offered: list[str], scripts: Path) -> None:
    """``compadd`` and its kin are caught: what reaches them is what a menu would show."""
    script = f"""
    compdef() {{ }}
    _describe() {{ print -l -- ${{(P)4}} }}
    _files() {{ print files }}
    compadd() {{ while [[ $1 != -- ]]; do shift; done; shift; print -l -- "$@" }}
    source {scripts}/zsh
    words=({" ".join(shlex.quote(word) for word in line.split(" "))}); CURRENT=${{#words}}
    _diagnose
    """
    last = line.rpartition(" ")[2]
    told = {text.partition(":")[0] for text in run(["zsh", "-f"], script, scripts)}
    assert sorted(text for text in told if text.startswith(last)) == offered


def test_each_option_of_each_command_is_in_each_script(scripts: Path) -> None:
    texts = {
        shell: (scripts / shell).read_text(encoding="utf-8") for shell in ("bash", "zsh", "fish")
    }
    table = lines(COMMANDS)
    assert len(table) == len(COMMANDS)
    for line in table:
        for option in line.options:
            assert option.name in texts["bash"]
            assert option.name in texts["zsh"]
            assert f"{line.name}' -l {option.name.removeprefix('--')} " in texts["fish"]


def test_what_follows_is_told_by_the_table() -> None:
    table = {line.name: line for line in lines(COMMANDS)}
    assert table["rank"].places[0].kind == LOOPS
    assert [o.kind for o in table["rank"].options if o.name == "--file"] == [FILES]
    assert table["cases"].places[1].kind == CASES
    assert [o.takes for o in table["rank"].options if o.name == "--json"] == [False]
