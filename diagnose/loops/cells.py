"""Cells of tables that are written for other programs."""

from __future__ import annotations

_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


def inert(cell: object) -> str:
    """A cell that no spreadsheet takes for a formula: one that begins like one gets an apostrophe.

    The signs are those of OWASP, CSV Injection; ``|`` and ``%`` begin commands in old programs.
    """
    text = str(cell)
    return f"'{text}" if text.lstrip(" ").startswith(_STARTS) else text
