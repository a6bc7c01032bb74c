"""One writer for each case: a lock beside the file, and a note of who holds it.

The operating system frees the lock of a process that died, so nothing stale is left to clear.
"""

from __future__ import annotations

import json
import os
import socket
import warnings
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from shlex import quote

from diagnose.casework.checks import CaseError
from diagnose.casework.packs import PACK
from diagnose.casework.telling import moment
from diagnose.loops.names import shown


class Lock:
    """Held from when it is made until ``release``; CaseError if another process holds it."""

    def __init__(self, path: Path) -> None:
        from filelock import FileLock, Timeout

        self._holder = path.with_name(f".{path.name}.holder")
        self._beside = path.with_name(f".{path.name}.lock")
        self._lock = FileLock(self._beside)
        try:
            with warnings.catch_warnings():
                # A drive without locks gets a marker file instead, with a warning to developers.
                warnings.simplefilter("ignore")
                self._lock.acquire(timeout=0)
        except Timeout:
            raise CaseError(_held(path, _holder(self._holder))) from None
        except (OSError, NotImplementedError) as error:
            reason = (getattr(error, "strerror", None) or str(error)).lower()
            raise CaseError(f"{shown(path, 200)} cannot be locked for writing: {reason}") from error
        with suppress(OSError):  # who holds it is good to know, no more
            self._holder.write_text(json.dumps(_self()), encoding="utf-8")

    def release(self, gone: bool = False) -> None:
        """Let others write; where what was locked is ``gone``, nothing is left beside it.

        Who has opened the lock meanwhile finds out that it is gone, and takes a fresh one.
        """
        with suppress(OSError):
            self._holder.unlink(missing_ok=True)
        if gone:
            with suppress(OSError):  # Windows has its own way: there it goes with the release
                self._beside.unlink(missing_ok=True)
        self._lock.release()


def _held(path: Path, by: str) -> str:
    """That another process writes to a case or a pack, and what can be done."""
    if path.suffix == PACK:
        return f"the pack {shown(path, 200)} is being written by {by}; try again once it is done"
    show = "diagnose cases show"
    look = f"{show} {quote(str(path))}" if str(path).isprintable() else f"{show} and its name"
    return f"the case is being written by {by}; close it there, or look at it with: {look}"


def _self() -> dict[str, object]:
    now = datetime.now().astimezone().isoformat(timespec="seconds")
    return {"pid": os.getpid(), "host": socket.gethostname(), "start": now}


def _holder(path: Path) -> str:
    """Who holds a lock, as its note says."""
    try:
        told = json.loads(path.read_bytes()[:1000])
        pid, host = int(told["pid"]), str(told["host"])
        start = moment(datetime.fromisoformat(str(told["start"])))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return "another process"
    return f"process {pid} on {shown(host)} since {start}"
