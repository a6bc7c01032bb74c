"""A loop type that is asked for: by number, by name, or by words of what it is."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.loops.names import shown
from diagnose.loops.sheet import load_type, load_type_file
from diagnose.quantities import whole_number
from diagnose.terminal.ask import say
from diagnose.terminal.outcome import Look
from diagnose.terminal.session_lists import numbered
from diagnose.terminal.wording import listed

ROOM = Look(width=80)

SPELT = {"2": "two", "3": "three", "4": "four"}
"""Numbers of wires as they are written in the names of loop types."""


def offered(types: tuple[str, ...], own: Path) -> dict[str, str]:
    """Loop types with what each is, shown with numbers to choose from; ``own`` are a plant's."""
    meant = {name: _is(name, own) for name in types}
    say("Loop types, to be named by number or words:")
    say("\n".join(numbered(meant, ROOM)))
    return meant


def _is(name: str, own: Path) -> str:
    file = own / f"{name}.toml"
    try:
        return (load_type_file(file) if file.is_file() else load_type(name)).service
    except DiagnoseError:
        return ""  # a type of the plant that has mistakes: making the sheet tells of them


def chosen_type(text: str, meant: Mapping[str, str]) -> str:
    """The loop type that a number, a name or words mean; DiagnoseError where none or several."""
    number = whole_number(text, 1, len(meant))
    if number is not None:
        return list(meant)[number - 1]
    if text in meant:
        return text
    begun = [name for name in meant if text and name.startswith(text.casefold())]
    fit = [name for name, what in meant.items() if _tells(text, f"{name} {what}")]
    fit = begun or fit
    if len(fit) == 1:
        return fit[0]
    if fit:
        raise DiagnoseError(f"'{shown(text)}' can mean {listed(fit, 'or')}: type more of it")
    raise UnknownNameError("loop type", text, meant)


def _tells(text: str, what: str) -> bool:
    """Whether every word begins one of ``what``; a number alone is one of the list, or a slip."""
    words, known = (
        [SPELT.get(word, word) for word in part.casefold().replace("-", " ").split()]
        for part in (text, what)
    )
    return (
        bool(words)
        and not text.isdigit()
        and all(any(other.startswith(word) for other in known) for word in words)
    )
