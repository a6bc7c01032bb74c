"""The table of cases that a review asks: from folders, digests, addresses and databases.

A folder of case files is taken apart once; its rows are kept as a *digest* (Parquet) beside other
derived data, and only new and changed files are read again.  Figures: `tests/benchmarks/review.py`.
A digest, or case files, may as well lie behind an address (``https://…``, ``s3://…``), and a table
``cases`` in a database (``postgres://…``, ``mysql://…``, ``sqlite:FILE``, ``duckdb:FILE``); the
queries are the same.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from diagnose.errors import DiagnoseError
from diagnose.loops.names import shown
from diagnose.review.digests import refreshed
from diagnose.review.from_files import add_files
from diagnose.review.rows import COLUMNS, SCHEMA, CaseRow, Filters

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

MEMORY = "3GB"
"""What the engine may hold at once; beyond it, it works on disk."""


class ReviewError(DiagnoseError):
    """Cases that cannot be reviewed; one sentence."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where cases come from, and the name of the plant that they belong to.

    ``where`` is a folder of case files, a digest (``.parquet``), or an address.
    """

    where: str
    plant: str = ""


class Records:
    """All cases of a review in one table ``cases`` (``rows.CaseRow``), held by the engine.

    >>> Records.open([]).count()
    0
    """

    def __init__(self, engine: DuckDBPyConnection) -> None:
        self.engine = engine

    @classmethod
    def open(cls, sources: Iterable[Source], keep: bool = True) -> Records:
        """The cases of all sources; ``keep`` lets digests of folders be kept for the next time.

        Raises
        ------
        ReviewError
            A source is not there, cannot be read, or has no such columns.
        """
        found = cls(_engine())
        for source in sources:
            try:
                found._add(source, keep)
            except _engine_errors() as error:
                reason = shown(str(error).splitlines()[0], 200)
                raise ReviewError(f"{shown(source.where, 200)}: {reason}") from error
        return found

    @classmethod
    def of_rows(cls, rows: Sequence[CaseRow]) -> Records:
        """The table of some rows."""
        found = cls(_engine())
        found.add_rows(rows)
        return found

    def add_rows(self, rows: Iterable[CaseRow]) -> None:
        """Append rows: imported work orders, for one."""
        with TemporaryDirectory() as folder:
            path = Path(folder) / "rows.jsonl"
            with path.open("w", encoding="utf-8") as file:
                file.writelines(
                    f"{json.dumps({name: getattr(row, name) for name in COLUMNS}, default=str)}\n"
                    for row in rows
                )
            self.engine.execute(
                f"insert into cases from read_json(?, format = 'newline_delimited', "
                f"columns = {_struct(SCHEMA)})",
                [str(path)],
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

    def _add(self, source: Source, keep: bool) -> None:
        where = source.where
        if _is_database(where):
            self._add_database(where)
        elif where.endswith(".parquet"):
            self._take(f"read_parquet({_quoted(where)})")
        elif "://" in where:
            self._add_address(where, source.plant)
        elif Path(where).is_dir():
            self._add_folder(Path(where), source.plant, keep)
        else:
            raise ReviewError(
                f"there is no folder '{shown(where, 200)}'; name a folder of cases, a .parquet "
                "digest, or an address"
            )

    def _add_folder(self, folder: Path, plant: str, keep: bool) -> None:
        refreshed(self.engine, folder, plant, keep)

    def _add_address(self, where: str, plant: str) -> None:
        """Case files behind an address, whose pattern the engine resolves."""
        pattern = where if where.endswith(".jsonl") else f"{where.rstrip('/')}/*.jsonl"
        found = self.engine.execute("select file from glob(?) order by file", [pattern]).fetchall()
        add_files(self.engine, [path for (path,) in found], plant)

    def _add_database(self, where: str) -> None:
        address, _, table = where.partition("#")
        table = table or "cases"
        if not re.fullmatch(r"\w+(\.\w+)?", table):
            raise ReviewError(f"'{shown(table)}' names no table; write ADDRESS#table")
        kind, place = _database(address)
        self.engine.execute(f"attach {_quoted(place)} as company (type {kind}, read_only)")
        self._take(f"company.{table}")
        self.engine.execute("detach company")

    def _take(self, relation: str) -> None:
        """Append what has our columns; columns that lack are empty, others are left alone."""
        there = {
            row[0] for row in self.engine.execute(f"describe select * from {relation}").fetchall()
        }
        missing = [name for name in ("name", "tag", "day", "status") if name not in there]
        if missing:
            raise ReviewError(f"it has no column '{missing[0]}': this is no table of cases")
        names = ", ".join(name for name in COLUMNS if name in there)
        self.engine.execute(f"insert into cases ({names}) select {names} from {relation}")


_DATABASES = {
    "postgres": "postgres",
    "postgresql": "postgres",
    "mysql": "mysql",
    "sqlite": "sqlite",
    "duckdb": "duckdb",
}
_FILES = ("sqlite", "duckdb")


def _is_database(where: str) -> bool:
    return where.partition(":")[0].casefold() in _DATABASES


def _database(address: str) -> tuple[str, str]:
    """Type and place of a database: a file for two of them, else the whole address."""
    scheme, _, rest = address.partition(":")
    kind = _DATABASES[scheme.casefold()]
    return kind, rest if kind in _FILES else address


def _quoted(text: str) -> str:
    """A text as SQL writes it."""
    return "'" + text.replace("'", "''") + "'"


def _row(values: Sequence[Any]) -> CaseRow:
    plain: list[Any] = [tuple(value) if isinstance(value, list) else value for value in values]
    return CaseRow(*plain)


def _struct(types: Mapping[str, str]) -> str:
    return "{" + ", ".join(f"{name}: '{type_}'" for name, type_ in types.items()) + "}"


def _engine() -> DuckDBPyConnection:
    try:
        import duckdb
        import scipy  # noqa: F401  (statistics needs it, and would find out late)
    except ImportError as error:
        raise ReviewError(
            f"a review needs '{error.name}': install diagnose with its extra 'review'"
        ) from error
    engine = duckdb.connect()
    engine.execute(f"set memory_limit = '{MEMORY}'")
    engine.execute("set preserve_insertion_order = false")
    engine.execute("set enable_progress_bar = false")  # it would mix with what is printed
    columns = ", ".join(f"{name} {type_}{_default(name)}" for name, type_ in SCHEMA.items())
    engine.execute(f"create table cases ({columns})")
    return engine


_EMPTY = CaseRow("")


def _default(name: str) -> str:
    """The default of a column that some source lacks, as in ``CaseRow``."""
    value = getattr(_EMPTY, name)
    if value is None:
        return ""
    if isinstance(value, tuple):
        return " default []"
    return f" default {_quoted(value) if isinstance(value, str) else value}"


def _engine_errors() -> type[Exception]:
    import duckdb

    return duckdb.Error
