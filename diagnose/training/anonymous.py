"""A case without its plant: tags, terminals, places and words of people taken out.

Names become letters and numbers in the order of the sheet, everywhere alike, so that the case can
still be read, ranked and replayed.  Times become minutes from an invented start; free words are
left out, for nobody can tell what they name.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from diagnose.casework.events import Stamped, to_record
from diagnose.loops.loop import EARTH

START = datetime.fromisoformat("2000-01-01T08:00:00+00:00")
"""When every anonymous case begins."""

_FREE = ("evidence", "as_found", "as_left", "reason", "seen", "title", "service", "source")
_ALTERED = ("bypass", "manual")


def anonymous(events: tuple[Stamped, ...]) -> Iterator[Mapping[str, Any]]:
    """The records of a case with names of its own."""
    first = to_record(events[0].event, events[0].number, events[0].at)
    named = _names(first["sheet"])
    start = events[0].at
    for event in events:
        record = to_record(event.event, event.number, event.at)
        if record["event"] == "noted":
            record["text"] = "left out"
        elif record["event"] == "altered" and record.get("item") in _ALTERED:
            record["text"] = ""
        record["at"] = (START + _gap(event.at, start)).isoformat()
        yield _renamed(record, named)


def _gap(at: datetime, start: datetime) -> timedelta:
    return at - start


def _names(sheet: Mapping[str, Any]) -> dict[str, str]:
    """Old name -> new name of everything that a sheet names."""
    found: dict[str, str] = {sheet["tag"]: "LOOP-1"}
    kinds: dict[str, int] = {}
    for part in sheet["parts"]:
        kind = "".join(word[0] for word in part["kind"].split("_")).upper()
        kinds[kind] = kinds.get(kind, 0) + 1
        found.setdefault(part["name"], f"{kind}{kinds[kind]}")
    nodes = [node for part in sheet["parts"] for node in part["pins"].values()]
    nodes += [point["name"] for point in sheet["points"]]
    for number, node in enumerate(dict.fromkeys(n for n in nodes if n != EARTH), 1):
        found.setdefault(node, f"N:{number}")
    for number, neighbour in enumerate(sheet.get("neighbours", ()), 1):
        found.setdefault(neighbour["tag"], f"NEXT-{number}")
    return found


def _renamed(value: Any, named: Mapping[str, str], key: str = "") -> Any:
    """Every text with the old names replaced by the new ones; titles and free words emptied."""
    if isinstance(value, Mapping):
        return {named.get(k, k): _renamed(v, named, k) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_renamed(item, named, key) for item in value]
    if not isinstance(value, str):
        return value
    return "" if key in _FREE else _replaced(value, named)


def _replaced(text: str, named: Mapping[str, str]) -> str:
    """Names as whole words, the longest first, in one pass: a new name is not renamed again."""
    if text in named:
        return named[text]
    words = "|".join(map(re.escape, sorted(named, key=len, reverse=True)))
    return re.sub(rf"(?<![\w.:+-])(?:{words})(?![\w:]|[.+-]\w)", lambda m: named[m[0]], text)


def text_of(events: tuple[Stamped, ...]) -> str:
    """The anonymous case as the text of a case file."""
    return "".join(f"{json.dumps(record, ensure_ascii=False)}\n" for record in anonymous(events))
