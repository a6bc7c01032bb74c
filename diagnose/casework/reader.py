"""From the bytes of a case file to its events, whatever became of them."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import NoReturn

from diagnose.casework.case import Case
from diagnose.casework.checks import CaseError
from diagnose.casework.events import NewerSchemaError, Opened, Stamped, stamped
from diagnose.casework.packs import PACK, in_pack, located, open_pack, packed_bytes
from diagnose.loops.names import shown

LARGEST = 64_000_000
"""Bytes of a case; a long one has a hundredth of it."""

TORN = "was cut short while it was written, so it never counted; the records before it are whole"


@dataclass
class Read:
    """What a file gave: the events that count in the order of their numbers, and their case.

    ``damage`` are sentences on records that are lost, ``warnings`` on everything odd.
    """

    case: Case = field(default_factory=Case)
    events: tuple[Stamped, ...] = ()
    warnings: list[str] = field(default_factory=list)
    damage: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    entry: Stamped


@dataclass(frozen=True, slots=True)
class _Spoilt:
    """A line that is no record; ``cut`` if its end is missing, ``record`` the number it names."""

    number: int
    cut: bool
    reason: str
    record: int | None


def read_case(path: Path) -> Read:
    """The case in a file of its own or in a pack (``casework.packs``).

    Raises
    ------
    CaseError
        The file cannot be read, is no case, of a newer version, or has lost its first line.
    """
    content, spoilt_pack = _bytes(path)
    lines = content.split(b"\n")
    where = shown(path, 200)
    first = _first(lines, where)
    read = Read()
    found = [_Line(1, first)]
    spoilt: list[_Spoilt] = []
    for number, line in enumerate(lines[1:], 2):
        try:
            if line.strip():
                found.append(_Line(number, _entry(line)))
        except NewerSchemaError as error:
            raise CaseError(f"{where}: line {number}: {error}") from error
        except CaseError as error:
            cut = not line.rstrip().endswith(b"}")
            spoilt.append(_Spoilt(number, cut, str(error), _record_number(line)))
    _fold(sorted(found, key=lambda item: item.entry.number), read)
    _tell_spoilt(spoilt, read)
    if spoilt_pack:
        read.damage = (*read.damage, spoilt_pack)
        read.warnings.append(spoilt_pack)
    return read


def _record_number(line: bytes) -> int | None:
    """The number that a spoilt line still names."""
    found = re.search(rb'"number": *(\d{1,9})\b', line)
    return int(found[1]) if found else None


def _fold(found: list[_Line], read: Read) -> None:
    """Fold what can happen; tell of what cannot, and of what is odd about numbers and times."""
    damage = []
    events: list[Stamped] = []
    for line in found:
        entry, case = line.entry, read.case
        same = events and events[-1].number == entry.number
        if same and events[-1] == entry:
            read.warnings.append(
                f"line {line.number} repeats record {entry.number}; it counts once"
            )
            continue
        note = clock_note(case, entry)
        try:
            read.case = case.then(entry)
        except CaseError as error:
            damage.append(f"line {line.number} is left out: {error}")
            continue
        read.warnings += [note] if note else []
        events.append(entry)
    read.events, read.damage = tuple(events), tuple(damage)
    read.warnings += damage


def _tell_spoilt(spoilt: list[_Spoilt], read: Read) -> None:
    """Lines that are no records, and records that are missing.

    A line that was cut short was never acknowledged: it is a loss only where a number lacks.
    """
    numbers = {entry.number for entry in read.events}
    lost = [n for n in range(1, read.case.number) if n not in numbers][:20]
    gaps = [f"record {', '.join(map(str, lost))} is missing"] if lost else []
    torn = {item.number for item in spoilt if item.cut and item.record not in lost}
    for line in spoilt:
        sentence = TORN if line.number in torn else f"is damaged and left out: {line.reason}"
        read.warnings.append(f"line {line.number} {sentence}")
    whole = [f"line {s.number} is damaged: {s.reason}" for s in spoilt if s.number not in torn]
    read.warnings += gaps
    read.damage = (*read.damage, *whole, *gaps)


def clock_note(case: Case, entry: Stamped) -> str:
    """A sentence where the clock went back between two records; empty where it did not."""
    if case.at is None or entry.at >= case.at:
        return ""
    return (
        f"record {entry.number} ({entry.at.isoformat()}) is stamped before record {case.number} "
        f"({case.at.isoformat()}): the clock was set back; the order is that of the numbers"
    )


def _bytes(path: Path) -> tuple[bytes, str]:
    """The bytes of a case, and a sentence if it lies in a pack that is damaged there."""
    told = ""
    try:
        if path.is_dir():
            raise CaseError(f"{shown(path, 200)} is a folder; name a case file in it")
        if path.suffix == PACK:
            open_pack(path)  # it has its own sentence if it is none
            raise CaseError(f"{shown(path, 200)} is a pack of cases; name a case in it")
        there = located(path) or path
        if in_pack(there):
            content, told = packed_bytes(there)
        else:
            with path.open("rb") as file:
                content = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise CaseError(f"{shown(path, 200)} cannot be read: {shown(reason).lower()}") from error
    if len(content) > LARGEST:
        raise CaseError(f"{shown(path, 200)} is larger than any case")
    return content, told


def _first(lines: list[bytes], where: str) -> Stamped:
    """The first line; without it there is no loop to go on with."""
    if lines == [b""]:
        raise CaseError(f"{where} is empty: the case was lost before its first record")
    try:
        entry = _entry(lines[0])
    except NewerSchemaError as error:
        raise CaseError(f"{where}: {error}") from error
    except CaseError as error:
        if not lines[0].startswith(b'{"schema"'):
            raise CaseError(f"{where} is no case file: line 1 is no record of a case") from error
        raise CaseError(
            f"{where}: line 1 with the copy of the sheet is damaged, so the case cannot be used: "
            f"{error}"
        ) from error
    if not isinstance(entry.event, Opened):
        raise CaseError(f"{where} is no case file: it does not begin with the event 'opened'")
    return entry


def _entry(line: bytes) -> Stamped:
    """One line as a record; CaseError if it is none."""
    try:
        record = _decode(line.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise CaseError("it is not UTF-8 text") from error
    except (ValueError, RecursionError) as error:
        raise CaseError(f"it is not JSON ({shown(error, 80)})") from error
    return stamped(record)


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


_decode = json.JSONDecoder(parse_constant=_no_number).decode
"""Made once: ``json.loads`` with a hook makes a decoder for each line."""
