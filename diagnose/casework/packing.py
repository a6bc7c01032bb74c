"""Closed cases into packs, a month each, and out again, so that a crash at any moment loses none.

A pack is written beside the old one, flushed, read back, and put in its place in one step; only
then do the files go that it took in, each looked at once more under its lock.  Killed in between,
a case lies there twice, as a file and in the pack; the file counts, and the next run clears it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from diagnose.casework.checks import CaseError
from diagnose.casework.disk import sync_folder
from diagnose.casework.events import HANDED_OVER
from diagnose.casework.lock import Lock
from diagnose.casework.packs import (
    PACK,
    SUFFIX,
    Pack,
    digest,
    may_be_packed,
    open_pack,
    packed_bytes,
    packs_of,
    write_pack,
)
from diagnose.loops.names import shown


@dataclass
class Packed:
    """What became of a folder.

    ``packs`` are the packs that were written, with the number of cases in each; ``taken`` counts
    files that went into packs, ``later`` closed cases of the month that is not over; ``kept`` has
    a sentence for each other file that stays.
    """

    packs: dict[Path, int] = field(default_factory=dict)
    taken: int = 0
    later: int = 0
    kept: dict[Path, str] = field(default_factory=dict)


def pack_folder(folder: Path, today: date) -> Packed:
    """Pack the closed cases of all months before that of ``today``, by the day they were opened.

    Raises
    ------
    CaseError
        A pack cannot be written, or another process packs; all cases are as they were.
    """
    done = Packed()
    for month, paths in sorted(_by_month(folder, done).items()):
        if month < f"{today:%Y-%m}":
            _pack_month(folder / f"{month}{PACK}", paths, done)
        else:
            _look_only(paths, done)
    return done


def _by_month(folder: Path, done: Packed) -> dict[str, list[Path]]:
    """The files of a folder by the month in which the case was opened."""
    found: dict[str, list[Path]] = {}
    for path in sorted(folder.glob(f"*{SUFFIX}")):
        if not may_be_packed(path.stem):
            done.kept[path] = "its name holds what no name in a pack may; give it another"
            continue
        if not path.is_file():  # a pipe or a device would be waited for
            done.kept[path] = "it is no file"
            continue
        try:
            with path.open("rb") as file:
                opened = date.fromisoformat(str(json.loads(file.readline())["at"])[:10])
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            done.kept[path] = "its first line does not tell when it was opened"
            continue
        found.setdefault(f"{opened:%Y-%m}", []).append(path)
    return found


def _look_only(paths: Iterable[Path], done: Packed) -> None:
    for path in paths:
        reason = why_not(path)
        if reason:
            done.kept[path] = reason
        else:
            done.later += 1


def why_not(path: Path) -> str:
    """Why a case is not packed; empty if it may be."""
    from diagnose.casework.reader import read_case

    try:
        case = read_case(path).case
    except CaseError as error:
        return str(error)
    if case.is_open:
        return "it is open; close it first"
    return "it was handed over and may be gone on with" if case.ending == HANDED_OVER else ""


# -- one month -------------------------------------------------------------------------------------


def _pack_month(path: Path, files: list[Path], done: Packed) -> None:
    """Take files into the pack of their month."""
    lock = Lock(path)
    try:
        old = open_pack(path) if path.is_file() else Pack(path, {})
        fresh, there = _sorted_out(files, old, done)
        if fresh:
            _write(path, old, fresh)
        _remove([*fresh, *there], open_pack(path) if path.is_file() else old, done)
        if fresh:
            done.packs[path] = len(open_pack(path).entries)
    finally:
        lock.release(gone=True)


def _sorted_out(files: list[Path], old: Pack, done: Packed) -> tuple[list[Path], list[Path]]:
    """Files that go into the pack, and files that are in it already."""
    fresh, there = [], []
    for file in files:
        reason = why_not(file)
        entry = old.entries.get(file.stem)
        if not reason and entry is not None:
            now, before = file.read_bytes(), packed_bytes(old.path / file.name)[0]
            if digest(now) == entry.digest:
                there.append(file)
                continue
            if not now.startswith(before):
                reason = f"{old.path.name} holds another case of that name; give this one another"
        if reason:
            done.kept[file] = reason
        else:
            fresh.append(file)
    return fresh, there


def _write(path: Path, old: Pack, fresh: list[Path]) -> None:
    """Put a pack in the place of the old one: its cases and the fresh ones, by name."""
    beside = path.with_name(f".{path.name}.new")
    try:
        write_pack(beside, _contents(old, {file.stem: file for file in fresh}))
        for entry, content in open_pack(beside).texts():
            if digest(content) != entry.digest:
                raise CaseError(f"{shown(path, 200)}: {entry.name} does not read back as written")
        os.replace(beside, path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise CaseError(
            f"{shown(path, 200)} cannot be written: {(error.strerror or str(error)).lower()}; "
            "all cases are as they were"
        ) from error
    except CaseError:
        beside.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def _contents(old: Pack, fresh: Mapping[str, Path]) -> Iterator[tuple[str, bytes]]:
    """The cases of the new pack by name; CaseError if one of the old pack is damaged."""
    for name in sorted({*old.entries, *fresh}):
        if name in fresh:
            yield name, fresh[name].read_bytes()
            continue
        content, damage = packed_bytes(old.path / f"{name}{SUFFIX}")
        if damage:
            raise CaseError(f"{shown(old.path, 200)}: {name}: {damage}; it is left as it is")
        yield name, content


def _remove(files: Iterable[Path], pack: Pack, done: Packed) -> None:
    """Remove files that the pack holds byte for byte; one that has grown since stays."""
    for file in files:
        try:
            lock = Lock(file)
        except CaseError as error:
            done.kept[file] = str(error)
            continue
        gone = False
        try:
            entry = pack.entries[file.stem]
            if digest(file.read_bytes()) == entry.digest:
                file.unlink()
                gone = True
                done.taken += 1
            else:
                done.kept[file] = "it was gone on with meanwhile"
        except OSError as error:
            done.kept[file] = (error.strerror or str(error)).lower()
        finally:
            lock.release(gone)
    sync_folder(pack.path.parent)


# -- and back --------------------------------------------------------------------------------------


def unpack_one(path: Path) -> Path:
    """Give a packed case a file of its own again; its path.  The pack stays as it is.

    Raises
    ------
    CaseError
        It is damaged in the pack, is being written, the file cannot be written, or there is
        another case of that name.
    """
    target = path.parent.with_name(path.name)
    content, damage = packed_bytes(path)
    if damage:
        raise CaseError(f"{shown(path, 200)}: {damage}; it cannot be gone on with")
    lock = Lock(target)
    try:
        if not target.exists():
            _put(target, content)
        elif not target.read_bytes().startswith(content):
            raise CaseError(f"{shown(target, 200)} is another case of that name; rename it first")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CaseError(f"{shown(target, 200)} cannot be written: {reason}") from error
    finally:
        lock.release(gone=True)  # nobody goes on with the case yet: no lock is left beside it
    return target


def _put(target: Path, content: bytes) -> None:
    """A file with content, whole or not at all."""
    beside = target.with_name(f".{target.name}.new")
    with beside.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, target)
    sync_folder(target.parent)


def unpack_folder(folder: Path) -> int:
    """Give all packed cases of a folder files of their own, and remove its packs; how many.

    Raises
    ------
    CaseError
        As ``unpack_one``; packs that are not empty by then stay.
    """
    count = 0
    for path in packs_of(folder):
        lock = Lock(path)
        try:
            names = [*open_pack(path).entries]
            for name in names:
                unpack_one(path / f"{name}{SUFFIX}")
            path.unlink()
            sync_folder(folder)
        finally:
            lock.release(gone=True)
        count += len(names)
    return count
