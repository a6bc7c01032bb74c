"""The digest of a folder of cases: its rows kept, so that only what changed is read again."""

from __future__ import annotations

import os
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from diagnose.casework.packs import PACK, may_be_case
from diagnose.casework.record import SCHEMA as CASES
from diagnose.library import cache_folder
from diagnose.loops.names import spelt
from diagnose.review import from_files
from diagnose.review.rows import COLUMNS, ORIGIN, SCHEMA, quoted

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

FEW = 200
"""Up to so many files are read each time; a digest would save nothing that anybody notices."""

SAME = "l.file = k.file and l.size = k.size and l.changed = k.changed"
"""A file of the folder is the one that the digest knows."""


def refreshed(engine: DuckDBPyConnection, folder: Path, plant: str, keep: bool) -> None:
    """Append the rows of a folder's cases to ``cases``; files gone are gone.

    The digest knows each file by name, size and time of change, a pack as one file.
    """
    names = _names(folder)
    packs = [name for name in names if name.endswith(PACK)]
    # not the number of rows: where some were removed, that of a later row is higher
    before = int(engine.execute("select coalesce(max(rowid) + 1, 0) from cases").fetchall()[0][0])
    if not keep or (len(names) <= FEW and not packs):
        from_files.add_files(engine, folder, names, plant)
    else:
        _by_digest(engine, folder, plant, names, before)
    if packs and len(packs) < len(names):
        # what has a file of its own again was gone on with since it was packed
        engine.execute(
            f"delete from cases where rowid >= {before} and not ends_with(file, '.jsonl') and "
            f"name || '.jsonl' in (select file from cases where rowid >= {before})"
        )


def _by_digest(
    engine: DuckDBPyConnection, folder: Path, plant: str, names: list[str], before: int
) -> None:
    """Read what is new or changed; the other rows are those of the digest."""
    path = digest_path(folder, plant)
    known, stale = _known(engine, path), True
    if known:
        _list(engine, folder, names)
        changed = engine.execute(
            f"select l.place from listing l anti join known k on {SAME} order by l.place"
        ).fetchall()
        names = [names[place] for (place,) in changed]
        columns = ", ".join(f"k.{name}" for name in (*COLUMNS, *ORIGIN))
        engine.execute(f"insert into cases select {columns} from known k join listing l on {SAME}")
        engine.execute("drop table listing")
        counted = f"select count(*) from cases where rowid >= {before}"
        kept = int(engine.execute(counted).fetchall()[0][0])
        stale = bool(names) or kept != known
    if names:
        from_files.add_files(engine, folder, names, plant)
    if stale:
        _write(engine, path, before)
    engine.execute("drop view if exists known")


def digest_path(folder: Path, plant: str) -> Path:
    """Where the digest of a folder is kept; another plant name or another form is another one."""
    told = repr((str(folder.resolve()), plant, SCHEMA, ORIGIN, _form()))
    return cache_folder() / "review" / f"{sha256(told.encode()).hexdigest()[:32]}.parquet"


def _form() -> str:
    """Changes with the code that makes rows, and with the cases that it can read."""
    digest = sha256(f"{CASES}".encode())
    for module in ("case_judged", "case_rows", "case_text", "from_files", "take", "vocabulary"):
        digest.update(Path(__file__).with_name(f"{module}.py").read_bytes())
    return digest.hexdigest()


def _names(folder: Path) -> list[str]:
    """The files of cases and the packs in a folder, in the order in which they lie on the disk.

    A million small files are read faster in that order where the disk has to be asked.
    """
    found: list[tuple[int, str]] = []
    with suppress(FileNotFoundError), os.scandir(folder) as entries:
        found = [
            (entry.inode(), entry.name)
            for entry in entries
            if entry.name.endswith((".jsonl", PACK))
            and not entry.name.startswith(".")
            and may_be_case(entry)
        ]
    return [name for _, name in sorted(found)]


def _list(engine: DuckDBPyConnection, folder: Path, names: list[str]) -> None:
    """Make the table ``listing``: files with size, time of change (ns) and place in the list."""
    sizes = np.zeros(len(names), dtype=np.int64)
    changed = np.zeros(len(names), dtype=np.int64)
    for place, name in enumerate(names):
        with suppress(OSError):  # gone since it was listed, or not to be read
            told = os.stat(os.path.join(folder, name))
            sizes[place], changed[place] = told.st_size, told.st_mtime_ns
    engine.register(
        "listing_now",
        {"file": np.array([*map(spelt, names)], dtype=object), "size": sizes, "changed": changed,
         "place": np.arange(len(names))},
    )  # fmt: skip
    engine.execute("create or replace temp table listing as from listing_now")
    engine.unregister("listing_now")


def _known(engine: DuckDBPyConnection, path: Path) -> int:
    """Name the old digest ``known``: how many rows it has; none if it is absent or damaged."""
    import duckdb

    with suppress(duckdb.Error):
        if path.is_file():
            engine.execute(
                f"create or replace temp view known as from read_parquet({quoted(str(path))})"
            )
            told = "count(*), count(name), count(file), count(size), count(changed)"
            return int(engine.execute(f"select {told} from known").fetchall()[0][0])
    return 0


def _write(engine: DuckDBPyConnection, path: Path, before: int) -> None:
    """Keep the rows from ``before`` on; where that cannot be done, they are made anew next time."""
    import duckdb

    with suppress(OSError, duckdb.Error):
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_name(f"{path.stem}.{os.getpid()}.tmp")
        engine.execute(
            f"copy (from cases where rowid >= {before}) to {quoted(str(fresh))} (format parquet)"
        )
        os.replace(fresh, path)
