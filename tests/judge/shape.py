"""How the physics of a kind is written down."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

Row = Any
Q = Mapping[str, Row]
Pieces = list[tuple[Row, Row]]


@dataclass(frozen=True)
class Law:
    """One two-terminal element of a kind: straight pieces ``i = g * v + j`` and their bends."""

    a: str
    b: str
    pieces: Callable[[Q], Pieces]
    bends: Callable[[Q], list[Row]] = lambda q: []


def ohm(name: str) -> Callable[[Q], Pieces]:
    """Ohm's law for one parameter."""
    return lambda q: [(1.0 / q[name], 0.0)]


def ohm_behind(name: str, emf: str) -> Callable[[Q], Pieces]:
    """Volts behind a resistance."""
    return lambda q: [(1.0 / q[name], -q[emf] / q[name])]
