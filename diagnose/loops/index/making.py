"""Sheets written: checked as any sheet is, only where they say something new, never over a hand."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator
from dataclasses import replace
from pathlib import Path

from diagnose.errors import SheetError
from diagnose.loops.catalogue import Card, card_of
from diagnose.loops.index.compose import sheet_text
from diagnose.loops.index.handwork import (
    Found,
    differences,
    digest_of,
    found_at,
    stamped,
    write_sheet,
)
from diagnose.loops.index.roles import ROLES, Roles
from diagnose.loops.index.rows import CHANGED, DIFFERS, KEPT, NEW, PROBLEM, SAME, UNUSED, Entry
from diagnose.loops.index.schedules import key_of
from diagnose.loops.index.wanted import Wanted
from diagnose.loops.sheet import both_of


def files_of(folder: Path) -> dict[str, Path]:
    """The sheets that are there by their names in small letters: LT-1 and lt-1 are one loop."""
    return {path.stem.casefold(): path for path in (folder / "sheets").glob("*.toml")}


def make(entry: Entry, wanted: Wanted, path: Path, dry: bool, take: Collection[str]) -> Card | None:
    """Check what the sheet would say, and write it to ``path`` where it says something new.

    The card of a sheet that was written comes back.
    """
    body, card = sheet_text(wanted), None
    try:
        found = found_at(path)
        if not (found and found.untouched and found.digest == digest_of(body)):
            checked = _checked(entry, wanted, path)  # what was made before was checked then
            if checked is None:
                return None
            body, card = checked
        _decide(entry, found, body, bool({key_of(wanted.tag), "all"} & {*take}))
        if dry or entry.result not in (NEW, CHANGED):
            return None
        write_sheet(path, stamped(body), keep=found is not None and not found.untouched)
    except OSError as error:
        entry.reject("tag", f"{path.name} cannot be written: {error.strerror or error}")
        return None
    return card


def _decide(entry: Entry, found: Found | None, body: str, taken: bool) -> None:
    """Whether the sheet is new, changed, as it was, or kept for the hand that edited it."""
    if found is None:
        entry.result = NEW
    elif found.untouched and found.digest == digest_of(body):
        entry.result = SAME
    elif found.untouched or taken:
        entry.result = CHANGED
        lines = differences(found.text, stamped(body))
        entry.note("", DIFFERS, "\n".join([f"{len(lines)} lines differ", *lines]))
    else:
        _keep(entry, found.text, found.digest, body)


def _keep(entry: Entry, text: str, digest: str, body: str) -> None:
    entry.result = KEPT
    if digest == digest_of(body):
        entry.note("tag", UNUSED, "edited by hand; the index says what it said before")
        return
    why = "edited by hand" if digest else "written by hand"
    lines = differences(text, stamped(body))
    told = f"{why}, and the index says something else; --take {entry.tag} takes the index"
    entry.note("tag", PROBLEM, "\n".join([told, *lines]))


def _checked(entry: Entry, wanted: Wanted, path: Path) -> tuple[str, Card] | None:
    """The text of a sheet that can be loaded, and its card; None where there is none, and why."""
    body = sheet_text(wanted)
    try:
        table = tomllib.loads(body)
        raw, loop = both_of(table, path)
    except SheetError as error:
        key, sentence = error.problems[0][1:]
        old = next((name for name, field in _strips(wanted) if field == "strip"), None)
        if key == "rename" and old is not None and old in wanted.rename:
            rename = {name: new for name, new in wanted.rename.items() if name != old}
            entry.note("strip", PROBLEM, f"{sentence}; only the listed terminals get names of it")
            return _checked(entry, replace(wanted, rename=rename), path)
        entry.reject("", f"{key}: {sentence}")
        return None
    return body, card_of(path.stem, table, raw, loop)


def _strips(wanted: Wanted) -> Iterator[tuple[str, str]]:
    for field, targets in ROLES.get(wanted.type, Roles()).names.items():
        yield from ((name, field) for name, _ in targets)


def left(folder: Path, named: Collection[str]) -> Iterator[str]:
    """Made sheets whose tag the index has no more."""
    for path in sorted((folder / "sheets").glob("*.toml")):
        if key_of(path.stem) not in named:
            found = found_at(path)
            if found is not None and found.digest:
                yield path.stem
