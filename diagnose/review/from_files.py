"""Rows of cases, made by the analytic engine from the text of case files.

The files are read as text, split into lines and taken apart by ``case_queries``, some thousand at a
time, so that memory does not grow with their number, and on as many threads as there are cores.  A
record counts once by its number; a line that is no record is counted as damaged and costs nothing
else.  What a case adds up to by ``casework.case`` is the judge of these queries (tests/review).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import chain, islice
from threading import Lock
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from diagnose.casework.hunt_task import IN_SERIES
from diagnose.loops.kind import Kind
from diagnose.review import case_queries as q
from diagnose.review.rows import COLUMNS
from diagnose.review.vocabulary import MECHANISMS, MODES, ON_COMPLAINT

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

BATCH = 2000
"""Cases taken apart at a time; some 25 kB each."""

METERS = ("V", "VAC", "Vlow", "mA", "clamp", "ohm")

Named = tuple[str, bytes]
"""The name of a case and its text."""

T = TypeVar("T")


@cache
def _breaking() -> list[str]:
    """Items of what whoever uses the signal notices, as a case records them."""
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    actions = (action for kind in Kind.registry.values() for action in kind.actions)
    titles = {action.title for action in actions if action.interrupts or action.moves_signal}
    return sorted({*titles, IN_SERIES, "jumper"})


def add_files(
    engine: DuckDBPyConnection, files: Iterable[str], plant: str, table: str = "cases"
) -> None:
    """Append the rows of case files (paths) to a table that all connections see."""

    def work(own: DuckDBPyConnection, some: Sequence[str]) -> None:
        _split(own, q.OF_FILES, [list(some)])
        _add_lines(own, plant, table)

    _share_out(engine, files, work)


def add_texts(
    engine: DuckDBPyConnection, texts: Iterable[Named], plant: str, table: str = "cases"
) -> None:
    """Append the rows of cases that were read elsewhere to a table that all connections see."""

    def work(own: DuckDBPyConnection, some: Sequence[Named]) -> None:
        names, contents = zip(*some, strict=True)
        own.register(
            "some_texts",
            {"file": np.array(names, dtype=object), "content": np.array(contents, dtype=object)},
        )
        _split(own, q.OF_TEXTS, [])
        own.unregister("some_texts")
        _add_lines(own, plant, table)

    _share_out(engine, texts, work)


def _split(engine: DuckDBPyConnection, queries: tuple[str, str], values: list[object]) -> None:
    """Make the table ``lines``; a text that is not UTF-8 has one line, which is empty."""
    import duckdb

    quick, careful = queries
    try:
        engine.execute(quick, values)
    except duckdb.ConversionException:
        engine.execute(careful, values)


def _add_lines(engine: DuckDBPyConnection, plant: str, table: str) -> None:
    """The rows of what lies in ``lines``."""
    engine.execute(q.RECORDS)
    engine.execute(q.VIEW)
    if engine.execute(q.TWICE).fetchall():  # rare, and costly to look after each time
        engine.execute(q.ONCE)
    for query in (q.SHEETS, q.OPENINGS, q.RANKINGS, q.LAST):
        engine.execute(query)
    engine.execute(q.SUMS, [_breaking(), list(METERS)])
    engine.execute(q.LEFT)
    engine.execute(
        f"insert into {table} ({', '.join(COLUMNS)}) {q.ROWS}",
        [plant, dict(MODES), dict(MECHANISMS), ON_COMPLAINT],
    )


def _share_out(
    engine: DuckDBPyConnection,
    items: Iterable[T],
    work: Callable[[DuckDBPyConnection, Sequence[T]], None],
) -> None:
    """Do batches on all cores; each thread has a connection, so temporary tables, of its own."""
    batches = _batches(items)
    lock = Lock()

    def run() -> None:
        own = engine.cursor()
        try:
            while True:
                with lock:
                    some = next(batches, None)
                if some is None:
                    return
                work(own, some)
        finally:
            own.close()

    first = next(batches, None)
    if first is None:
        return
    batches = chain([first], batches)
    workers = (os.cpu_count() or 1) if len(first) == BATCH else 1
    with ThreadPoolExecutor(workers) as pool:
        for done in [pool.submit(run) for _ in range(workers)]:
            done.result()


def _batches(items: Iterable[T]) -> Iterator[Sequence[T]]:
    left = iter(items)
    while some := list(islice(left, BATCH)):
        yield some
