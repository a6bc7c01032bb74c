"""Batches of cases shared out to processes, one for each core.

They are started as programs of their own, and not as copies of this one: a script of a few lines
that asks for a review is not run again by them, and threads of the engine are not copied.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from itertools import chain
from threading import Lock
from typing import TYPE_CHECKING

from diagnose.review.refused import ReviewError

if TYPE_CHECKING:
    from diagnose.review.take import Batch, Terms

FEW = 500
"""Cases that are taken apart here before further processes would have started."""

Taken = Callable[[bytes], None]
"""What is done with the rows of a batch; called by several threads."""


def share_out(batches: Iterator[Batch], terms: Terms, taken: Taken) -> None:
    """Make rows of all batches, and hand them over a batch at a time, in any order.

    Raises OSError for a case that cannot be read, ReviewError if a process ended early.
    """
    from diagnose.review.take import rows_as_lines

    first = next(batches, None)
    if first is None:
        return
    second = next(batches, None)
    if second is None and len(first) <= FEW:
        taken(rows_as_lines(first, terms))
        return
    several = chain([first] if second is None else [first, second], batches)
    _in_processes(several, terms, taken, 1 if second is None else cores())


def cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _in_processes(batches: Iterator[Batch], terms: Terms, taken: Taken, workers: int) -> None:
    turn, stopped = Lock(), list[bool]()

    def work() -> None:
        hand = _Hand(terms)
        try:
            while not stopped:
                with turn:
                    batch = next(batches, None)
                if batch is None:
                    return
                taken(hand.rows(batch))
        except BaseException:
            stopped.append(True)
            raise
        finally:
            hand.end()

    with ThreadPoolExecutor(workers) as pool:
        working = [pool.submit(work) for _ in range(workers)]
        try:
            for each in working:
                each.result()
        except BaseException:
            stopped.append(True)
            raise


class _Hand:
    """One further process at work."""

    def __init__(self, terms: Terms) -> None:
        start = (
            f"import sys; sys.path[:] = {sys.path!r}; from diagnose.review.take import main; main()"
        )
        self._process = subprocess.Popen(
            [sys.executable, "-c", start], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        self._say(terms)

    def rows(self, batch: Batch) -> bytes:
        """The rows of a batch as lines of JSON."""
        self._say(batch)
        assert self._process.stdout is not None
        try:
            answer = pickle.load(self._process.stdout)
        except (EOFError, pickle.UnpicklingError) as error:
            raise _lost() from error
        if isinstance(answer, OSError):
            raise answer
        return bytes(answer)

    def _say(self, what: object) -> None:
        assert self._process.stdin is not None
        try:
            pickle.dump(what, self._process.stdin)
            self._process.stdin.flush()
        except OSError as error:
            raise _lost() from error

    def end(self) -> None:
        """Let it end; wait for it."""
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(OSError):
                if pipe is not None:
                    pipe.close()
        self._process.wait()


def _lost() -> ReviewError:
    return ReviewError("a process that took cases apart ended early: is there memory enough?")
