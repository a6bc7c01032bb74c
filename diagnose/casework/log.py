"""The file of a case: JSON Lines, appended to and flushed to the disk event by event.

One writer at a time.  Nothing in the file is ever rewritten: what is damaged stays where it is,
is reported with its line, and costs no other record.  On network drives no lock is reliable.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from diagnose.casework.case import Case
from diagnose.casework.checks import CaseError
from diagnose.casework.disk import Appender, line_of, new_file
from diagnose.casework.events import Event, Opened, Stamped, stamped, to_record
from diagnose.casework.lock import Lock
from diagnose.casework.packing import unpack_one
from diagnose.casework.packs import SUFFIX, in_pack, located, may_be_case, packed_paths
from diagnose.casework.reader import Read, clock_note, read_case
from diagnose.errors import SheetError
from diagnose.library import package_version
from diagnose.loops.loop import Loop
from diagnose.loops.names import TAG, name_fault, shown
from diagnose.loops.record import loop_from_record, loop_to_record

if TYPE_CHECKING:
    from diagnose.inference.meters import Meter

__all__ = ["CaseError", "CaseFile", "case_files", "create"]

Clock = Callable[[], datetime]
Rates = Mapping[tuple[str, str], float]


def local_time() -> datetime:
    """Now, with the offset of this place from UTC; whole seconds."""
    return datetime.now().astimezone().replace(microsecond=0)


class CaseFile:
    """One case on disk.  ``warnings`` holds a sentence for everything odd in the file."""

    def __init__(self, path: Path, read: Read, lock: Lock | None, clock: Clock) -> None:
        self.path, self.clock = path, clock
        self.case: Case = read.case
        self.events: tuple[Stamped, ...] = read.events
        self.warnings: list[str] = list(read.warnings)
        self.damage: tuple[str, ...] = read.damage
        self._lock = lock
        self._appender = Appender(path) if lock else None

    @classmethod
    def create(
        cls,
        folder: Path | str,
        loop: Loop,
        meter: Meter | None = None,
        rates: Rates | None = None,
        clock: Clock = local_time,
    ) -> CaseFile:
        """A new case of a loop, open for writing; its name is tag, day and a counter.

        Raises
        ------
        CaseError
            The folder cannot be written, or the disk is full; no file is left behind.
        """
        now = clock()
        first = line_of(to_record(_opening(loop, meter, rates), 1, now))
        folder, stem = Path(folder), _stem(loop, now)
        taken = {path.name for path in packed_paths(folder) if path.name.startswith(stem)}
        path = new_file(folder, stem, SUFFIX, first, taken)
        return cls.open(path, clock=clock)

    @classmethod
    def open(cls, path: Path | str, write: bool = True, clock: Clock = local_time) -> CaseFile:
        """A case from its file.

        A packed one that is to be written to gets a file of its own again, beside its pack.

        Raises
        ------
        CaseError
            It is no case file, of a newer version, without its first line, or (with ``write``)
            somebody else writes to it or it may not be written.
        """
        path = Path(path)
        if not write:
            return cls(path, read_case(path), None, clock)
        read_case(path)  # a file that is no case gets no lock beside it
        if (there := located(path)) and in_pack(there):
            path = unpack_one(there)
        lock = Lock(path)
        try:
            return cls(path, read_case(path), lock, clock)
        except BaseException:
            lock.release()
            raise

    @cached_property
    def loop(self) -> Loop:
        """The loop as it was when the case was opened; SheetError if its copy is damaged."""
        try:
            return loop_from_record(self.case.sheet or {})
        except SheetError as error:
            where = shown(self.path, 200)
            raise SheetError(
                (where, f"{file}: {key}", text) for file, key, text in error.problems
            ) from error

    @property
    def meter(self) -> Meter:
        """The meter that the case was opened with."""
        from diagnose.casework.meter_record import meter_from_record

        return meter_from_record(self.case.meter or {})

    @property
    def rates(self) -> dict[tuple[str, str], float]:
        """A site's own rates by (part, mode); empty where there are none."""
        return {(part, mode): rate for part, mode, rate in self.case.rates}

    def append(self, event: Event) -> Stamped:
        """Write one event; it is on the disk when this returns.

        Raises
        ------
        CaseError
            The event cannot happen now, or could not be written: then the case is as before.
        """
        if self._appender is None:
            raise CaseError("the case is open for reading only")
        record = to_record(event, self.case.number + 1, self.clock())
        entry = stamped(record)
        after = self.case.then(entry)
        note = clock_note(self.case, entry)
        self._appender.append(line_of(record))
        self.case, self.events = after, (*self.events, entry)
        self.warnings += [note] if note else []
        return entry

    def close(self) -> None:
        """Let others write; the case itself stays as it is, open or closed."""
        if self._appender is not None:
            self._appender.close()
            self._appender = None
        if self._lock is not None:
            self._lock.release()
            self._lock = None

    def __enter__(self) -> CaseFile:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


create = CaseFile.create


def case_files(*folders: Path) -> tuple[Path, ...]:
    """The paths of all cases in folders, packed ones as well, folder by folder sorted by name.

    Folders may be missing.
    """
    found: list[Path] = []
    for folder in sorted(set(folders)):
        packed = {path.name: path for path in packed_paths(folder)}
        own = {path.name: path for path in folder.glob(f"*{SUFFIX}") if may_be_case(path)}
        found += [path for _, path in sorted({**packed, **own}.items())]
    return tuple(found)


def _opening(loop: Loop, meter: Meter | None, rates: Rates | None) -> Opened:
    kept: dict[str, Any] = {}
    if meter is not None:
        from diagnose.casework.meter_record import meter_to_record

        kept = meter_to_record(meter)
    own = tuple((part, mode, float(rate)) for (part, mode), rate in (rates or {}).items())
    return Opened(loop.tag, loop_to_record(loop), package_version(), loop.type, kept, own)


def _stem(loop: Loop, now: datetime) -> str:
    """``LT-214_2024-05-02``: the tag is checked again, nothing else of it comes from people."""
    fault = name_fault(TAG, loop.tag)
    if fault:
        raise CaseError(f"the tag of the loop names no file: {fault}")
    return f"{loop.tag}_{now:%Y-%m-%d}"
