"""The table of cases in a database of the company: PostgreSQL, SQLite or a file of the engine.

Rows are read as JSON, one line each, and loaded by their names; nothing is written there.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlsplit

from diagnose.loops.names import shown
from diagnose.review.addresses import reason, told
from diagnose.review.refused import ReviewError
from diagnose.review.rows import COLUMNS, LISTS

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

VITAL = ("name", "tag", "day", "status")
"""Columns that make a table one of cases."""

JOINT = " | "
"""Between the items of a list where a column holds text, as in an exported CSV file."""

WAIT = 10
"""Seconds after which a server that does not answer is given up."""

_TEXTS = (25, 1043)
"""PostgreSQL's numbers of the types text and varchar (pg_type.h)."""


def is_database(where: str) -> bool:
    """Whether a source is one."""
    return where.partition(":")[0].casefold() in {*_READERS, "duckdb", "mysql"}


def parted(where: str) -> tuple[str, str, str]:
    """Scheme, address and table (``cases`` if none is named) of ``ADDRESS#TABLE``."""
    address, _, table = where.partition("#")
    table = table or "cases"
    if not re.fullmatch(r"[A-Za-z_]\w*(\.[A-Za-z_]\w*)?", table, re.ASCII):
        raise ReviewError(f"'{shown(table)}' names no table; write ADDRESS#table")
    scheme = address.partition(":")[0].casefold()
    if scheme not in {*_READERS, "duckdb"}:
        raise ReviewError(f"{told(address)}: only {', '.join((*_READERS, 'duckdb'))} are read")
    return scheme, address, table


def lines(where: str) -> Iterator[str]:
    """The rows of a table as JSON, by the names of their columns.

    Raises
    ------
    ReviewError
        The package or the server is missing, it may not be read, or it is no table of cases.
    """
    scheme, address, table = parted(where)
    try:
        yield from _READERS[scheme](address, table)
    except ImportError as error:
        raise ReviewError(
            f"{told(address)}: to read it, install diagnose with its extra 'remote'"
        ) from error
    except _errors() as error:
        raise ReviewError(f"{told(address)}: {reason(error, address)}") from error


def missing(there: Iterable[str]) -> str | None:
    """The first vital column that is not there."""
    known = set(there)
    return next((name for name in VITAL if name not in known), None)


def no_cases(name: str) -> str:
    """What is told of a table that lacks a vital column."""
    return f"it has no column '{name}': this is no table of cases"


def _ours(address: str, there: Sequence[str]) -> list[str]:
    lacking = missing(there)
    if lacking:
        raise ReviewError(f"{told(address)}: {no_cases(lacking)}")
    return [name for name in COLUMNS if name in there]


def _postgres(address: str, table: str) -> Iterator[str]:
    import psycopg
    from psycopg import sql

    try:
        urlsplit(address).port  # noqa: B018  (it looks whether there is one that can be)
    except ValueError as error:
        raise ReviewError(f"{told(address)}: {reason(error, address)}") from error
    with psycopg.connect(address, connect_timeout=WAIT) as server:
        server.read_only = True
        source = sql.Identifier(*table.split("."))
        cursor = server.execute(sql.SQL("select * from {} limit 0").format(source))
        types = {item.name: item.type_code for item in cursor.description or ()}
        columns = [
            sql.SQL("string_to_array(nullif({0}, ''), {1}) as {0}").format(
                sql.Identifier(name), sql.Literal(JOINT)
            )
            if name in LISTS and types[name] in _TEXTS
            else sql.Identifier(name)
            for name in _ours(address, list(types))
        ]
        query = sql.SQL("copy (select row_to_json(t) from (select {} from {}) t) to stdout")
        with cursor.copy(query.format(sql.SQL(", ").join(columns), source)) as rows:
            for (row,) in rows.rows():
                yield str(row)


def _sqlite(address: str, table: str) -> Iterator[str]:
    path = Path(address.partition(":")[2])
    if not path.is_file():
        raise ReviewError(f"{told(address)}: there is no such file")
    named = ".".join(f'"{name}"' for name in table.split("."))
    uri = f"file:{quote(str(path.resolve()))}?mode=ro"
    with closing(sqlite3.connect(uri, uri=True)) as file:
        there = [item[0] for item in file.execute(f"select * from {named} limit 0").description]
        names = _ours(address, there)
        for row in file.execute(f"select {', '.join(names)} from {named}"):
            yield json.dumps(
                {name: _list(value) if name in LISTS else value
                 for name, value in zip(names, row, strict=True)},
                default=str,
            )  # fmt: skip


def _list(value: Any) -> list[str]:
    """A list from text: JSON, or joined as in an exported CSV file."""
    text = str(value or "")
    if text.startswith("["):
        try:
            return [str(item) for item in json.loads(text)]
        except ValueError:
            pass
    return text.split(JOINT) if text else []


_READERS = {"postgres": _postgres, "postgresql": _postgres, "sqlite": _sqlite}


def _errors() -> tuple[type[Exception], ...]:
    try:
        import psycopg
    except ImportError:
        return (sqlite3.Error,)
    return sqlite3.Error, psycopg.Error


def attach(engine: DuckDBPyConnection, where: str) -> str:
    """Attach a file of the engine itself, to be read; the table as the engine names it."""
    _, address, table = parted(where)
    place = address.partition(":")[2].replace("'", "''")
    engine.execute(f"attach '{place}' as company (type duckdb, read_only)")
    return f"company.{table}"
