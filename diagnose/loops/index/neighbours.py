"""Loops on one supply: each is told of those next to it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from diagnose.loops.index.roles import ROLES, Roles
from diagnose.loops.index.wanted import Wanted
from diagnose.loops.rename import changer
from diagnose.loops.sheet import names_of_type

MOST = 2
"""Neighbours that a sheet is told of: a session asks after each."""


def join(loops: Iterable[Wanted], folder: Path) -> None:
    """Enter in each loop the ones before and behind it on the same supply in the same cabinet."""
    groups: dict[tuple[str, str], list[tuple[Wanted, str]]] = {}
    for loop in loops:
        targets = ROLES.get(loop.type, Roles()).names.get("supply", ())
        for old, _ in targets:
            if "supply" in loop.named:
                cabinet = loop.places.get("cabinet", {}).get("title", "")
                groups.setdefault((loop.named["supply"], cabinet), []).append((loop, old))
    for (name, _), members in groups.items():
        for at, (loop, old) in enumerate(members):
            others = [members[n][0] for n in (at - 1, at + 1) if 0 <= n < len(members)]
            through = _through(loop, old, folder)
            for other in others[:MOST]:
                loop.neighbours[other.tag] = (through, f"on the same supply {name}")


def _through(loop: Wanted, supply: str, folder: Path) -> list[str]:
    """The supply and its wires, by the names of the plant."""
    change = changer(loop.rename) if loop.rename else str
    wires = re.compile(rf"{re.escape(supply)}(?:[+-]?\..*)?\Z")
    parts, _ = names_of_type(loop.type, folder)
    return [change(name) for name in parts if wires.match(name)]
