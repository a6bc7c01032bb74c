"""Which loop is meant, where several plants have one of that tag."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from diagnose.loops.names import shown


def of_which(plants: Iterable[str]) -> Callable[[str], str]:
    """What stands behind a tag: its plant, where the lines told are of several.

    >>> of_which(["north", "south"])("north")
    ' of north'
    >>> of_which(["north", "north"])("north")
    ''
    """
    several = len(set(plants)) > 1
    return lambda plant: f" of {shown(plant)}" if several else ""


def loop_names(loops: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
    """(plant, tag) -> the tag, and the plant behind it where another plant has that tag as well.

    >>> loop_names([("north", "LT-1"), ("south", "LT-1"), ("south", "LT-2")])[("north", "LT-1")]
    'LT-1 of north'
    """
    by_tag: dict[str, set[str]] = {}
    loops = list(loops)
    for plant, tag in loops:
        by_tag.setdefault(tag, set()).add(plant)
    return {(plant, tag): with_plant(tag, plant) if len(by_tag[tag]) > 1 else tag
            for plant, tag in loops}  # fmt: skip


def with_plant(tag: str, plant: str) -> str:
    """A tag with its plant."""
    return f"{tag} of {plant}"
