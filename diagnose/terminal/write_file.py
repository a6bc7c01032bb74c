"""Files that a command writes: whole or not at all, and over nothing that is not its own."""

from __future__ import annotations

from pathlib import Path

from diagnose.library import write_whole
from diagnose.terminal.arguments import UsageError

HEAD = 4096
"""Bytes in which the mark of a file stands."""


def write_file(name: str, content: str, mark: str) -> Path:
    """Write ``content``, which has ``mark`` in its head, to a new file or over one that has it.

    Raises UsageError where that cannot be done; what was there stays as it was.
    """
    path, told = Path(name), name[:200]
    try:
        if path.is_dir():
            raise UsageError(f"'{told}' is a folder; name a file in it")
        if not path.parent.is_dir():
            raise UsageError(f"there is no folder '{str(path.parent)[:200]}' to write to")
        if path.exists() and mark.encode() not in path.read_bytes()[:HEAD]:
            raise UsageError(f"'{told}' is there and is no page of this kind; name another file")
        write_whole(path, content.encode())
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "no file name"
        raise UsageError(f"'{told}' cannot be written: {reason.lower()}") from error
    return path
