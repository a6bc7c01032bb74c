"""A disk that is really full, or read-only: one in memory."""

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_disk(folder: Path, *options: str) -> Iterator[Path]:
    """A disk in memory; the test is skipped where one cannot be mounted."""
    words = ["mount", "-t", "tmpfs", "-o", ",".join(["size=64k", *options]), "tmpfs", str(folder)]
    try:
        done = subprocess.run(words, capture_output=True, check=False)
    except OSError:
        done = None
    if done is None or done.returncode:
        pytest.skip("a disk in memory cannot be mounted here (needs root on Linux)")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)
