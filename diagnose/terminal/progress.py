"""How far long work has come, on standard error, where somebody watches."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from typing import TypeVar

T = TypeVar("T")


def progress(items: Iterable[T], total: int, what: str) -> Iterator[T]:
    """The items as they come, with ``12 of 300 hunts`` behind them; nothing into a file or pipe."""
    shown = sys.stderr.isatty()
    try:
        for number, each in enumerate(items, 1):
            if shown:
                sys.stderr.write(f"\r{number} of {total} {what}")
                sys.stderr.flush()
            yield each
    finally:
        if shown:
            sys.stderr.write("\r\033[K")
