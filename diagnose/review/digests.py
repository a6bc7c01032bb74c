"""The digest of a folder of cases: its rows kept, so that only what changed is read again."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from diagnose.library import cache_folder
from diagnose.review import case_queries, from_files, vocabulary
from diagnose.review.rows import COLUMNS, SCHEMA

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

FEW = 200
"""Up to so many files are read each time; a digest would save nothing that anybody notices."""

SAME = "l.name = k.name || '.jsonl' and l.size = k.size and l.changed = k.changed"
"""A file of the folder is the one that the digest knows."""


def refreshed(engine: DuckDBPyConnection, folder: Path, plant: str, keep: bool) -> None:
    """Append the rows of a folder's case files to ``cases``; files gone are gone.

    The digest knows each file by name, size and time of change.
    """
    names, sizes, changed = _listed(folder)
    if not keep or len(names) <= FEW:
        from_files.add_files(engine, [str(folder / name) for name in names], plant)
        return
    path = digest_path(folder, plant)
    engine.register("listing_now", {"name": names, "size": sizes, "changed": changed})
    engine.execute("create or replace temp table listing as from listing_now")
    engine.unregister("listing_now")
    known = _known(engine, path)
    changed_files = engine.execute(
        f"select l.name from listing l left join known k on {SAME} where k.name is null order by 1"
    ).fetchall()
    if changed_files:
        engine.execute("create or replace table fresh as from cases limit 0")
        paths = [str(folder / name) for (name,) in changed_files]
        from_files.add_files(engine, paths, plant, "fresh")
    stale = bool(changed_files) or known != len(names)
    if stale and _write(engine, path, bool(changed_files)):
        engine.execute("drop table if exists fresh")  # a million rows twice would fill the memory
        names_of = ", ".join(COLUMNS)
        engine.execute(f"insert into cases select {names_of} from read_parquet('{_safe(path)}')")
    else:
        columns = ", ".join(f"k.{name}" for name in COLUMNS)
        engine.execute(f"insert into cases select {columns} from known k join listing l on {SAME}")
        if changed_files:
            engine.execute("insert into cases from fresh")
    engine.execute("drop table if exists fresh")
    engine.execute("drop view known")
    engine.execute("drop table listing")


def digest_path(folder: Path, plant: str) -> Path:
    """Where the digest of a folder is kept; another plant name or another form is another one."""
    told = repr((str(folder.resolve()), plant, SCHEMA, _form()))
    return cache_folder() / "review" / f"{sha256(told.encode()).hexdigest()[:32]}.parquet"


def _form() -> str:
    """Changes with the query that makes rows."""
    digest = sha256()
    for module in (from_files, case_queries, vocabulary):
        digest.update(Path(str(module.__file__)).read_bytes())
    return digest.hexdigest()


def _listed(folder: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Names, sizes and times of change (ns) of the case files in a folder."""
    found = sorted(_files(folder))
    names = np.array([name for name, _, _ in found], dtype=object)
    sizes = np.array([size for _, size, _ in found], dtype=np.int64)
    return names, sizes, np.array([changed for _, _, changed in found], dtype=np.int64)


def _files(folder: Path) -> Iterator[tuple[str, int, int]]:
    if not folder.is_dir():
        return
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.endswith(".jsonl") and not entry.name.startswith("."):
                with suppress(FileNotFoundError):  # gone since it was listed
                    told = entry.stat()
                    yield entry.name, told.st_size, told.st_mtime_ns


def _known(engine: DuckDBPyConnection, path: Path) -> int:
    """Name the old digest ``known``: how many rows it has; none if it is absent or damaged."""
    import duckdb

    if path.is_file():
        with suppress(duckdb.Error):
            engine.execute(
                f"create or replace temp view known as from read_parquet('{_safe(path)}')"
            )
            told = "count(*), count(name), count(size), count(changed)"
            return int(engine.execute(f"select {told} from known").fetchall()[0][0])
    columns = ", ".join(f"null::{type_} as {name}" for name, type_ in SCHEMA.items())
    engine.execute(
        f"create or replace temp view known as select {columns}, null::BIGINT as size, "
        "null::BIGINT as changed limit 0"
    )
    return 0


def _write(engine: DuckDBPyConnection, path: Path, changed: bool) -> bool:
    """Keep the rows of the files listed; whether it could: if not, it is made anew next time."""
    import duckdb

    columns = ", ".join(f"k.{name}" for name in COLUMNS)
    rows = f"select {columns}, l.size, l.changed from known k join listing l on {SAME}"
    if changed:
        named = "l.name = k.name || '.jsonl'"
        rows += f" union all select k.*, l.size, l.changed from fresh k join listing l on {named}"
    with suppress(OSError, duckdb.Error):
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_name(f"{path.stem}.{os.getpid()}.tmp")
        engine.execute(f"copy ({rows}) to '{_safe(fresh)}' (format parquet)")
        os.replace(fresh, path)
        return True
    return False


def _safe(path: Path) -> str:
    return str(path).replace("'", "''")
