"""The table of cases that a review asks: from folders, digests, addresses and databases.

A folder of case files is taken apart once; its rows are kept as a *digest* (Parquet) beside other
derived data, and only new and changed files are read again.  Figures: `tests/benchmarks/review.py`.
A digest, or case files, may as well lie behind an address (``https://…``, ``s3://…``), and a table
``cases`` in a database (``postgres://…``, ``sqlite:FILE``, ``duckdb:FILE``); the queries are the
same.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from diagnose.casework.packs import PACK
from diagnose.loops.names import shown
from diagnose.review.addresses import errors as address_errors
from diagnose.review.addresses import fetched, path_of, reason, texts, told
from diagnose.review.bundles import cases_in
from diagnose.review.databases import attach, is_database, lines, missing, no_cases
from diagnose.review.digests import refreshed
from diagnose.review.from_files import add_pack, add_texts, load_lines
from diagnose.review.refused import ReviewError
from diagnose.review.rows import COLUMNS, ORIGIN, SCHEMA, CaseRow, Filters, default, quoted

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

MEMORY = "3GB"
"""What the engine may hold at once; beyond it, it works on disk."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where cases come from, and the name of the plant that they belong to.

    ``where`` is a folder of cases, one file of many (``.jsonl``), a pack (``.cases``), a digest
    (``.parquet``), or an address.
    """

    where: str
    plant: str = ""


class Records:
    """All cases of a review in one table ``cases`` (``rows.CaseRow``), held by the engine.

    ``twice`` counts the rows of cases that an earlier source held already.

    >>> Records.open([]).count()
    0
    """

    def __init__(self, engine: DuckDBPyConnection) -> None:
        self.engine = engine
        self.twice = 0

    @classmethod
    def open(cls, sources: Iterable[Source], keep: bool = True) -> Records:
        """The cases of all sources; ``keep`` lets digests of folders be kept for the next time.

        Raises
        ------
        ReviewError
            A source is not there, cannot be read, or has no such columns.
        """
        found, many = cls(_engine()), 0
        for many, source in enumerate(sources, 1):  # noqa: B007 (how many there were)
            try:
                found._add(source, keep)
            except (_engine_errors(), *address_errors()) as error:
                where = source.where
                raise ReviewError(f"{told(where)}: {reason(error, where)}") from error
        if many > 1:
            found._once()
        return found

    @classmethod
    def of_rows(cls, rows: Sequence[CaseRow]) -> Records:
        """The table of some rows."""
        found = cls(_engine())
        found.add_rows(rows)
        return found

    def add_rows(self, rows: Iterable[CaseRow]) -> None:
        """Append rows: imported work orders, for one."""
        self._add_lines(
            json.dumps({name: getattr(row, name) for name in COLUMNS}, default=str) for row in rows
        )

    def count(self, filters: Filters | None = None) -> int:
        """How many cases there are."""
        return int(self.ask("select count(*) from chosen", filters)[0][0])

    def rows(
        self, filters: Filters | None = None, names: Sequence[str] | None = None
    ) -> tuple[CaseRow, ...]:
        """The rows themselves, by day and name; ``names`` are the cases that are wanted."""
        some = "true" if names is None else "list_contains(?, name)"
        found = self.ask(
            f"select {', '.join(COLUMNS)} from chosen where {some} order by day, name",
            filters,
            [] if names is None else [list(names)],
        )
        return tuple(_row(row) for row in found)

    def ask(
        self, query: str, filters: Filters | None = None, values: Sequence[Any] = ()
    ) -> list[tuple[Any, ...]]:
        """The answer to a query over ``chosen``, the cases that pass the filters."""
        where, wanted = (filters or Filters()).where()
        whole = f"with chosen as (select * from cases where {where}) {query}"
        return self.engine.execute(whole, [*wanted, *values]).fetchall()

    def make(self, table: str, query: str, filters: Filters | None = None) -> None:
        """Keep the answer to a query over ``chosen`` as a table of the engine."""
        where, wanted = (filters or Filters()).where()
        self.engine.execute(
            f"create or replace temp table {table} as "
            f"with chosen as (select * from cases where {where}) {query}",
            wanted,
        )

    def _once(self) -> None:
        """A case that two sources hold, a folder and an export of it, counts once: the later state.

        ``twice`` is how many rows were dropped for that.
        """
        before = self.count()
        self.engine.execute(
            "delete from cases where rowid in (select rowid from (select rowid, row_number() over ("
            "partition by plant, source, name, tag, opened order by status = 'open', fault is null,"
            " readings desc, rowid) as n from cases) where n > 1)"
        )
        self.twice = before - self.count()

    def _add(self, source: Source, keep: bool) -> None:
        where, plant = _local(source.where), source.plant
        path = Path(where)
        if is_database(where):
            self._add_database(where)
        elif "://" in where and path_of(where).endswith(".parquet"):
            with TemporaryDirectory() as folder:
                copies = ", ".join(map(quoted, fetched(where, Path(folder))))
                self._take(f"read_parquet([{copies}])")
        elif "://" in where:
            add_texts(self.engine, texts(where), plant)
        elif where.endswith(".parquet"):
            self._take(f"read_parquet({quoted(where)})")
        elif where.endswith(PACK) and path.is_file():
            add_pack(self.engine, path, plant)
        elif where.endswith(".jsonl") and path.is_file():
            with path.open("rb") as file:
                add_texts(self.engine, cases_in(file, path.stem), plant)
        elif path.is_dir():
            refreshed(self.engine, path, plant, keep)
        else:
            raise ReviewError(
                f"there is no folder '{shown(where, 200)}'; name a folder of cases, a .jsonl file "
                "of many, a .parquet digest, or an address"
            )

    def _add_database(self, where: str) -> None:
        if where.casefold().startswith("duckdb:"):
            self._take(attach(self.engine, where))
            self.engine.execute("detach company")
        else:
            self._add_lines(lines(where))

    def _add_lines(self, rows: Iterable[str]) -> None:
        """Append rows written as JSON."""
        with TemporaryDirectory() as folder:
            path = Path(folder) / "rows.jsonl"
            with path.open("w", encoding="utf-8") as file:
                file.writelines(f"{row}\n" for row in rows)
            load_lines(self.engine, path)

    def _take(self, relation: str) -> None:
        """Append what has our columns; columns that lack are empty, others are left alone."""
        there = {
            row[0] for row in self.engine.execute(f"describe select * from {relation}").fetchall()
        }
        lacking = missing(there)
        if lacking:
            raise ReviewError(no_cases(lacking))
        names = ", ".join(name for name in COLUMNS if name in there)
        self.engine.execute(f"insert into cases ({names}) select {names} from {relation}")


def _local(where: str) -> str:
    """The path of a ``file://`` address; any other source as it is."""
    scheme, mark, rest = where.partition("://")
    return unquote(rest) if mark and scheme.casefold() == "file" else where


def _row(values: Sequence[Any]) -> CaseRow:
    plain: list[Any] = [tuple(value) if isinstance(value, list) else value for value in values]
    return CaseRow(*plain)


def _engine() -> DuckDBPyConnection:
    try:
        import duckdb
        import msgspec  # noqa: F401  (the processes need it, and would find out late)
        import scipy  # noqa: F401  (as statistics does)
    except ImportError as error:
        raise ReviewError(
            f"a review needs '{error.name}': install diagnose with its extra 'review'"
        ) from error
    engine = duckdb.connect()
    engine.execute(f"set memory_limit = '{MEMORY}'")
    engine.execute("set preserve_insertion_order = false")
    # nothing is kept on a disk: packing the table each 16 MB would take as long as filling it
    engine.execute("set checkpoint_threshold = '1TB'")
    engine.execute("set enable_progress_bar = false")  # it would mix with what is printed
    columns = ", ".join(
        f"{name} {type_}{_default(name)}" for name, type_ in (SCHEMA | ORIGIN).items()
    )
    engine.execute(f"create table cases ({columns})")
    return engine


def _default(name: str) -> str:
    value = default(name) if name in SCHEMA else ""
    return f" default {value}" if value else ""


def _engine_errors() -> type[Exception]:
    import duckdb

    return duckdb.Error
