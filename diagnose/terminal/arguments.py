"""From the words of the command line to a command and its arguments.

Each command has a parser of its own, made only when it is called: so options and readings may be
mixed, and starting one command costs nothing for the others.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from textwrap import dedent
from typing import Any, NoReturn

from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.loops.names import shown
from diagnose.quantities import whole_number
from diagnose.terminal.outcome import Outcome
from diagnose.terminal.screen import tell


class UsageError(DiagnoseError):
    """Words of the command line that make no sense."""


def whole(option: str, text: str, least: int, most: int) -> int:
    """The whole number that an option was given; UsageError for any other text."""
    number = whole_number(text, least, most)
    if number is None:
        raise UsageError(f"{option}: '{shown(text)}' is no whole number from {least} to {most}")
    return number


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument: its names, what argparse needs to know of it, the words that it may be."""

    names: tuple[str, ...]
    options: Mapping[str, Any] = field(default_factory=dict)
    words: tuple[str, ...] = ()


def argument(*names: str, words: tuple[str, ...] = (), **options: Any) -> Argument:
    """An argument as it is written in the table of commands; ``words`` are for completion."""
    return Argument(names, options, words)


@dataclass(frozen=True, slots=True)
class Command:
    """One command: argparse, ``--help``, completion and the documents all read this."""

    name: str
    help: str
    arguments: tuple[Argument, ...]
    handler: Callable[[argparse.Namespace], Outcome]
    examples: tuple[str, ...]
    more: str = ""


COMMON = (
    argument("--json", action="store_true", help="print one JSON object instead of text"),
    argument("--plant", metavar="FOLDER", help="plant folder (default: this folder, or the demo)"),
)


class _Parser(argparse.ArgumentParser):
    """Complains in one line, and takes no abbreviated options: they break scripts later."""

    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{message}; see {self.prog} --help")

    def _print_message(self, message: str, file: object = None) -> None:
        """Help and version; argparse itself says nothing where they cannot be written."""
        tell(message)


def parse(words: Sequence[str], commands: Sequence[Command]) -> tuple[Command, argparse.Namespace]:
    """The command that is called and its arguments.

    ``--help`` and ``--version`` print and leave through SystemExit.  Raises UsageError or
    UnknownNameError.
    """
    if not words or words[0].startswith("-"):
        _overall(commands).parse_args(list(words))
        raise UsageError("name a command; see diagnose --help")
    known = {command.name: command for command in commands}
    if words[0] == "help":
        wanted = [word for word in words[1:2] if word in known]
        return parse([*wanted, "--help"], commands)
    if words[0] not in known:
        raise UnknownNameError("command", words[0], known)
    command = known[words[0]]
    return command, parser(command).parse_intermixed_args(list(words[1:]))


def parser(command: Command) -> argparse.ArgumentParser:
    """The parser of one command."""
    made = _Parser(
        prog=f"diagnose {command.name}",
        description=f"{command.help[:1].upper()}{command.help[1:]}.",
        epilog=_epilog(command),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    for item in (*command.arguments, *COMMON):
        made.add_argument(*item.names, **item.options)
    return made


def _epilog(command: Command) -> str:
    more = dedent(command.more).strip()
    examples = "\n".join(f"  {example}" for example in command.examples)
    return f"{more}\n\nexamples:\n{examples}" if more else f"examples:\n{examples}"


def _overall(commands: Sequence[Command]) -> argparse.ArgumentParser:
    """What ``diagnose --help`` prints."""
    from diagnose.library import package_version

    width = max(len(command.name) for command in commands)
    table = "\n".join(f"  {command.name:<{width}}  {command.help}" for command in commands)
    made = _Parser(
        prog="diagnose",
        usage="diagnose COMMAND [ARGUMENTS]",
        description="Finds the failed element of a measuring loop from a few meter readings.",
        epilog=f"commands:\n{table}\n\ndiagnose COMMAND --help shows arguments and examples.\n"
        "Exit code: 0 done, 1 negative answer, 2 input that could not be used.\n"
        "The tool reminds, it does not permit: site procedures, permits and competent people\n"
        "decide.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    made.add_argument("--version", action="version", version=f"diagnose {package_version()}")
    return made
