"""The text of a sheet: TOML with comments, from what it is to say."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping

from diagnose.loops.index.fields import field_of
from diagnose.loops.index.wanted import Wanted
from diagnose.loops.rename import changer

_BARE = re.compile(r"[A-Za-z0-9_-]+\Z")


def sheet_text(wanted: Wanted) -> str:
    """The sheet as TOML; what it leaves to the loop type is named at its end."""
    return "\n".join(_lines(wanted)) + "\n"


def _lines(wanted: Wanted) -> Iterator[str]:
    yield "[loop]"
    width = max(map(len, wanted.loop))
    for key, value in wanted.loop.items():
        yield f"{key:<{width}} = {quoted(value)}"
    if wanted.rename:
        yield from ("", "# Names of the loop type on the left, names of this plant on the right;")
        yield "# what is named after them follows."
        yield "[rename]"
        yield from (f"{_key(old)} = {quoted(new)}" for old, new in wanted.rename.items())
    for name, keys in wanted.places.items():
        yield from _entry("place", name, keys)
    change = changer(wanted.rename) if wanted.rename else str
    for name, keys in wanted.values.items():
        yield from _entry("part", change(name), keys)
    for tag, (through, title) in wanted.neighbours.items():
        yield from _entry("neighbour", tag, {"through": through, "title": title})
    if wanted.silent:
        titles = [field_of("index", name).title for name in wanted.silent]
        yield from ("", "# Not told, so as the loop type has it:")
        yield from (f"#   {title}" for title in titles)


def _entry(section: str, name: str, keys: Mapping[str, str | list[str]]) -> Iterator[str]:
    yield from ("", f"[[{section}]]", f"name = {quoted(name)}")
    yield from (f"{_key(key)} = {quoted(value)}" for key, value in keys.items())


def quoted(value: str | list[str]) -> str:
    """A text, or a list of them, as TOML has it."""
    return json.dumps(value, ensure_ascii=False)


def _key(word: str) -> str:
    return word if _BARE.match(word) else quoted(word)
