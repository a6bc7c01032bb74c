"""Lessons to be handed out: what each drill hides is packed, so that nobody reads it by accident.

That is no encryption, and keeps nothing from one who unpacks it.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64decode, b64encode
from collections.abc import Container, Iterator, Mapping
from typing import Any

PACKED = "packed"
"""The key that stands for what is hidden."""

HIDDEN = ("faults", "draw", "seed", "intermittent", "process", "lead", "fuse")
"""Keys of a drill that tell what is wrong, or how it is drawn."""

NAMED = ("name", "title")
"""Keys that are there for the trainer, and mostly tell what is wrong as well."""

MOST = 1_000_000
"""Bytes of what was packed once it is unpacked."""


def packed(values: Mapping[str, Any]) -> str:
    """Values as letters that nobody reads by accident."""
    return b64encode(zlib.compress(json.dumps(values).encode())).decode()


def unpacked(text: str) -> Mapping[str, Any]:
    """Values from their letters; ValueError where they are none."""
    try:
        machine = zlib.decompressobj()
        data = machine.decompress(b64decode(text, validate=True), MOST)
    except zlib.error as error:
        raise ValueError(text[:20]) from error
    found = json.loads(data)
    if not isinstance(found, dict):
        raise ValueError(text[:20])
    return found


def opened(row: Mapping[str, Any]) -> Mapping[str, Any]:
    """A drill of a lesson file with what is packed in its place; ValueError with what is wrong."""
    if PACKED not in row:
        return row
    plain = {key: value for key, value in row.items() if key != PACKED}
    _once(plain, HIDDEN)
    try:
        inner = unpacked(row[PACKED])
    except (ValueError, TypeError, RecursionError) as error:
        told = "it cannot be unpacked; take the line from the file that was handed out"
        raise ValueError(told) from error
    _once(plain, inner)
    return {**plain, **{key: inner[key] for key in (*NAMED, *HIDDEN) if key in inner}}


def _once(plain: Mapping[str, Any], away: Container[str]) -> None:
    both = next((key for key in plain if key in away), "")
    if both:
        raise ValueError(f"{both} is packed already; leave one of the two out")


def handout(table: Mapping[str, Any]) -> str:
    """A lesson file that was read, as text in which the answers are packed."""
    return "\n".join(_lines(table)) + "\n"


def _lines(table: Mapping[str, Any]) -> Iterator[str]:
    yield "# The answers are packed so that they are not read by accident; they are not encrypted."
    if table.get("class"):
        yield from ("", "[class]", *_keys(table["class"]))
    for number, row in enumerate(map(opened, table["drill"]), 1):
        away = {key: row[key] for key in (*NAMED, *HIDDEN) if key in row}
        shown = {key: value for key, value in row.items() if key not in away}
        yield from ("", f"# lesson {number}", "[[drill]]", *_keys({**shown, PACKED: packed(away)}))


def _keys(values: Mapping[str, Any]) -> Iterator[str]:
    # Plain lines of text, numbers, flags and lists of texts are written alike in JSON and TOML.
    yield from (f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items())
