"""Rows of cases, made of the text of case files and appended to a table of the engine.

Cases are taken apart some thousand at a time by processes, one on each core (``take``), so that
memory does not grow with their number; the engine loads their rows as they come.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import chain, islice
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock, get_ident
from typing import TYPE_CHECKING, TypeVar

from diagnose.casework.checks import CaseError
from diagnose.casework.hunt_task import IN_SERIES
from diagnose.casework.packs import PACK, open_pack
from diagnose.loops.kind import Kind
from diagnose.review.processes import share_out
from diagnose.review.refused import ReviewError
from diagnose.review.rows import COLUMNS, ORIGIN, SCHEMA, default

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from diagnose.review.take import Batch, Named

BATCH = 2000
"""Cases taken apart at a time."""

ENOUGH = 16_000_000
"""Bytes of rows that are loaded at a time: each time costs as much as some thousand rows."""

T = TypeVar("T")


@cache
def breaking() -> frozenset[str]:
    """Items of what whoever uses the signal notices, as a case records them."""
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    actions = (action for kind in Kind.registry.values() for action in kind.actions)
    titles = {action.title for action in actions if action.interrupts or action.moves_signal}
    return frozenset({*titles, IN_SERIES, "jumper"})


def add_files(engine: DuckDBPyConnection, folder: Path, names: Sequence[str], plant: str) -> None:
    """Append the rows of files of a folder: cases, and packs of them.

    Raises ReviewError for a pack that cannot be read; a case that cannot has a row all the same.
    """
    from diagnose.review.take import Files

    alone = [name for name in names if not name.endswith(PACK)]
    packs = [folder / name for name in names if name.endswith(PACK)]
    of_files = (Files(str(folder), some) for some in in_batches(alone))
    _add(engine, chain(of_files, chain.from_iterable(map(_of_pack, packs))), plant)


def add_pack(engine: DuckDBPyConnection, path: Path, plant: str) -> None:
    """Append the rows of a pack; ReviewError if it cannot be read."""
    _add(engine, _of_pack(path), plant)


def _of_pack(path: Path) -> Iterator[Batch]:
    from diagnose.review.take import Parts

    try:
        entries = open_pack(path).entries.values()
    except CaseError as error:
        raise ReviewError(str(error)) from error
    parts = ((entry.name, entry.start, entry.size) for entry in entries)
    return (Parts(str(path), some) for some in in_batches(parts))


def add_texts(engine: DuckDBPyConnection, texts: Iterable[Named], plant: str) -> None:
    """Append the rows of cases that were read elsewhere."""
    from diagnose.review.take import Texts

    _add(engine, (Texts(some) for some in in_batches(texts)), plant)


def _add(engine: DuckDBPyConnection, batches: Iterator[Batch], plant: str) -> None:
    from diagnose.review.take import Terms

    with TemporaryDirectory() as folder:
        loader = _Loader(engine, Path(folder))
        share_out(batches, Terms(plant, breaking()), loader.add)
        loader.load(loader.taken())


class _Loader:
    """Gathers rows that several threads bring, and loads very many at a time."""

    def __init__(self, engine: DuckDBPyConnection, folder: Path) -> None:
        self._engine, self._folder = engine, folder
        self._lock, self._rows, self._size = Lock(), list[bytes](), 0

    def add(self, rows: bytes) -> None:
        """Take some rows; load them with others once there are enough."""
        with self._lock:
            self._rows.append(rows)
            self._size += len(rows)
            if self._size < ENOUGH:
                return
        self.load(self.taken())

    def taken(self) -> list[bytes]:
        """All that has been gathered; it is no longer here."""
        with self._lock:
            found, self._rows, self._size = self._rows, [], 0
        return found

    def load(self, rows: Sequence[bytes]) -> None:
        """Append rows to the table."""
        path = self._folder / f"{get_ident()}.jsonl"
        path.write_bytes(b"\n".join(rows))
        own = self._engine.cursor()
        try:
            load_lines(own, path)
        finally:
            own.close()
            path.unlink()


def load_lines(engine: DuckDBPyConnection, path: Path) -> None:
    """Append rows written as JSON, one a line; columns that lack have their defaults."""
    if not path.stat().st_size:
        return
    names = ", ".join(
        f"coalesce({name}, {default(name)})" if default(name) else name for name in COLUMNS
    )
    types = ", ".join(f"{name}: '{type_}'" for name, type_ in (SCHEMA | ORIGIN).items())
    engine.execute(
        f"insert into cases select {names}, {', '.join(ORIGIN)} from read_json(?, "
        f"format = 'newline_delimited', columns = {{{types}}})",
        [str(path)],
    )


def in_batches(items: Iterable[T]) -> Iterator[Sequence[T]]:
    """The items, ``BATCH`` at a time."""
    left = iter(items)
    while some := list(islice(left, BATCH)):
        yield some
