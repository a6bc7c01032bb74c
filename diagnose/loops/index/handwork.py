"""Sheets that were made, and whether somebody has edited them since.

A made sheet carries a digest of itself in a comment: it goes where the sheet goes, and needs no
file beside it.  What does not match its digest, or has none, was written by hand.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from diagnose.library import write_whole

_HEAD = """\
# Made from the instrument index of this plant.  To change it, change the index and import that
# again; or edit it here: the import then leaves this file alone, and says so.
# digest: {digest}

"""
_DIGEST = re.compile(r"^# digest: ([0-9a-f]{16})$", re.MULTILINE)
LONGEST_DIFFERENCE = 40
"""Lines of a difference that are shown."""

RESERVED = {"con", "prn", "aux", "nul", *(f"{p}{n}" for p in ("com", "lpt") for n in range(1, 10))}
"""File names that one system keeps for devices."""


@dataclass(frozen=True, slots=True)
class Found:
    """A sheet that is there: its text, whether nobody has edited it, its digest when made."""

    text: str
    untouched: bool
    digest: str


def digest_of(body: str) -> str:
    """Identifies what a sheet says, whatever its line ends and trailing blanks."""
    lines = "\n".join(line.rstrip() for line in body.strip().splitlines())
    return sha256(lines.encode()).hexdigest()[:16]


def stamped(body: str) -> str:
    """The text of a made sheet, with its digest."""
    return _HEAD.format(digest=digest_of(body)) + body


def found_at(path: Path) -> Found | None:
    """The sheet in a file; None where there is none.  Raises OSError where it cannot be read."""
    try:
        text = path.read_bytes().decode("utf-8-sig", errors="replace").replace("\r\n", "\n")
    except FileNotFoundError:
        return None
    match = _DIGEST.search(text)
    if not match:
        return Found(text, untouched=False, digest="")
    body = text[match.end() :]
    # A comment put above the digest is an edit as well.
    head = _HEAD.partition("{digest}")[0]
    clean = text.startswith(head) and digest_of(body) == match[1]
    return Found(text, untouched=clean, digest=match[1])


def differences(old: str, new: str) -> list[str]:
    """The lines in which two sheets differ, the comment with the digest apart."""
    before, after = (_DIGEST.sub("", text).splitlines() for text in (old, new))
    found = difflib.unified_diff(before, after, lineterm="", n=0)
    kept = [line for line in found if not line.startswith(("---", "+++", "@@"))]
    return kept[:LONGEST_DIFFERENCE]


def unsafe(tag: str) -> str:
    """Why a tag that is a good name makes no file name; empty if it does."""
    if tag.partition(".")[0].casefold() in RESERVED:
        return f"'{tag}' is a name that some systems keep for a device"
    return f"'{tag}' ends with a full stop; leave it out" if tag.endswith(".") else ""


def write_sheet(path: Path, text: str, *, keep: bool = False) -> None:
    """Write a sheet as a whole; ``keep`` puts the one that was there beside it as ``.old``."""
    path.parent.mkdir(exist_ok=True)
    if keep and path.exists():
        write_whole(path.with_name(path.name + ".old"), path.read_bytes())
    write_whole(path, text.encode())
