"""Loop sheets and loop types: from a TOML file to a checked ``Loop``."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from diagnose.errors import UnknownNameError, did_you_mean
from diagnose.library import models, package_version, type_names
from diagnose.loops.assemble import assemble
from diagnose.loops.loop import Loop
from diagnose.loops.merge import overlay
from diagnose.loops.names import TAG, name_fault, shown
from diagnose.loops.raw import Raw, nodes_of, structure
from diagnose.loops.sheet_text import Problems, read_table


def load_sheet(path: Path | str) -> Loop:
    """The loop that a sheet describes, laid over its loop type if it names one.

    A loop type is looked for in ``models/`` beside the folder of the sheet, then among the
    shipped ones.

    Raises
    ------
    SheetError
        Every problem of the file, each with file, key and one sentence.
    """
    path = Path(path)
    return loop_of(read_table(path), path)


def loop_of(table: dict[str, Any], path: Path) -> Loop:
    """The loop that the TOML table of a sheet describes; ``path`` is where it lies or will lie.

    Raises SheetError as ``load_sheet`` does.
    """
    return both_of(table, path)[1]


def both_of(table: dict[str, Any], path: Path) -> tuple[Raw, Loop]:
    """What a sheet says over its loop type, as written, and the loop; raises as ``loop_of``."""
    problems = Problems(shown(path, 200))
    sheet = structure(table, problems)
    merged = _laid_over(sheet, path, problems)
    return merged, _finished(merged, sheet, problems)


def written(path: Path, table: dict[str, Any]) -> Raw:
    """What a sheet says over its loop type, its values unread: enough to find it by its names.

    Raises SheetError where even this cannot be told.
    """
    problems = Problems(shown(path, 200))
    raw = _laid_over(structure(table, problems), path, problems)
    problems.check()
    return raw


def load_type(name: str) -> Loop:
    """A shipped loop type as a loop of its own, with its default values; its tag is its name.

    Raises
    ------
    UnknownNameError
        There is no such type.
    SheetError
        The file has problems.
    """
    if name not in type_names():
        raise UnknownNameError("loop type", name, type_names())
    return load_type_file(models() / f"{name}.toml")


def load_type_file(path: Path) -> Loop:
    """The same of the file of a loop type, a plant's own for one; SheetError for its problems."""
    problems = Problems(str(path))
    raw = _type_raw(path, problems)
    loop = {"tag": path.stem, **raw.loop, "type": path.stem}
    return _finished(replace(raw, loop=loop), raw, problems)


def names_of_type(loop_type: str, folder: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The parts and the nodes of a loop type, by its own names; ``folder`` is that of a plant.

    Raises SheetError if there is no such type.
    """
    raw = _type_of(loop_type, folder / "sheets" / f"{loop_type}.toml", Problems(loop_type))
    return tuple(raw.parts), nodes_of(raw.parts)


def _laid_over(sheet: Raw, path: Path, problems: Problems) -> Raw:
    if "type" not in sheet.loop:
        _nothing_to_change(sheet, problems)
        return sheet
    return overlay(_type_of(sheet.loop["type"], path, problems), sheet, problems)


def _type_of(name: Any, sheet: Path, problems: Problems) -> Raw:
    """The loop type that a sheet names; without one nothing else of the sheet can be judged."""
    beside = sheet.parent.parent / "models"
    known = type_names(beside)
    if not isinstance(name, str) or name_fault(TAG, name) or name not in known:
        problems.add(
            "loop: type",
            f"there is no loop type '{shown(name)}'{did_you_mean(str(name)[:60], known)}",
        )
        problems.check()
    own = beside / f"{name}.toml"
    path = own if own.is_file() else models() / f"{name}.toml"
    try:
        stamp = path.stat()
    except OSError:
        return _read_type(path)
    return _known_type(path, stamp.st_mtime_ns, stamp.st_size)


@lru_cache(maxsize=64)
def _known_type(path: Path, changed: int, size: int) -> Raw:
    """A loop type read once, as long as its file stays the same: a plant has many sheets of it."""
    return _read_type(path)


def _read_type(path: Path) -> Raw:
    found = Problems(str(path))
    raw = _type_raw(path, found)
    found.check()
    return raw


def _type_raw(path: Path, problems: Problems) -> Raw:
    raw = structure(read_table(path), problems)
    for key in ("omit", "rename"):
        if getattr(raw, key):
            problems.add(key, "a loop type has nothing to change; only a sheet can do this")
    if "type" in raw.loop:
        problems.add("loop: type", "a loop type cannot build on another one; remove the key")
    return raw


def _nothing_to_change(sheet: Raw, problems: Problems) -> None:
    for key in ("omit", "rename"):
        if getattr(sheet, key):
            problems.add(
                key,
                "the sheet has no type whose parts this could change; add type = "
                '"two-wire-input" below [loop]',
            )


def _finished(merged: Raw, sheet: Raw, problems: Problems) -> Loop:
    loop = assemble(merged, sheet.parts, problems)
    return replace(loop, digest=_digest(merged), source=problems.file)


def _digest(raw: Raw) -> str:
    """Identifies what the loop was made of, for caches: content and version of the package."""
    content = {"version": package_version(), **raw.content()}
    return sha256(json.dumps(content, sort_keys=True, default=str).encode()).hexdigest()
