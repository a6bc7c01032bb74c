"""The completion of the commands as a script for bash, zsh or fish.

What a script may offer stands in it; tags, types and names of cases are asked of the program when
they are wanted, in the plant that the line names.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.terminal.completion_shells import BASH, FISH, ZSH
from diagnose.terminal.completion_table import FILES, NOTHING, Line, Place


def bash(table: Sequence[Line]) -> str:
    """A script to be sourced by bash."""
    return BASH.format(
        names=" ".join(_names(table)),
        takes=_takes(table, "        {key}) takes=' {words} ' ;;"),
        after=_after(table, "        {key}) kind={kind} ;;"),
        options=_by_command(table, "        {key}) words='{words}' ;;"),
        places=_places(table, "        {key}) kind={kind} ;;", "        {key}) words='{words}' ;;"),
    )


def zsh(table: Sequence[Line]) -> str:
    """A script to be sourced by zsh, or to be put as ``_diagnose`` where it looks for functions."""
    lines = [f"            {_quoted(f'{line.name}:{line.help}')}" for line in table]
    options = "\n".join(
        f"        ({line.name}) list=({' '.join(_described(line))}) ;;" for line in table
    )
    return ZSH.format(
        commands="\n".join(lines),
        takes=_takes(table, "        ({key}) takes=({words}) ;;"),
        after=_after(table, "        ({key}) kind={kind} ;;"),
        options=options,
        places=_places(
            table, "        ({key}) kind={kind} ;;", "        ({key}) compadd -- {words}; return ;;"
        ),
    )


def fish(table: Sequence[Line]) -> str:
    """A script to be sourced by fish."""
    takes = sorted({o.name for line in table for o in line.options if o.takes})
    head = f"{FISH}\nset -g __diagnose_takes {' '.join(takes)}"
    return "\n".join([head, *(text for line in table for text in _fish(line))]) + "\n"


# -- pieces that bash and zsh share --------------------------------------------------------------


def _names(table: Sequence[Line]) -> list[str]:
    return [*(line.name for line in table), "help", "--help", "--version"]


def _takes(table: Sequence[Line], form: str) -> str:
    """By command: the options behind which a value stands."""
    found = {
        line.name: " ".join(option.name for option in line.options if option.takes)
        for line in table
    }
    return "\n".join(form.format(key=name, words=words) for name, words in found.items())


def _after(table: Sequence[Line], form: str) -> str:
    """By command and option: the kind of the value."""
    found = [
        (f"{line.name}\\ {option.name}", option.kind)
        for line in table
        for option in line.options
        if option.takes and option.kind != NOTHING
    ]
    return "\n".join(form.format(key=key, kind=kind) for key, kind in found)


def _by_command(table: Sequence[Line], form: str) -> str:
    found = {line.name: " ".join([*(o.name for o in line.options), "--help"]) for line in table}
    return "\n".join(form.format(key=name, words=words) for name, words in found.items())


def _places(table: Sequence[Line], of_kind: str, of_words: str) -> str:
    """By command and number of the word: its kind or the words themselves."""
    found = []
    for line in table:
        for number, place in enumerate(line.places, 1):
            key = f"{line.name}\\ {number}" if not place.more else f"{line.name}\\ *"
            if place.words:
                found.append(of_words.format(key=key, words=" ".join(place.words)))
            elif place.kind != NOTHING:
                found.append(of_kind.format(key=key, kind=place.kind))
    return "\n".join(found)


def _described(line: Line) -> Iterator[str]:
    for option in line.options:
        yield _quoted(f"{option.name}:{option.help}")
    yield _quoted("--help:show arguments and examples")


def _quoted(text: str) -> str:
    """A text as one word of a shell."""
    return "'" + text.replace("'", "'\\''") + "'"


# -- fish ----------------------------------------------------------------------------------------


def _fish(line: Line) -> Iterator[str]:
    begin = "complete -c diagnose"
    yield f"{begin} -n __fish_use_subcommand -a {line.name} -d {_fish_quoted(line.help)}"
    here = f"{begin} -n '__fish_seen_subcommand_from {line.name}"
    for option in line.options:
        value = " -r" + _fish_words(option.kind) if option.takes else ""
        name = option.name.removeprefix("--")
        yield f"{here}' -l {name} -d {_fish_quoted(option.help)}{value}"
    for number, place in enumerate(line.places, 2):
        test = "" if place.more else f"; and test (__diagnose_words) -eq {number}"
        offered = _fish_place(place)
        if offered:
            yield f"{here}{test}'{offered}"


def _fish_place(place: Place) -> str:
    return f" -a '{' '.join(place.words)}'" if place.words else _fish_words(place.kind)


def _fish_words(kind: str) -> str:
    if kind == NOTHING:
        return ""
    return " -F" if kind == FILES else f" -a '(__diagnose_ask {kind})'"


def _fish_quoted(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"
