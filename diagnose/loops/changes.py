"""What moves a parameter off its nominal value: what faults, deliberate actions and meters are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Change:
    """Moves one parameter: ``value(nominal, severity)`` is what it becomes.

    ``of`` names the pin-like reference of another part (``"to"``); empty means the part itself,
    ``"*"`` every part of the loop that has the parameter.
    """

    parameter: str
    value: Callable[[float, Any], Any]
    of: str = ""


def becomes(parameter: str, of: str = "") -> Change:
    """The parameter takes the severity as its value."""
    return Change(parameter, lambda nominal, s: s, of)


def times(parameter: str) -> Change:
    """The parameter is multiplied by the severity."""
    return Change(parameter, lambda nominal, s: nominal * s)


def fixed(parameter: str, value: float, of: str = "") -> Change:
    """The parameter takes a fixed value."""
    return Change(parameter, lambda nominal, s: value, of)


def everywhere(parameter: str, value: float) -> Change:
    """The parameter takes a fixed value in every part of the loop that has it."""
    return Change(parameter, lambda nominal, s: value, "*")


def copies(parameter: str, source: str) -> Change:
    """The parameter takes the nominal value of ``source`` of the same part."""
    return Change(parameter, lambda nominal, s: nominal, f"={source}")
