"""Readings from the command line, a file or standard input."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from diagnose.errors import ReadingError, UnknownNameError
from diagnose.inference.measurement import Cleared, Complaint, Context, Reading
from diagnose.inference.reading_words import FUNCTIONS
from diagnose.inference.readings import ReadingsError, parse_line, parse_lines
from diagnose.loops.loop import Loop
from diagnose.terminal.arguments import UsageError

Evidence = Reading | Complaint | Context | Cleared

LARGEST = 1_000_000
"""Bytes taken for a file of readings; more is no list of readings."""


def evidence(arguments: Namespace, loop: Loop) -> list[Evidence]:
    """All that was said: from ``--file``, then from arguments, else from standard input."""
    found: list[Evidence] = []
    if arguments.file is not None:
        where = "standard input" if arguments.file == "-" else arguments.file
        found += _from_text(_read(arguments.file), where, loop)
    if arguments.readings:
        found += from_words(arguments.readings, loop)
    if arguments.file is None and not arguments.readings and piped():
        found += _from_text(_decoded(_standard_input(), "standard input"), "standard input", loop)
    return found


def piped() -> bool:
    """Whether standard input is there and is no terminal."""
    return sys.stdin is not None and not sys.stdin.isatty()


def from_words(words: Sequence[str], loop: Loop) -> list[Evidence]:
    """One line per argument; unquoted words of a single line are taken together."""
    try:
        return _from_lines(words, loop)
    except ReadingsError as error:
        if len(words) > 1 and not any(" " in word for word in words):
            return [_joined(words, loop)]
        problems = (f"reading {number}: {problem}" for number, problem in error.problems)
        raise UsageError("\n".join(problems)) from error


def _from_lines(words: Sequence[str], loop: Loop) -> list[Evidence]:
    return list(parse_lines([line for word in words for line in word.splitlines()], loop))


def _joined(words: Sequence[str], loop: Loop) -> Evidence:
    try:
        return parse_line(" ".join(words), loop)
    except ReadingError as error:
        raise UsageError(f"{error}; put each reading in quotes") from error


def _from_text(text: str, where: str, loop: Loop) -> list[Evidence]:
    try:
        return list(parse_lines(text, loop))
    except ReadingsError as error:
        lines = str(error).splitlines()
        raise UsageError("\n".join(f"{where}: {line}" for line in lines)) from error


def _read(name: str) -> str:
    if name == "-":
        return _decoded(_standard_input(), "standard input")
    try:
        with Path(name).open("rb") as file:
            return _decoded(file.read(LARGEST + 1), name)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "no file name"
        raise UsageError(f"{name[:200]!r} cannot be read: {reason.lower()}") from error


def _standard_input() -> bytes:
    if sys.stdin is None:
        raise UsageError("standard input is closed")
    # A test or an editor may put a text stream in its place.
    raw = getattr(sys.stdin, "buffer", None)
    return raw.read(LARGEST + 1) if raw is not None else sys.stdin.read().encode()


def _decoded(data: bytes, where: str) -> str:
    """UTF-8, or UTF-16 where a byte order mark says so (what some shells write)."""
    if len(data) > LARGEST:
        raise UsageError(f"{where} is too long for a list of readings")
    wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        return data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise UsageError(f"{where} is no text in UTF-8") from error


def standing(name: str | None, loop: Loop) -> str:
    """Where the technician stands; without a word, the cabinet or else the first place."""
    names = [place.name for place in loop.places]
    if name is None:
        return "cabinet" if "cabinet" in names or not names else names[0]
    return named_place(name, loop)


def named_place(name: str, loop: Loop) -> str:
    """The place that a word names, in any case; UnknownNameError if there is none."""
    return _named("place", name, [place.name for place in loop.places])


def excluded(words: Sequence[str], loop: Loop) -> frozenset[str]:
    """Places and meter functions that are not to be advised, as the engine names them."""
    known = [*(place.name for place in loop.places), *FUNCTIONS]
    wanted = (item.strip() for word in words for item in word.split(","))
    return frozenset(_named("place or function", item, known) for item in wanted if item)


def _named(what: str, word: str, known: Sequence[str]) -> str:
    """The known name that a word is, in any case, or that it alone begins."""
    start = word.casefold()
    for name in known:
        if name.casefold() == start:
            return name
    begun = [name for name in known if start and name.casefold().startswith(start)]
    if len(begun) == 1:
        return begun[0]
    raise UnknownNameError(what, word, known)
