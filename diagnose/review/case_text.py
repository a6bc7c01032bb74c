"""The text of a case taken apart: its opening and its records, of each what a review asks for.

A line is decoded straight into the types below and the rest of it is passed over; what does not
have these types goes the slow way, where a value that will not do is left out and costs nothing
else.  A line that is no record, or names no number or no event, is damaged and counts for nothing.
"""

from __future__ import annotations

import json
import math
from functools import lru_cache
from typing import Annotated, Any, NoReturn, TypeVar

from msgspec import DecodeError, Meta, Struct, ValidationError, convert
from msgspec.json import Decoder
from msgspec.structs import fields

from diagnose.casework.record import SCHEMA

Also = tuple[tuple[str, str], ...]
Chance = Annotated[float, Meta(ge=0, le=1)]
Minutes = Annotated[float, Meta(ge=0, le=1e6)]
"""What a reading took: what is more than two years would drown all sums that it goes into."""
Top = tuple[str | None, str | None, Also, Chance]
"""One hypothesis of a ranking: part, fault, what failed beside it, probability."""


class Versions(Struct, gc=False):
    """What a ranking was computed with."""

    engine: str | None = None


class Record(Struct, gc=False):
    """A line of a case but the first; fields are those of its event, None where it has none."""

    schema: int | None = None
    number: int | None = None
    event: str | None = None
    at: str | None = None
    text: str | None = None
    place: str | None = None
    minutes: Minutes | None = None
    advised: bool | None = None
    reading: int | None = None
    key: str | None = None
    item: str | None = None
    top: list[Top] | None = None
    unexplained: Chance | None = None
    distrusted: list[int] | None = None
    versions: Versions | None = None
    part: str | None = None
    fault: str | None = None
    ending: str | None = None
    as_left: str | None = None


class Part(Struct, gc=False):
    """A part of the sheet."""

    name: str | None = None
    kind: str | None = None
    place: str | None = None


class Place(Struct, gc=False):
    """A place of the sheet."""

    name: str | None = None
    area: str | None = None


class Sheet(Struct, gc=False):
    """The sheet as a case keeps it."""

    role: list[str] = []
    places: list[Place] = []
    parts: list[Part] = []


class Opening(Struct, gc=False):
    """The first line of a case."""

    schema: int | None = None
    event: str | None = None
    at: str | None = None
    tag: str | None = None
    loop_type: str | None = None
    tool: str | None = None
    sheet: Sheet | None = None


class Text(Struct, gc=False):
    """A case taken apart: no opening if its first line does not tell one.

    ``records`` are in the order of their numbers, each number once; ``damaged`` counts lines.
    """

    opening: Opening | None = None
    records: list[Record] = []
    damaged: int = 0


_opening = Decoder(Opening).decode
_record = Decoder(Record).decode


def take_apart(text: bytes) -> Text:
    """A case from its bytes; a line that is not UTF-8 is damaged as any that is no record.

    Lines of a newer version may mean anything: a case with one has no opening, as ``cases`` refuses
    it.
    """
    whole = _is_utf8(text)
    first, *lines = text.split(b"\n")
    opening = _opened(first) if whole or _is_utf8(first) else None
    damaged = int(opening is None and bool(first.strip(b" ")))
    records: list[Record] = []
    for line in lines:
        if not line:
            continue
        if not whole and not _is_utf8(line):
            damaged += 1
            continue
        try:
            record = _record(line)
        except (DecodeError, RecursionError):
            if not line.strip():
                continue
            record = _slowly(line, Record)
        if record.number is None or record.event is None:
            damaged += 1
        else:
            records.append(record)
    if any(_is_newer(line) for line in (opening, *records) if line):
        return Text(None, [], damaged)
    return Text(opening, _in_order(records), damaged)


def _is_newer(line: Opening | Record) -> bool:
    return line.schema is not None and line.schema > SCHEMA


def _is_utf8(text: bytes) -> bool:
    """Whether all of it is UTF-8: the decoder passes over text that it does not keep."""
    if text.isascii():
        return True
    try:
        text.decode()
    except UnicodeDecodeError:
        return False
    return True


def _opened(line: bytes) -> Opening | None:
    try:
        found = _of_known_sheet(line) or _opening(line)
    except (DecodeError, RecursionError):
        found = _slowly(line, Opening)
    return found if found.event == "opened" and found.tag is not None else None


def _of_known_sheet(line: bytes) -> Opening | None:
    """The opening of a case whose line ends as that of a case before: with the same sheet.

    The sheet is nearly all of the line, and a plant has far fewer sheets than cases.  None where
    the line holds no sheet; raises DecodeError for what is no JSON.
    """
    head, mark, tail = line.partition(b'"sheet":')
    if not mark or len(tail) > LONGEST:
        return None
    there = _tail(tail)
    found = _opening(head + b'"sheet":null}')
    for name in _AFTER:
        if (value := getattr(there, name)) is not None:
            setattr(found, name, value)
    return found


_AFTER = Opening.__struct_fields__


LONGEST = 200_000
"""Bytes of a sheet that is remembered, four times the largest of the demo plant."""


@lru_cache(maxsize=256)
def _tail(tail: bytes) -> Opening:
    """What the line of an opening says from its sheet on; nobody changes it."""
    return _opening(b'{"sheet":' + tail)


def _in_order(records: list[Record]) -> list[Record]:
    """By number; of those with one number, the first that was written."""
    last = 0
    for record in records:
        if (number := record.number or 0) <= last:
            break
        last = number
    else:
        return records
    once: dict[int, Record] = {}
    for record in records:
        once.setdefault(record.number or 0, record)
    return [once[number] for number in sorted(once)]


# -- the slow way ----------------------------------------------------------------------------------

T = TypeVar("T", bound=Struct)


def _slowly(line: bytes, type_: type[T]) -> T:
    """A line whose values are not all of their types; without any if it is no JSON object."""
    try:
        found = json.loads(line, parse_constant=_no_number)
        json.dumps(found, ensure_ascii=False).encode()  # half a character cannot be written
    except (ValueError, RecursionError):
        return type_()
    return _loosely(found, type_)


def _loosely(found: Any, type_: type[T]) -> T:
    """An object with each of its fields that has the right type; others keep their default."""
    kept: dict[str, Any] = {}
    for item in fields(type_) if isinstance(found, dict) else ():
        value = found.get(item.name)
        if value is None:
            continue
        if item.name == "top":
            kept["top"] = [_hypothesis(row) for row in _list(value) if isinstance(row, list)]
        elif item.name in _PARTED:
            kept[item.name] = [_loosely(part, _PARTED[item.name]) for part in _list(value)]
        elif item.name in _TABLES:
            kept[item.name] = _loosely(value, _TABLES[item.name])
        else:
            kept[item.name] = _value(value, item.type, [] if item.name == "role" else None)
    return type_(**kept)


_PARTED: dict[str, type[Struct]] = {"places": Place, "parts": Part}
_TABLES: dict[str, type[Struct]] = {"sheet": Sheet, "versions": Versions}


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _hypothesis(row: list[Any]) -> Top:
    part, fault, also, chance = (*row, None, None, None, None)[:4]
    return (
        _value(part, str, None), _value(fault, str, None), _value(also, Also, ()),
        _value(chance, Chance, 0.0),
    )  # fmt: skip


def _value(value: Any, type_: Any, default: Any) -> Any:
    try:
        found = convert(value, type_, strict=False)
    except ValidationError:
        return default
    return default if isinstance(found, float) and not math.isfinite(found) else found


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")
