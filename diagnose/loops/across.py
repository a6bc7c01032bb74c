"""What only all sheets of a plant together show: terminals, tags and neighbours that clash."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.errors import did_you_mean
from diagnose.loops.findings import NOTE, PROBLEM, WARNING, Finding
from diagnose.loops.loop import EARTH, Loop

MOST = 6
"""Names that one sentence lists."""


@dataclass(frozen=True, slots=True)
class Brief:
    """What the sheets of a plant have to agree on, of one loop.

    ``terminals`` are (place, point) that a lead reaches, ``nodes`` all nodes; ``shared`` names the
    nodes of the parts through which a neighbour goes as well.  A sheet with a part of another's tag
    in ``parts`` shows that loop, or some of it, once more.
    """

    tag: str
    file: str
    terminals: tuple[tuple[str, str], ...]
    nodes: frozenset[str]
    parts: frozenset[str]
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
        shared={
            item.tag: frozenset(
                node for name in item.through for node in loop.part(name).pins.values()
            )
            for item in loop.neighbours
        },
    )


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
    for (place, node), items in owners.items():
        apart = _apart(items, node)
        if len(apart) > 1:
            alike[place, tuple(sorted(apart))].append(node)
    for (place, tags), nodes in alike.items():
        yield Finding(
            WARNING, plant, "terminals",
            f"{place}: {_some(nodes)} {'stands' if len(nodes) == 1 else 'stand'} on the sheets of "
            f"{_some(tags)}: name these as neighbours of each other, or rename the terminals",
        )  # fmt: skip


def _apart(items: Sequence[Brief], node: str) -> list[str]:
    """The tags on a terminal where not all of them share it knowingly; else none."""
    group = {item.tag: item.tag for item in items}

    def head(tag: str) -> str:
        while group[tag] != tag:
            tag = group[tag]
        return tag

    for item in items:
        told = [tag for tag, nodes in item.shared.items() if node in nodes]
        for tag in (*told, *(item.parts & group.keys())):
            if tag in group:
                group[head(tag)] = head(item.tag)
    return list(group) if len({head(tag) for tag in group}) > 1 else []


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST} more" if len(names) > MOST else ""
    return f"{', '.join(names[:MOST])}{more}"
