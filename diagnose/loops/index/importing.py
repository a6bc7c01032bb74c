"""The import of an index: its rows become sheets of a plant, and every row is accounted for."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.errors import did_you_mean
from diagnose.library import type_names
from diagnose.loops.catalogue import Card, remember
from diagnose.loops.index.cells import habit
from diagnose.loops.index.fields import TABLES
from diagnose.loops.index.handwork import unsafe
from diagnose.loops.index.headings import Columns, find_columns
from diagnose.loops.index.making import files_of, left, make
from diagnose.loops.index.mapping import Mapped
from diagnose.loops.index.neighbours import join
from diagnose.loops.index.rows import DEFAULT, PROBLEM, READ_AS, UNUSED, Entry, entries
from diagnose.loops.index.schedules import apply_cables, apply_terminals, cables_of, key_of
from diagnose.loops.index.tables import Grid
from diagnose.loops.index.wanted import RowError, Wanted, make_room, want
from diagnose.loops.names import TAG, name_fault, shown
from diagnose.loops.sheet import names_of_type

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did: every row of every table, and the made sheets that the index has not."""

    rows: tuple[Entry, ...]
    left: tuple[str, ...]
    forms: Mapping[str, str]
    dry: bool

    def count(self, result: str, table: str = "index") -> int:
        """How many rows of a table came to this."""
        return sum(row.table == table and row.result == result for row in self.rows)

    @property
    def problems(self) -> int:
        """How many notes tell of something wrong."""
        return sum(note.kind == PROBLEM for row in self.rows for note in row.notes)


@dataclass(frozen=True, slots=True)
class _Read:
    """A table as read: its rows, its decimal mark, the units of its bare numbers."""

    rows: list[Entry]
    mark: str
    units: Mapping[str, str]


def import_index(
    folder: Path,
    mapped: Mapped,
    grids: Mapping[str, Grid],
    *,
    dry: bool = False,
    take: Collection[str] = (),
    progress: Progress | None = None,
) -> Imported:
    """Write the sheets of a plant from an index.

    Parameters
    ----------
    folder
        The plant folder; sheets go to ``sheets/`` in it.
    mapped
        What the columns mean.
    grids
        The tables by name: ``index``, and ``terminals`` and ``cables`` where there are any.
    dry
        Write nothing, only tell.
    take
        Tags whose sheet is to be taken from the index although it was edited by hand; ``all``.
    progress
        Called with how many loops are done, and of how many.

    Raises
    ------
    TableError
        A table lacks a column that the mapping names.
    """
    read = {name: _read(grid, name, mapped) for name, grid in grids.items()}
    index = read["index"]
    cables = cables_of(*_parts(read["cables"])) if "cables" in read else {}
    used: set[str] = set()
    loops: dict[str, tuple[Entry, Wanted]] = {}
    for entry in _distinct(index.rows):
        used |= apply_cables(entry, cables, index.units)
        wanted = _wanted(entry, index, mapped, folder)
        if wanted is not None:
            loops[key_of(entry.tag)] = entry, wanted
    for name, cable in cables.items():
        if name not in used:
            cable.entry.note("cable", UNUSED, "no loop of the index names this cable")
    if "terminals" in read:
        strips = {key: entry.cells.get("strip", "") for key, (entry, _) in loops.items()}
        apply_terminals(read["terminals"].rows, {k: w for k, (_, w) in loops.items()}, strips)
    join([wanted for _, wanted in loops.values()], folder)
    _write([*loops.values()], folder, dry, {key_of(tag) for tag in take}, progress)
    rows = tuple(row for table in read.values() for row in table.rows)
    forms = {name: f"{grid.name}: {grid.form}" for name, grid in grids.items()}
    named = {key_of(entry.tag) for entry in index.rows if entry.tag}
    return Imported(rows, tuple(left(folder, named)), forms, dry)


def _write(
    loops: Sequence[tuple[Entry, Wanted]],
    folder: Path,
    dry: bool,
    take: Collection[str],
    progress: Progress | None,
) -> None:
    """Make the sheets, one by one; what was written is entered in the catalogue of the plant."""
    cards: dict[Path, Card] = {}
    there = files_of(folder)
    for done, (entry, wanted) in enumerate(loops, 1):
        usual = folder / "sheets" / f"{wanted.tag}.toml"
        path = there.get(wanted.tag.casefold(), usual)
        card = make(entry, wanted, path, dry, take)
        if card is not None:
            cards[path] = card
        if progress:
            progress(done, len(loops))
    if cards:
        remember(folder, cards)


def _parts(read: _Read) -> tuple[list[Entry], str, Mapping[str, str]]:
    return read.rows, read.mark, read.units


def _read(grid: Grid, table: str, mapped: Mapped) -> _Read:
    columns: Columns = find_columns(grid, table, mapped.columns.get(table, {}))
    rows = list(entries(grid, table, columns, mapped.down if table == "index" else ()))
    known = {field.name for field in TABLES[table]}
    units = {
        name: unit for name, unit in {**mapped.units, **columns.units}.items() if name in known
    }
    mark = mapped.decimal or habit(cell for entry in rows for cell in entry.cells.values())
    return _Read(rows, mark, units)


# -- rows of the index ---------------------------------------------------------------------------


def _distinct(rows: list[Entry]) -> Iterator[Entry]:
    """The rows that stand for one loop each; a tag told in two ways is told by none of them."""
    by_tag: dict[str, list[Entry]] = {}
    for entry in rows:
        if entry.good and _tagged(entry):
            by_tag.setdefault(key_of(entry.tag), []).append(entry)
    for same in by_tag.values():
        first, *others = same
        differ = sorted(
            {entry.labels[name] for entry in others for name in entry.cells
             if entry.cells[name] != first.cells[name] and name != "tag"}
        )  # fmt: skip
        for entry in others:
            entry.reject("tag", _double(entry.tag, first.number, differ))
        if differ:
            first.reject("tag", _double(first.tag, others[0].number, differ))
        else:
            yield first


def _double(tag: str, row: int, differ: list[str]) -> str:
    if not differ:
        return f"{tag} stands in row {row} already, told the same way"
    return f"{tag} stands in row {row} as well, with another {', '.join(differ[:4])}; keep one"


def _tagged(entry: Entry) -> bool:
    raw = entry.tag
    tag = "-".join(raw.replace(" - ", "-").split())
    if not tag:
        entry.reject("tag", "the row has no tag")
    elif name_fault(TAG, tag) or unsafe(tag):
        entry.reject("tag", name_fault(TAG, tag) or unsafe(tag))
    elif tag != raw:
        entry.note("tag", READ_AS, f"{shown(raw)} is read as {tag}")
    entry.cells["tag"] = tag if entry.good else shown(raw)
    return entry.good


def _wanted(entry: Entry, index: _Read, mapped: Mapped, folder: Path) -> Wanted | None:
    name = _type_of(entry, mapped, type_names(folder / "models"))
    if name is None:
        return None
    cells = dict(entry.cells)
    for field in TABLES["index"]:
        usual = mapped.default(field.name, name)
        if field.name in ("type", "tag") or cells.get(field.name):
            continue
        if usual:
            cells[field.name] = usual
        if field.name in entry.cells:
            told = f"{usual}, by the mapping file" if usual else "as the loop type has it"
            entry.note(field.name, DEFAULT, told)
    try:
        wanted = want(cells, name, index.mark, index.units, entry.note)
    except RowError as error:
        entry.reject(error.field, error.reason)
        return None
    parts, nodes = names_of_type(name, folder)
    make_room(wanted, (*parts, *nodes), entry.note)
    return wanted


def _type_of(entry: Entry, mapped: Mapped, types: tuple[str, ...]) -> str | None:
    word = entry.cells.get("type", "")
    known = {name.casefold(): name for name in types}
    known |= {said.casefold(): name for said, name in mapped.types.items()}
    if word:
        found = known.get(word.casefold())
        if found is None:
            near = did_you_mean(word, [*types, *mapped.types])
            cure = near or "; say under [types] in index.toml which one it means"
            entry.reject("type", f"'{shown(word)}' is no loop type{cure}")
        return found
    letters = entry.tag.casefold()
    fitting = [begin for begin in mapped.letters if letters.startswith(begin.casefold())]
    usual = mapped.letters[max(fitting, key=len)] if fitting else mapped.default("type", "")
    if not usual:
        entry.reject("type", "the row has no loop type")
        return None
    entry.note("type", DEFAULT, f"{usual}, by the mapping file")
    return usual
