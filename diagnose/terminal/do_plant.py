"""``plant``: starts a plant folder, and imports an instrument index into one."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from diagnose.errors import DiagnoseError, SheetError
from diagnose.library import write_whole
from diagnose.loops.index.fields import TABLES
from diagnose.loops.index.headings import guess
from diagnose.loops.index.importing import Imported, import_index
from diagnose.loops.index.mapping import MAPPING_FILE, Mapped, mapping_text, read_mapping
from diagnose.loops.index.report import report_csv
from diagnose.loops.index.tables import Grid, read_grid
from diagnose.loops.names import shown
from diagnose.loops.new_plant import new_plant
from diagnose.loops.plant import Plant
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.ask import asker
from diagnose.terminal.ask_mapping import ask_mapping, guessed
from diagnose.terminal.find_loop import plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, SCHEMA, Look, Outcome
from diagnose.terminal.render_import import import_json, import_lines
from diagnose.terminal.wording import paragraph


def plant(arguments: Namespace) -> Outcome:
    """Start a plant folder, or make sheets from an index."""
    jobs = {"new": _new, "import": _import}
    if arguments.action not in jobs:
        raise UsageError(f"'{shown(arguments.action)}' is no job of plant; it does new and import")
    return jobs[arguments.action](arguments)


def _new(arguments: Namespace) -> Outcome:
    folder = Path(arguments.target)
    name = arguments.name or folder.resolve().name
    made = new_plant(folder, name, arguments.unit or "")
    data = {"schema": SCHEMA, "folder": str(folder), "files": [str(path) for path in made]}

    def lines(look: Look) -> Iterator[str]:
        yield from (f"made  {path}" for path in made)
        yield from paragraph(
            f"Next: cd {folder}, then diagnose sheet new TAG, or diagnose plant import FILE.", look
        )

    return Outcome(data, lines)


def _import(arguments: Namespace) -> Outcome:
    plant = plant_of(arguments)
    if plant.is_demo:
        raise UsageError(
            "the demo plant is read-only; make one with diagnose plant new FOLDER and name it "
            "with --plant FOLDER"
        )
    files = {
        "index": arguments.target,
        "terminals": arguments.terminals,
        "cables": arguments.cables,
    }
    grids = {
        table: read_grid(file, arguments.page if table == "index" else None)
        for table, file in files.items()
        if file
    }
    mapped, fresh = _mapping(arguments, plant, grids)
    done = import_index(
        plant.folder, mapped, grids, dry=arguments.trial, take=arguments.take,
        progress=_progress if sys.stderr.isatty() else None,
    )  # fmt: skip
    _report(arguments.report, done)
    bad = done.problems or done.count("rejected")
    every = bool(arguments.every)
    return Outcome(
        {**import_json(done), "mapping": str(fresh) if fresh else None},
        lambda look: import_lines(done, look, every=every, fresh=fresh),
        NEGATIVE if bad else DONE,
    )


def _mapping(
    arguments: Namespace, plant: Plant, grids: dict[str, Grid]
) -> tuple[Mapped, Path | None]:
    """The mapping of the plant; where there is none it is guessed or asked for, and written."""
    path = Path(arguments.map) if arguments.map else plant.folder / MAPPING_FILE
    if path.is_file() or arguments.map:
        found = read_mapping(path)
        missing = [table for table in grids if table not in found.columns]
        if missing:
            first = missing[0]
            seems = _seems(first, grids[first])
            sentence = f"the columns of this table are not named; write under [{first}]: {seems}"
            raise SheetError([(str(path), first, sentence)])
        return found, None
    ask = asker(f"write {MAPPING_FILE} by hand, or add --guess")
    found = guessed(grids) if arguments.guess else ask_mapping(grids, plant.folder, ask)
    if arguments.trial:
        return found, None
    try:
        write_whole(path, mapping_text(found).encode())
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror or error}") from error
    return read_mapping(path), path


def _seems(table: str, grid: Grid) -> str:
    """What the columns of a table seem to mean, as it is to be written."""
    named = guess(grid, table) or {field.name: "…" for field in TABLES[table][:4]}
    return ", ".join(f"{a} = {json.dumps(b, ensure_ascii=False)}" for a, b in named.items())


def _progress(done: int, of: int) -> None:
    if done % 25 == 0 or done == of:
        end = "\n" if done == of else ""
        print(f"\r{done} of {of} sheets", end=end, file=sys.stderr, flush=True)


def _report(file: str | None, done: Imported) -> None:
    if file:
        try:
            # With a byte order mark: spreadsheets take CSV for an old encoding without one.
            Path(file).write_text(report_csv(done), encoding="utf-8-sig", newline="")
        except OSError as error:
            raise ReportError(f"{file} cannot be written: {error.strerror or error}") from error


class ReportError(DiagnoseError):
    """The import is done, its report could not be written."""
