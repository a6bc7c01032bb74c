"""What only all sheets of a plant together show: terminals, tags and neighbours that clash."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from diagnose.errors import did_you_mean
from diagnose.library import type_names
from diagnose.loops.findings import NOTE, PROBLEM, WARNING, Finding
from diagnose.loops.joined import heads
from diagnose.loops.loop import EARTH, Loop
from diagnose.loops.sheet import load_type

MOST = 6
"""Names that one sentence lists."""


@dataclass(frozen=True, slots=True)
class Brief:
    """What the sheets of a plant have to agree on, of one loop.

    ``terminals`` are (place, point) that a lead reaches, ``nodes`` all nodes; ``shared`` names the
    nodes of the parts through which a neighbour goes as well.  A sheet with a part of another's tag
    in ``parts`` shows that loop, or some of it, once more.  ``given`` are the nodes whose names the
    loop type gave and the sheet left alone.
    """

    tag: str
    file: str
    terminals: tuple[tuple[str, str], ...]
    nodes: frozenset[str]
    parts: frozenset[str]
    given: frozenset[str]
    shared: Mapping[str, frozenset[str]]


def brief_of(loop: Loop) -> Brief:
    """The brief of a loop."""
    titles = {place.name: place.title for place in loop.places}
    return Brief(
        tag=loop.tag,
        file=loop.source,
        terminals=tuple(
            (titles[point.place], point.name) for point in loop.points if point.name != EARTH
        ),
        nodes=frozenset(loop.nodes),
        parts=frozenset(part.name for part in loop.parts),
        given=_given(loop.type) & set(loop.nodes),
        shared={
            item.tag: frozenset(
                node for name in item.through for node in loop.part(name).pins.values()
            )
            for item in loop.neighbours
        },
    )


@lru_cache(maxsize=64)
def _given(loop_type: str) -> frozenset[str]:
    """The names of nodes in a shipped loop type."""
    return frozenset(load_type(loop_type).nodes) if loop_type in type_names() else frozenset()


def across(briefs: Sequence[Brief], plant: str) -> tuple[Finding, ...]:
    """Everything that is amiss between sheets; ``plant`` is the file that stands for all."""
    return (*_tags(briefs), *_neighbours(briefs), *_terminals(briefs, plant))


def _tags(briefs: Sequence[Brief]) -> Iterator[Finding]:
    first: dict[str, Brief] = {}
    for item in briefs:
        other = first.setdefault(item.tag.casefold(), item)
        if other is not item:
            text = f"{other.file} has the tag {other.tag} as well; one loop has one sheet"
            yield Finding(PROBLEM, item.file, "loop: tag", text)


def _neighbours(briefs: Sequence[Brief]) -> Iterator[Finding]:
    known = {item.tag: item for item in briefs}
    for item in briefs:
        for tag, nodes in item.shared.items():
            key, other = f"neighbour {tag}", known.get(tag)
            if other is None:
                text = f"there is no sheet of {tag}{did_you_mean(tag, known)}"
                yield Finding(WARNING, item.file, key, text)
            elif not (nodes - {EARTH}) & other.nodes:
                text = f"the sheet of {tag} has none of the terminals that they should share"
                yield Finding(WARNING, item.file, key, text)
            elif item.tag not in other.shared:
                text = f"the sheet of {tag} does not name {item.tag} in its turn"
                yield Finding(NOTE, item.file, key, text)


def _terminals(briefs: Sequence[Brief], plant: str) -> Iterator[Finding]:
    """Terminals of one place on several sheets that do not name each other as neighbours there."""
    owners: dict[tuple[str, str], list[Brief]] = defaultdict(list)
    for item in briefs:
        for terminal in item.terminals:
            owners[terminal].append(item)
    alike: dict[tuple[str, tuple[str, ...]], list[str]] = defaultdict(list)
    given: dict[str, dict[str, set[str]]] = defaultdict(dict)
    for (place, node), items in owners.items():
        apart = _apart(items, node)
        if apart and all(node in item.given for item in items):
            given[place][node] = set(apart)
        elif apart:
            alike[place, tuple(sorted(apart))].append(node)
    for (place, tags), nodes in alike.items():
        yield _twice(plant, place, nodes, tags, "")
    for place, names in given.items():
        tags = tuple(sorted(set().union(*names.values())))
        yield _twice(plant, place, list(names), tags, ", as their loop type calls it")


def _twice(plant: str, place: str, nodes: Sequence[str], tags: Sequence[str], why: str) -> Finding:
    stand = "stands" if len(nodes) == 1 else "stand"
    text = f"{place}: {_some(nodes)} {stand} on the sheets of {_some(tags)}{why}: {CURE}"
    return Finding(WARNING, plant, "terminals", text)


CURE = "rename them, or name the loops as neighbours through the parts that they share"


def _apart(items: Sequence[Brief], node: str) -> list[str]:
    """The tags on a terminal where not all of them share it knowingly; else none."""
    tags = dict.fromkeys(item.tag for item in items)
    pairs = []
    for item in items:
        told = [tag for tag, nodes in item.shared.items() if node in nodes]
        pairs += [(tag, item.tag) for tag in (*told, *(item.parts & tags.keys())) if tag in tags]
    return list(tags) if len(set(heads(tags, pairs).values())) > 1 else []


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST} more" if len(names) > MOST else ""
    return f"{', '.join(names[:MOST])}{more}"
