"""A line that begins with a command but for a slip of the fingers."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

ALIKE = 0.75
"""Share of letters in their order from which on a word is taken for a command mistyped."""

_NO_READING = "no function or display called"
"""What is said of a line that is no reading from its first word on."""


def meant(line: str, error: Exception, names: Iterable[str]) -> str:
    """``; did you mean the command remedy?`` behind an error; nothing where none is meant."""
    if _NO_READING not in str(error):
        return ""
    words, known = line.casefold().split(), list(names)
    for begun in (" ".join(words[:2]), *words[:1]):
        near = get_close_matches(begun, known, n=1, cutoff=ALIKE)
        if near:
            already = str(error).endswith("?")
            return f"{' Or' if already else '; did you mean'} the command {near[0]}?"
    return ""
