"""The rows of a review as a file for other programs."""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.loops.names import shown
from diagnose.review.records import Records
from diagnose.review.refused import ReviewError
from diagnose.review.rows import COLUMNS, SCHEMA, Filters

if TYPE_CHECKING:
    from collections.abc import Mapping

FORMATS: Mapping[str, str] = {
    ".csv": "format csv, header true",
    ".json": "format json, array true",
    ".parquet": "format parquet",
}

RISKY = "=+-@\t\r"
"""A spreadsheet takes a text that begins so for a formula."""


def export(records: Records, path: Path | str, filters: Filters | None = None) -> int:
    """Write one row a case, by day and name; the number of rows.

    In a CSV file, lists are joined by `` | `` and a text that a spreadsheet would take for a
    formula has an apostrophe before it.

    Raises
    ------
    ReviewError
        The ending of the name is unknown, or the file cannot be written.
    """
    path = Path(path)
    style = FORMATS.get(path.suffix.casefold())
    if style is None:
        raise ReviewError(f"{shown(path, 200)}: name it .csv, .json or .parquet")
    names = ", ".join(_for_csv(name) if path.suffix.casefold() == ".csv" else name
                      for name in COLUMNS)  # fmt: skip
    records.make("exported", f"select {names} from chosen order by day, name", filters)
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        records.engine.execute(
            f"copy (from exported order by day, name) to '{_quoted(fresh)}' ({style})"
        )
        os.replace(fresh, path)
    except _errors() as error:
        with suppress(OSError):  # on a file system that is read-only there is nothing to take away
            fresh.unlink(missing_ok=True)
        reason = shown(_reason(error), 200)
        raise ReviewError(f"{shown(path, 200)} cannot be written: {reason}") from error
    return int(records.engine.execute("select count(*) from exported").fetchall()[0][0])


def _reason(error: Exception) -> str:
    """Why a file cannot be written, in the words of the system where the engine hands them on."""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    text = str(error)
    number = _NUMBER.search(text)
    if number is not None:
        return os.strerror(int(number[1])).lower()
    first = text.splitlines()[0]
    return first.rpartition('": ')[2].lower() if first.startswith(_CANNOT_OPEN) else first


_NUMBER = re.compile(r'"errno"\s*:\s*"?(\d{1,4})')
_CANNOT_OPEN = "IO Error: Cannot open file"


def _for_csv(name: str) -> str:
    if SCHEMA[name] == "VARCHAR[]":
        return _guarded(f"array_to_string({name}, ' | ')", name)
    return _guarded(name, name) if SCHEMA[name] == "VARCHAR" else name


def _guarded(value: str, name: str) -> str:
    signs = ", ".join(f"chr({ord(sign)})" for sign in RISKY)
    return (
        f"case when left({value}, 1) in ({signs}) then '''' || {value} else {value} end as {name}"
    )


def _quoted(path: Path) -> str:
    return str(path).replace("'", "''")


def _errors() -> tuple[type[Exception], ...]:
    import duckdb

    return OSError, duckdb.Error
