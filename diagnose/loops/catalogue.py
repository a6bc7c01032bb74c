"""What every sheet of a plant is called by, kept on disk: one of thousands is found at once.

Each sheet is known by the time and size of its file; only what changed is read again.  The
catalogue is derived: a damaged or foreign one is made anew.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from diagnose.errors import DiagnoseError
from diagnose.library import cache_folder, models, package_version, write_whole
from diagnose.loops.index.roles import ROLES, Roles
from diagnose.loops.loop import Loop
from diagnose.loops.plant import Plant
from diagnose.loops.raw import Raw, nodes_of
from diagnose.loops.sheet import both_of, written
from diagnose.loops.sheet_text import read_table

FORM = 2
"""Raised whenever the catalogue changes what it keeps."""

THINGS = ("supply", "card", "cable", "branch", "box", "strip")
"""What loops can have in common, as an instrument index calls it."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Card:
    """What one sheet is called by.

    ``places`` are their titles by name; ``points`` the place of each terminal and ``parts`` the
    title of each part, as ``table_of`` reads them; ``things`` the names of what is in ``THINGS``,
    of which ``told`` are those that the sheet itself gives; ``beside`` why each neighbour is one.
    ``problem`` says why a sheet cannot be used.
    """

    tag: str
    service: str = ""
    type: str = ""
    range: str = ""
    places: Mapping[str, str] | None = None
    points: str = ""
    parts: str = ""
    things: Mapping[str, str] | None = None
    told: tuple[str, ...] = ()
    beside: Mapping[str, str] | None = None
    problem: str = ""
    words: str = ""


def plain_name(text: str) -> str:
    """A name without case and separators: ``JB 9``, ``jb-9`` and ``JB9`` are one."""
    return re.sub(r"[\s\-_.]", "", text).casefold()


def catalogue(plant: Plant, progress: Progress | None = None) -> dict[str, Card]:
    """The cards of all sheets of a plant by tag, in the order of the tags.

    ``progress`` is called with how many of the sheets that have to be read are read, and of how
    many.
    """
    path = _kept_at(plant.folder)
    kept = _read(path, _types(plant.folder))
    files = plant.sheets()
    stamps = _stamps(files)
    old = {tag: card for tag, (stamp, card) in kept.items() if stamps.get(tag) == stamp}
    new: dict[str, Card] = {}
    todo = [tag for tag in files if tag not in old]
    for done, tag in enumerate(todo, 1):
        new[tag] = _card(tag, files[tag])
        if progress:
            progress(done, len(todo))
    if new or len(old) != len(kept):
        _write(
            path,
            _types(plant.folder),
            {tag: (stamps.get(tag), card) for tag, card in (old | new).items()},
        )
    return {tag: old.get(tag) or new[tag] for tag in files}


def remember(folder: Path, made: Mapping[Path, Card]) -> None:
    """Enter sheets that were just written, so that nobody has to read them again."""
    path, types = _kept_at(folder), _types(folder)
    stamps = _stamps({file.stem: file for file in made})
    new = {file.stem: (stamps.get(file.stem), card) for file, card in made.items()}
    _write(path, types, {**_read(path, types), **new})


# -- one sheet -----------------------------------------------------------------------------------


def _card(tag: str, path: Path) -> Card:
    try:
        table = read_table(path)
        try:
            raw, loop = both_of(table, path)
        except DiagnoseError as error:
            return card_of(tag, table, written(path, table), problem=_first(error))
    except DiagnoseError as error:
        return Card(tag, problem=_first(error))
    return card_of(tag, table, raw, loop)


def card_of(
    tag: str, table: Mapping[str, Any], raw: Raw, loop: Loop | None = None, problem: str = ""
) -> Card:
    """The card of a sheet: its TOML table, what it says over its type, the loop if it makes one."""
    points = {name: str(entry.get("place", "")) for name, entry in raw.points.items()}
    parts = {name: str(entry.get("title", "")) for name, entry in raw.parts.items()}
    things, told = _things(str(raw.loop.get("type", "")), table.get("rename", {}))
    things = {thing: name for thing, name in things.items() if _there(name, raw)}
    names = {*points, *(name.partition(":")[0] for name in points), *parts, *things.values()}
    return Card(
        tag=tag,
        service=str(raw.loop.get("service", "")),
        type=str(raw.loop.get("type", "")),
        range=f"{loop.range[1]:g} to {loop.range[2]:g} {loop.range[0]}" if loop else "",
        places={name: str(entry.get("title", name)) for name, entry in raw.places.items()},
        points=_text_of(points),
        parts=_text_of(parts),
        things=things,
        told=tuple(thing for thing in told if thing in things),
        beside={name: str(entry.get("title", "")) for name, entry in raw.neighbours.items()},
        problem=problem,
        words=f" {' '.join(sorted({plain_name(name) for name in names}))} ",
    )


def _first(error: DiagnoseError) -> str:
    return str(error).splitlines()[0]


def _text_of(table: Mapping[str, str]) -> str:
    """A table as one text: read from disk far sooner, and few cards are looked into."""
    return "\n".join(f"{name}\t{' '.join(text.split())}" for name, text in table.items())


def table_of(text: str) -> dict[str, str]:
    """The table that the points or the parts of a card are."""
    rows = (line.partition("\t") for line in text.splitlines())
    return {name: told for name, _, told in rows}


def _there(name: str, raw: Raw) -> bool:
    """Whether a part or node is called so: the sheet may have left it out."""
    begins = tuple(f"{name}{sign}" for sign in (":", ".", "+", "-"))
    all_names = (*raw.parts, *nodes_of(raw.parts))
    return any(item == name or item.startswith(begins) or item[:-1] == name for item in all_names)


def _things(loop_type: str, rename: Any) -> tuple[dict[str, str], tuple[str, ...]]:
    names = ROLES.get(loop_type, Roles()).names
    rename = rename if isinstance(rename, dict) else {}
    bases = {thing: names[thing][0] for thing in THINGS if thing in names}
    found, told = {}, []
    for thing, (base, tail) in bases.items():
        new = rename.get(base)
        found[thing] = str(new).removesuffix(tail) if new else base
        told += [thing] if new else []
    return found, tuple(told)


# -- on disk -------------------------------------------------------------------------------------


def _kept_at(folder: Path) -> Path:
    name = hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:32]
    return cache_folder() / f"plant-{name}.json"


def _stamps(files: Mapping[str, Path]) -> dict[str, list[int]]:
    found = {}
    for tag, path in files.items():
        with suppress(OSError):
            stat = os.stat(path)
            found[tag] = [stat.st_mtime_ns, stat.st_size]
    return found


def _types(folder: Path) -> list[Any]:
    """What all cards rest on: the package and the files of the loop types."""
    paths = [*models().glob("*.toml"), *(folder / "models").glob("*.toml")]
    stats = [(path.name, path.stat()) for path in sorted(paths)]
    return [FORM, package_version(), *([n, s.st_mtime_ns, s.st_size] for n, s in stats)]


def _read(path: Path, types: list[Any]) -> dict[str, tuple[Any, Card]]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["types"] != types:
            return {}
        return {tag: (stamp, _checked(card)) for tag, (stamp, card) in data["cards"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _checked(data: dict[str, Any]) -> Card:
    card = Card(**{**data, "told": tuple(data["told"])})
    texts = (
        card.tag,
        card.service,
        card.type,
        card.range,
        card.problem,
        card.words,
        card.points,
        card.parts,
        *card.told,
    )
    tables = (card.places, card.things, card.beside)
    if not all(isinstance(text, str) for text in texts):
        raise TypeError("a card holds texts")
    if not all(isinstance(table, dict | None) for table in tables):
        raise TypeError("a card holds tables")
    return card


def _write(path: Path, types: list[Any], cards: Mapping[str, tuple[Any, Card]]) -> None:
    data = {
        "types": types,
        "cards": {t: [stamp, asdict(card)] for t, (stamp, card) in cards.items()},
    }
    with suppress(OSError):  # a folder that cannot be written only costs time
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode())
