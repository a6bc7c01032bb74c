"""``completion``: scripts that complete the command line in a shell, and the words they ask for."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterable

from diagnose.casework.log import case_files
from diagnose.errors import UnknownNameError
from diagnose.library import type_names
from diagnose.loops.plant import Plant
from diagnose.terminal import completion_scripts
from diagnose.terminal.completion_table import lines
from diagnose.terminal.find_loop import plant_of
from diagnose.terminal.outcome import SCHEMA, Outcome

SCRIPTS = {"bash": completion_scripts.bash, "zsh": completion_scripts.zsh,
           "fish": completion_scripts.fish}  # fmt: skip


def completion(arguments: Namespace) -> Outcome:
    """The script of a shell, or words that a script asks for."""
    what = arguments.what
    if what in SCRIPTS:
        from diagnose.terminal.commands import COMMANDS

        text = SCRIPTS[what](lines(COMMANDS))
        return Outcome(
            {"schema": SCHEMA, "shell": what, "script": text}, lambda _: text.splitlines()
        )
    if what not in WORDS:
        raise UnknownNameError("shell or kind of words", what, (*SCRIPTS, *WORDS))
    found = list(WORDS[what](plant_of(arguments)))
    return Outcome({"schema": SCHEMA, "words": found}, lambda _: found)


def _loops(plant: Plant) -> Iterable[str]:
    return (*plant.tags(), *_types(plant))


def _types(plant: Plant) -> Iterable[str]:
    return type_names(plant.folder / "models")


def _cases(plant: Plant) -> Iterable[str]:
    stems = {path.stem for path in case_files(*plant.case_folders)}
    return sorted(stem for stem in stems if stem.isprintable())  # one a line, and typed as it is


WORDS: dict[str, Callable[[Plant], Iterable[str]]] = {
    "loops": _loops, "types": _types, "cases": _cases,
}  # fmt: skip
