"""A loop type with the names of a plant instead of its own."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

import diagnose.loops.kinds  # noqa: F401  (registers the kinds)
from diagnose.errors import did_you_mean
from diagnose.loops.kind import Kind
from diagnose.loops.names import NAME, name_fault, shown
from diagnose.loops.raw import Raw, nodes_of
from diagnose.loops.sheet_text import Problems


def renamed(raw: Raw, rename: Mapping[str, str], problems: Problems) -> Raw:
    """A loop type with its parts, nodes and references renamed.

    A name is renamed where it stands whole or between separators: ``U1`` turns ``U1``, ``U1:+``,
    ``U1+`` and ``I.U1`` into names of the plant, and leaves ``U12`` alone.
    """
    rename = _usable(raw, rename, problems)
    if not rename:
        return raw
    change = changer(rename)
    return Raw(
        loop={
            key: change(value) if key == "reference" else value for key, value in raw.loop.items()
        },
        shares=raw.shares,
        places=raw.places,
        parts={change(name): _renamed_part(part, change) for name, part in raw.parts.items()},
        points={change(name): point for name, point in raw.points.items()},
        neighbours=raw.neighbours,
    )


def _renamed_part(part: dict[str, Any], change: Callable[[Any], Any]) -> dict[str, Any]:
    kind = part.get("kind")
    known = Kind.registry.get(kind) if isinstance(kind, str) else None
    others = known.references if known else ()
    result = {key: change(value) if key in others else value for key, value in part.items()}
    if isinstance(part.get("pins"), dict):
        result["pins"] = {pin: change(node) for pin, node in part["pins"].items()}
    if isinstance(part.get("title"), str):
        result["title"] = _WORD.sub(lambda word: change(word[0]), part["title"])
    return result


_WORD = re.compile(r"[^\s,;()]+")
"""One word of a title: ``end of core W3+ in the cabinet`` names a core of the loop type."""


def changer(rename: Mapping[str, str]) -> Callable[[Any], Any]:
    """The function that gives a name of a loop type its name in the plant."""
    words = "|".join(re.escape(word) for word in sorted(rename, key=len, reverse=True))
    pattern = re.compile(rf"(?:(?<=[:.])|(?<!.))(?:{words})(?=[+-]?(?:[:.]|\Z))")
    return lambda value: (
        pattern.sub(lambda match: rename[match[0]], value) if isinstance(value, str) else value
    )


def _usable(raw: Raw, rename: Mapping[str, str], problems: Problems) -> dict[str, str]:
    """The renamings that touch something and do not throw two names together."""
    names = {*raw.parts, *nodes_of(raw.parts)}
    usable = {}
    for old, new in rename.items():
        fault = name_fault(NAME, old) or name_fault(NAME, new) or _idle(old, names)
        if fault:
            problems.add(f"rename: {shown(old)}", fault)
        else:
            usable[old] = new
    fault = _clash(names, usable)
    if fault:
        problems.add("rename", fault)
    return {} if fault else usable


def _idle(old: str, names: set[str]) -> str:
    """Why a renaming changes nothing; empty if it does."""
    change = changer({old: "-"})
    if any(change(name) != name for name in names):
        return ""
    return f"the loop type has no such name{did_you_mean(old, names)}"


def _clash(names: set[str], rename: Mapping[str, str]) -> str:
    """Why the renamed names will not do: two alike, or one too long; empty if they will."""
    change = changer(rename) if rename else str
    first: dict[str, str] = {}
    for name in sorted(names):
        new = change(name)
        other = first.setdefault(new, name)
        if other != name:
            return f"{other} and {name} would both be called {new}; give each a name of its own"
        if new != name and name_fault(NAME, new):
            return name_fault(NAME, new)
    return ""
