"""Packs: closed cases of one month in one file, each with the bytes that its own file had.

The first line is the index: of each case its name, first byte, length and SHA-256.  Then the cases
follow, byte for byte, one after the other.  A packed case has a path like any other, in its pack as
if that were a folder: ``cases/2024-05.cases/LT-214_2024-05-02_01.jsonl``.  Where a folder holds
a file of that name as well, that file is the case: it was gone on with since.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, NamedTuple

from diagnose.casework.checks import CaseError
from diagnose.loops.names import shown

PACK = ".cases"
"""How the name of a pack ends; before it stands the month: ``2024-05``."""

SUFFIX = ".jsonl"

FORM = 1
"""Version of the index; a pack of a newer one is refused."""


FARTHEST = 2**62
"""No file has a byte beyond it; a case that is said to lie there is none."""

AT_ONCE = 1 << 24
"""Bytes of a case that are asked for at once; hardly a case has more."""


class Entry(NamedTuple):
    """One case in a pack: ``start`` counts from the first byte of the file."""

    name: str
    start: int
    size: int
    digest: str


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack on disk, by its index."""

    path: Path
    entries: Mapping[str, Entry]

    def texts(self) -> Iterator[tuple[Entry, bytes]]:
        """All cases with their bytes, in the order in which they lie there."""
        with self.path.open("rb") as file:
            for entry in self.entries.values():
                yield entry, _bytes(file, entry)


def digest(content: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return sha256(content).hexdigest()


def packs_of(folder: Path) -> tuple[Path, ...]:
    """The packs in a folder, by name; none if it is not there."""
    return tuple(sorted(path for path in folder.glob(f"*{PACK}") if path.is_file()))


def open_pack(path: Path) -> Pack:
    """A pack by its index.

    Raises
    ------
    CaseError
        It cannot be read, its first line is no index, or a newer version wrote it.
    """
    try:
        told = path.stat()
        return _opened(path, told.st_size, told.st_mtime_ns)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CaseError(f"{shown(path, 200)} cannot be read: {reason}") from error


@lru_cache(maxsize=128)
def _opened(path: Path, size: int, changed: int) -> Pack:
    """Size and time of change are there to read a pack anew that was written anew."""
    with path.open("rb") as file:
        return Pack(path, _index(file.readline(), shown(path, 200)))


def cases_of(file: IO[bytes], where: str) -> Iterator[tuple[str, bytes]]:
    """The cases of a pack that lies elsewhere, from its first byte on; ``where`` is told of it.

    Raises CaseError if it is no pack.
    """
    for entry in _index(file.readline(), where).values():
        yield entry.name, _bytes(file, entry)


def _index(line: bytes, where: str) -> dict[str, Entry]:
    """The index from the first line of a pack."""
    try:
        told = json.loads(line)
        if told["packs"] > FORM:
            raise CaseError(
                f"{where} was written by a newer diagnose (packs {told['packs']}; this one reads "
                f"{FORM}): bring diagnose up to date"
            )
        found = [_entry(*row, body=len(line)) for row in told["index"]]
        entries = {entry.name: entry for entry in found}
        if len(entries) < len(found):
            raise ValueError("a name twice")
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise CaseError(f"{where} is no pack of cases: line 1 is not the index of one") from error
    return entries


def _entry(name: str, start: int, size: int, told: str, *, body: int) -> Entry:
    """A row of the index; in the file, ``start`` counts from the end of the index."""
    # plain comparisons: a review of a million cases comes past here for each
    if type(start) is not int or type(size) is not int or start < 0 or size < 0:
        raise ValueError("no position")
    if start + size > FARTHEST:
        raise ValueError("no position in any file")
    if not may_be_packed(name):
        raise ValueError("no name")
    if type(told) is not str:
        raise ValueError("no digest")
    return Entry(name, body + start, size, told)


def may_be_packed(name: str) -> bool:
    """Whether a case of that name is taken into a pack, and out of it on any system."""
    return name not in ("", ".", "..") and name.isprintable() and not {"/", "\\"} & set(name)


def may_be_case(entry: Path | os.DirEntry[str]) -> bool:
    """Whether it is a file, or a link that leads to none: a case that nobody can read is told."""
    try:
        astray = entry.is_symlink() and not os.path.exists(entry) and entry.name[0] != "."
        return astray or entry.is_file()
    except OSError:  # a link that leads back to itself
        return True


def write_pack(path: Path, cases: Iterable[tuple[str, bytes]]) -> None:
    """Write a pack and flush it to the disk; its cases are asked for one by one."""
    index, start = [], 0
    with path.open("wb") as file, TemporaryFile(dir=path.parent) as body:
        for name, content in cases:
            index.append([name, start, len(content), digest(content)])
            # a case that was cut short has no line end; the next one begins a line all the same
            start += body.write(content if content.endswith(b"\n") else content + b"\n")
        file.write(json.dumps({"packs": FORM, "index": index}).encode() + b"\n")
        body.seek(0)
        shutil.copyfileobj(body, file, 1 << 20)
        file.flush()
        os.fsync(file.fileno())


def in_pack(path: Path) -> bool:
    """Whether a path is that of a case in a pack, and the pack is there."""
    return path.parent.suffix == PACK and path.parent.is_file()


def located(path: Path) -> Path | None:
    """Where a case lies that had this path: there, or in the pack that took it in; or nowhere."""
    if path.is_file() or in_pack(path):
        return path
    if path.suffix != SUFFIX:
        return None
    return next((item for item in packed_paths(path.parent) if item.name == path.name), None)


def changed_at(path: Path) -> float:
    """When the file of a case, or the pack that it lies in, was last written (s)."""
    return (path.parent if in_pack(path) else path).stat().st_mtime


def packed_bytes(path: Path) -> tuple[bytes, str]:
    """The bytes of a case in a pack, and a sentence if they are not as they were packed.

    Raises
    ------
    CaseError
        The pack cannot be read, or holds no such case.
    """
    entry = open_pack(path.parent).entries.get(path.stem)
    if entry is None:
        raise CaseError(f"there is no case '{shown(path.stem)}' in {shown(path.parent, 200)}")
    try:
        with path.parent.open("rb") as file:
            content = _bytes(file, entry)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CaseError(f"{shown(path.parent, 200)} cannot be read: {reason}") from error
    if digest(content) == entry.digest:
        return content, ""
    return content, "the pack is damaged: these are not the bytes that were packed"


def packed_paths(folder: Path) -> Iterator[Path]:
    """The paths of all packed cases of a folder; a pack that cannot be read stands for itself."""
    for pack in packs_of(folder):
        try:
            yield from (pack / f"{name}{SUFFIX}" for name in open_pack(pack).entries)
        except CaseError:
            yield pack


def _bytes(file: IO[bytes], entry: Entry) -> bytes:
    """The bytes of an entry, as far as there are any: room is made for what is there alone."""
    file.seek(entry.start)
    pieces, left = [], entry.size
    while left and (piece := file.read(min(left, AT_ONCE))):
        pieces.append(piece)
        left -= len(piece)
    return pieces[0] if len(pieces) == 1 else b"".join(pieces)
