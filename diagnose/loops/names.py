"""Which names a sheet may use; checked before anything is made of them."""

from __future__ import annotations

import re

LONGEST = 40
TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9+\-._]{0,39}\Z")
NAME = re.compile(r"(?=[^A-Za-z]*[A-Za-z])[A-Za-z0-9][A-Za-z0-9:+\-._]{0,39}\Z")
PLACE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 \-._]{0,39}\Z")

_RULES = (
    (TAG, "letters, digits, + - . _, beginning with a letter or digit"),
    (NAME, "letters (one at least), digits, : + - . _, beginning with a letter or digit"),
    (PLACE, "letters, digits, spaces, - . _, beginning with a letter or digit"),
)


def shown(text: object, longest: int = LONGEST) -> str:
    """Foreign text made fit for a message: printable and not too long."""
    plain = str(text)
    plain = plain if len(plain) <= longest else plain[: longest - 3] + "..."
    return plain if plain.isprintable() else plain.encode("unicode_escape").decode("ascii")


def spelt(name: str) -> str:
    """The name of a file as text that can be written: what of it is not UTF-8 is escaped."""
    return name.encode("utf-8", "backslashreplace").decode()


_HYPHEN = re.compile(r"(?<=[A-Za-z])-(?=[0-9])")


def without_hyphen(name: str) -> str:
    """A name in small letters without the hyphen of its tag, as people type it: ``lt214``.

    Only between letters and digits, and only of what there is: ``X21:3-4`` are two points.
    """
    return _HYPHEN.sub("", name).casefold()


def name_fault(pattern: re.Pattern[str], name: str) -> str:
    """What is wrong with a name, as a sentence; empty if nothing is."""
    if pattern.match(name):
        return ""
    rule = dict(_RULES)[pattern]
    return f"'{shown(name)}' is no name; use {rule}, {LONGEST} at most"
