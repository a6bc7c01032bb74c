"""Names that pairs join to groups."""

from __future__ import annotations

from collections.abc import Iterable


def heads(names: Iterable[str], pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """For each name one of its group that stands for all of it; the ends of a pair are together.

    >>> heads("abc", [("a", "c")])
    {'a': 'c', 'b': 'b', 'c': 'c'}
    """
    group = {name: name for name in names}

    def head(name: str) -> str:
        while group[name] != name:
            name = group[name]
        return name

    for one, other in pairs:
        group[head(one)] = head(other)
    return {name: head(name) for name in group}


__all__ = ["heads"]
