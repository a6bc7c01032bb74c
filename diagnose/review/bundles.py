"""Many cases in one file: case files written one after the other, as `cat` does it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diagnose.review.take import Named

_FIRST = re.compile(
    rb'\{"schema": ?\d+, ?"number": ?1, ?"event": ?"opened", ?"at": ?"(\d{4}-\d\d-\d\d)[^"]*"'
    rb'(?:, ?"tag": ?"([^"\\]{1,60})")?'
)


def cases_in(lines: Iterable[bytes], stem: str) -> Iterator[Named]:
    """The cases of a file, one after the other; a case begins with the line that opens it.

    A file with one case gives it its name, ``stem``.  Of more, each is named by tag, day and a
    counter, as their own files were if they follow in order.
    """
    counter: Counter[str] = Counter()
    name, kept, several = stem, list[bytes](), False
    for line in lines:
        found = _FIRST.match(line)
        if found and kept:
            if not several and (first := _FIRST.match(kept[0])):
                name = _name(first, stem, counter)
            several = True
            yield name, b"".join(kept)
            kept = []
        if found and several:
            name = _name(found, stem, counter)
        kept.append(line)
    if kept:
        yield name, b"".join(kept)


def _name(found: re.Match[bytes], stem: str, counter: Counter[str]) -> str:
    day, tag = found[1].decode(), (found[2] or b"").decode(errors="replace")
    base = f"{tag}_{day}" if tag else stem
    counter[base] += 1
    return f"{base}_{counter[base]:02d}"
