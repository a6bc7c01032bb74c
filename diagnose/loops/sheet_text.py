"""From a file to plain tables, with every problem of the file collected."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from diagnose.errors import SheetError, did_you_mean
from diagnose.loops.names import shown

LARGEST = 1_000_000
"""Bytes; a sheet of a thousand parts needs a tenth of it."""

MOST_PROBLEMS = 100
MOST_ENTRIES = 400
LONGEST_TEXT, LONGEST_TOLD = 200, 2_000


class Problems:
    """What is wrong with one file, gathered so that the user sees all of it at once."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.found: list[tuple[str, str, str]] = []

    def add(self, key: str, sentence: str) -> None:
        """Note one problem under the key where it stands; a hundred are enough to go on with.

        Keys and values of a file may hold what would move a cursor: all of it is made printable.
        """
        if len(self.found) < MOST_PROBLEMS:
            self.found.append((self.file, shown(key, LONGEST_TEXT), shown(sentence, LONGEST_TOLD)))

    def holds(self, key: str) -> bool:
        """Whether a problem with just this key was noted."""
        return any(noted == key for _, noted, _ in self.found)

    def check(self) -> None:
        """Raise SheetError if anything was noted."""
        if self.found:
            raise SheetError(self.found)


def read_table(path: Path) -> dict[str, Any]:
    """The TOML table in a file.

    Raises
    ------
    SheetError
        The file is absent, a folder, unreadable, too large, not UTF-8 or not TOML.
    """
    text = _read_text(path)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        reason, where = _syntax(str(error))
        raise SheetError([(str(path), where, f"this is not TOML: {reason}")]) from error
    except ValueError as error:  # an integer of thousands of digits
        raise SheetError([(str(path), "file", f"this is not TOML: {shown(error, 100)}")]) from error
    except RecursionError as error:
        raise SheetError([(str(path), "file", "tables or lists are nested too deeply")]) from error


def _read_text(path: Path) -> str:
    try:
        if path.is_dir():
            raise _file_error(path, "this is a folder; name a file in it")
        if not path.is_file():
            raise _file_error(path, "there is no such file")
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _file_error(path, f"it cannot be read: {reason}") from error
    if len(raw) > LARGEST:
        raise _file_error(path, "it is larger than 1 MB; a sheet is a few kilobytes")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise SheetError(
            [(str(path), f"line {line}", "it is not UTF-8 text; save it as UTF-8")]
        ) from error


def _file_error(path: Path, sentence: str) -> SheetError:
    return SheetError([(shown(path, 200), "file", sentence)])


def _syntax(message: str) -> tuple[str, str]:
    match = re.search(r"(.*) \(at (line \d+, column \d+|end of document)\)", message, re.DOTALL)
    reason, where = (match[1], match[2]) if match else (message, "file")
    reason = shown(reason, 100)
    return reason[:1].lower() + reason[1:], where


class Table:
    """One table of a sheet, read key by key; a wrong value is noted and replaced by a default."""

    def __init__(self, problems: Problems, where: str, raw: Mapping[str, Any]) -> None:
        self.problems, self.where, self.raw = problems, where, raw

    def note(self, key: str, sentence: str) -> None:
        """Note a problem with one key of this table."""
        self.problems.add(f"{self.where}: {key}" if self.where else key, sentence)

    def only(self, known: Collection[str]) -> None:
        """Note every key that is not ``known``."""
        for key in self.raw:
            if key not in known:
                self.note(shown(key), f"there is no such key{did_you_mean(key, known)}")

    def text(self, key: str, default: str | None = None, example: str = "") -> str:
        """One line of text; noted as missing if there is neither a value nor a default."""
        value = self.raw.get(key, default)
        if not isinstance(value, str):
            said = "it is missing" if value is None else f"{kind_of(value)} stands here"
            self.note(key, f'{said}; write {key} = "{example}"')
        elif default is None and not value.strip():
            self.note(key, f'it is empty; write {key} = "{example}"')
        elif not value.isprintable() or len(value) > LONGEST_TEXT:
            self.note(key, f"write it on one line of plain text, {LONGEST_TEXT} characters at most")
        else:
            return value
        return default or ""

    def flag(self, key: str, default: bool) -> bool:
        """A true or false."""
        value = self.raw.get(key, default)
        if isinstance(value, bool):
            return value
        self.note(key, f"{kind_of(value)} stands here; write {key} = true or {key} = false")
        return default

    def number(self, key: str, default: float, most: float, example: str) -> float:
        """A plain finite number from 0 to ``most``."""
        value = self.raw.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.note(
                key,
                f"{kind_of(value)} stands here; write a plain number: {key} = {example}",
            )
            return default
        if not 0 <= value <= most:  # nan is not, either
            self.note(key, f"{shown(value)} is not between 0 and {most:g}")
            return default
        return float(value)

    def texts(self, key: str, example: str) -> tuple[str, ...]:
        """A list of texts; empty if the key is absent."""
        value = self.raw.get(key, [])
        if isinstance(value, list) and _all_text(value):
            return tuple(value)
        self.note(key, f"a list of texts in quotes belongs here; write {key} = {example}")
        return ()

    def table(self, key: str, example: str) -> dict[str, str]:
        """A table of texts; empty if the key is absent."""
        value = self.raw.get(key, {})
        if isinstance(value, dict) and _all_text(value.values()):
            return value
        self.note(key, f"a table of texts belongs here; write {key} = {example}")
        return {}


def _all_text(values: Collection[object]) -> bool:
    return len(values) <= MOST_ENTRIES and all(isinstance(value, str) for value in values)


def kind_of(value: object) -> str:
    """What a TOML value is, in words."""
    words: Sequence[tuple[type, str]] = (
        (bool, "true or false"),
        (int, "a bare number"),
        (float, "a bare number"),
        (str, "text"),
        (list, "a list"),
        (dict, "a table"),
    )
    return next((word for type_, word in words if isinstance(value, type_)), "a date")
