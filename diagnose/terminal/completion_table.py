"""What may follow on the command line, from the one table of commands; no shell is known here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from diagnose.terminal.arguments import COMMON, Argument, Command

LOOPS, TYPES, CASES, FILES, NOTHING = "loops", "types", "cases", "files", ""
"""Kinds of words: the first three are asked for when they are wanted."""

_KINDS = {
    "LOOP": LOOPS, "TAG": LOOPS, "TYPE": TYPES, "CASE": CASES, "FILE": FILES, "FOLDER": FILES,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Option:
    """An option: its name, its help, whether a value follows and of which kind."""

    name: str
    help: str
    takes: bool
    kind: str


@dataclass(frozen=True, slots=True)
class Place:
    """A word that is no option: its kind, or the words that it may be; ``more`` may follow."""

    kind: str
    words: tuple[str, ...]
    more: bool


@dataclass(frozen=True, slots=True)
class Line:
    """What a command takes."""

    name: str
    help: str
    options: tuple[Option, ...]
    places: tuple[Place, ...]


def lines(commands: Sequence[Command]) -> list[Line]:
    """What each command takes, as the table of commands says it."""
    found = []
    for command in commands:
        arguments = (*command.arguments, *COMMON)
        options = tuple(option for item in arguments for option in _options(item))
        places = tuple(_place(item) for item in arguments if not item.names[0].startswith("-"))
        found.append(Line(command.name, command.help, options, places))
    return found


def _options(item: Argument) -> Iterator[Option]:
    for name in item.names:
        if name.startswith("-"):
            takes = item.options.get("action") not in ("store_true", "store_false", "version")
            text = str(item.options.get("help", "")).replace("%%", "%")
            yield Option(name, text, takes, _kind(item) if takes else NOTHING)


def _place(item: Argument) -> Place:
    return Place(_kind(item), item.words, item.options.get("nargs") in ("*", "+"))


def _kind(item: Argument) -> str:
    return _KINDS.get(str(item.options.get("metavar", "")), NOTHING)
