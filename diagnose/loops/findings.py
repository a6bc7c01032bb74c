"""What a check finds: a sentence, where it stands, and how much it matters."""

from __future__ import annotations

from dataclasses import dataclass

PROBLEM, WARNING, NOTE = LEVELS = ("problem", "warning", "note")
"""A problem: the file cannot be used.  A warning: it can, and something is amiss.  A note: told."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: the file and key where it stands, and one sentence."""

    level: str
    file: str
    key: str
    text: str
