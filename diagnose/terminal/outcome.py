"""What a command hands back: data for scripts, lines for people, and the exit code."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

DONE, NEGATIVE, BAD_INPUT = 0, 1, 2

SCHEMA = 1
"""Version of every JSON object that is printed."""


@dataclass(frozen=True, slots=True)
class Look:
    """The screen: ``width`` in columns; ``colour`` says whether escape codes are understood."""

    width: int = 80
    colour: bool = False

    def strong(self, text: str) -> str:
        """Text that stands out; the words alone must carry the meaning."""
        return f"\033[1m{text}\033[0m" if self.colour else text

    def warning(self, text: str) -> str:
        """Text of a caution."""
        return f"\033[33m{text}\033[0m" if self.colour else text

    def faint(self, text: str) -> str:
        """Text of lesser weight."""
        return f"\033[2m{text}\033[0m" if self.colour else text


@dataclass(frozen=True, slots=True)
class Outcome:
    """``data`` is printed by ``--json``; ``lines`` makes the text for a screen."""

    data: Mapping[str, Any]
    lines: Callable[[Look], Iterable[str]]
    code: int = DONE
