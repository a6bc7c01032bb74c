"""Writing to a case file so that what was acknowledged is on the disk."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Collection, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from diagnose.casework.checks import CaseError, UnwritableError
from diagnose.loops.names import shown

BINARY = getattr(os, "O_BINARY", 0)
"""Windows turns line ends round without it."""

MOST_CASES = 1000
"""Cases of one loop on one day."""

FULL = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}


def line_of(record: Mapping[str, Any]) -> bytes:
    """A record as one line."""
    text = json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(", ", ": "))
    return f"{text}\n".encode()


def new_file(
    folder: Path,
    stem: str,
    suffix: str,
    content: bytes,
    taken: Collection[str] = (),
    what: str = "case",
) -> Path:
    """A file that was not there before, with content, on the disk; a counter makes its name.

    Names in ``taken`` are passed over; ``what`` it is, refusals say.

    Raises CaseError if it cannot be made; then nothing is left of it.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path, number = _fresh(folder, stem, suffix, taken, what)
    except OSError as error:
        raise _refused(folder, error, f"no {what} is opened") from error
    try:
        write_all(number, content)
    except BaseException as error:  # Ctrl-C as well: an empty case would be a lost one
        os.close(number)
        with suppress(OSError):
            path.unlink()
        if not isinstance(error, OSError):
            raise
        raise _refused(path, error, f"no {what} is opened") from error
    os.close(number)
    sync_folder(folder)
    return path


def _fresh(
    folder: Path, stem: str, suffix: str, taken: Collection[str], what: str
) -> tuple[Path, int]:
    for count in range(1, MOST_CASES):
        path = folder / f"{stem}_{count:02d}{suffix}"
        if path.name in taken:
            continue
        with suppress(FileExistsError):
            return path, os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o644)
    raise CaseError(f"there are {MOST_CASES - 1} {what}s called {stem} in {shown(folder, 200)}")


def sync_folder(folder: Path) -> None:
    """Put the name of a new file on the disk; Windows does so by itself."""
    if os.name == "nt":
        return
    with suppress(OSError):  # some network drives cannot; the file itself is safe
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def write_all(number: int, content: bytes) -> None:
    """Write everything and flush it to the disk; OSError if any of it fails."""
    left = memoryview(content)
    while left:
        left = left[os.write(number, left) :]
    os.fsync(number)


class Appender:
    """Appends whole lines to a file; a line that failed leaves nothing behind.

    ``what`` is kept there, a case or a drill, refusals say.
    """

    def __init__(self, path: Path, what: str = "case") -> None:
        self.path, self.what = path, what
        try:
            self._number = os.open(path, os.O_RDWR | os.O_APPEND | BINARY)
        except OSError as error:
            raise _refused(path, error, f"the {what} cannot be gone on with") from error
        self._torn = self._ends_torn()

    def append(self, line: bytes) -> None:
        """Append a line and flush it to the disk.

        Raises CaseError if that fails: the line is not in the case, all before it is.
        """
        try:
            size = os.fstat(self._number).st_size
            try:
                write_all(self._number, b"\n" + line if self._torn else line)
            except BaseException:  # Ctrl-C as well: the next event would get the same number
                self._take_back(size)
                raise
        except OSError as error:
            one = "event" if self.what == "case" else "line"
            lost = f"this {one} is not in the {self.what}, everything before it is"
            raise _refused(self.path, error, lost) from error
        self._torn = False

    def _take_back(self, size: int) -> None:
        """Cut off what was written of a line; where that fails too, the next starts afresh."""
        try:
            os.ftruncate(self._number, size)
        except OSError:
            self._torn = True

    def _ends_torn(self) -> bool:
        size = os.lseek(self._number, 0, os.SEEK_END)
        if not size:
            return False
        os.lseek(self._number, size - 1, os.SEEK_SET)
        return os.read(self._number, 1) != b"\n"

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._number)


def _refused(path: Path, error: OSError, result: str) -> UnwritableError:
    where = shown(path, 200)
    if error.errno in FULL:
        return UnwritableError(f"the disk is full: {result}; make room ({where})")
    reason = error.strerror or str(error)
    return UnwritableError(f"{where} cannot be written: {reason.lower()}; {result}")
