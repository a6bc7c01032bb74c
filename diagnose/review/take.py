"""The work of one process: texts of cases in, their rows as lines of JSON out.

``python -m diagnose.review.take`` takes batches from its input until that ends; its output holds
the answers and nothing else.  Only ``processes`` starts it.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import BinaryIO

from msgspec.json import Encoder

from diagnose.loops.names import spelt
from diagnose.review.case_rows import row_of

Named = tuple[str, bytes]
"""The name of a case and its text."""

Taken = tuple[str, bytes, Mapping[str, object]]
"""The name of a case, its text, and the ``rows.ORIGIN`` of it."""

AT_ONCE = 1 << 16
"""Bytes read at a time; most cases are smaller, and a larger buffer costs more than the file."""


@dataclass(frozen=True, slots=True)
class Files:
    """Cases that have a file each: names of files in a folder."""

    folder: str
    names: Sequence[str]

    def __len__(self) -> int:
        return len(self.names)

    def texts(self) -> Iterator[Taken]:
        """Each case with its text; what has gone since it was listed is passed over.

        What cannot be read costs no other case: it has no text, and ``note`` tells why.
        """
        for name in self.names:
            told = spelt(name)
            case = told.removesuffix(".jsonl")
            try:
                # where it is written to meanwhile, it counts as changed the next time
                text, found = _read(os.path.join(self.folder, name))
            except FileNotFoundError:
                if os.path.islink(os.path.join(self.folder, name)):
                    yield case, b"", {"file": told, "note": "it is a link that leads to no file"}
                continue
            except OSError as error:
                reason = (error.strerror or str(error)).lower()
                yield case, b"", {"file": told, "note": f"it cannot be read: {reason}"}
                continue
            if told != name:
                yield case, b"", {**_origin(told, found), "note": NO_TEXT}
                continue
            yield case, text, _origin(name, found)


NO_TEXT = "its name is not UTF-8 text: rename it"


def _read(path: str) -> tuple[bytes, os.stat_result]:
    number = os.open(path, _READ)
    try:
        told = os.fstat(number)
        return _content(number), told
    finally:
        os.close(number)


_READ = os.O_RDONLY | getattr(os, "O_BINARY", 0)


@dataclass(frozen=True, slots=True)
class Parts:
    """Cases that lie one after the other in a file: name, first byte and length of each."""

    path: str
    parts: Sequence[tuple[str, int, int]]

    def __len__(self) -> int:
        return len(self.parts)

    def texts(self) -> Iterator[Taken]:
        """Each case with its text."""
        # without a buffer: each case is read in one call, and nothing beyond it
        with open(self.path, "rb", buffering=0) as file:
            origin = _origin(os.path.basename(self.path), os.fstat(file.fileno()))
            for name, start, size in self.parts:
                file.seek(start)
                yield name, file.read(size), origin


@dataclass(frozen=True, slots=True)
class Texts:
    """Cases that were read elsewhere."""

    named: Sequence[Named]

    def __len__(self) -> int:
        return len(self.named)

    def texts(self) -> Iterator[Taken]:
        """Each case with its text."""
        for name, text in self.named:
            yield name, text, {}


def _origin(file: str, told: os.stat_result) -> Mapping[str, object]:
    return {"file": file, "size": told.st_size, "changed": told.st_mtime_ns}


Batch = Files | Parts | Texts


@dataclass(frozen=True, slots=True)
class Terms:
    """What rows are made with beside the texts; ``case_rows.row_of`` says what it is."""

    plant: str
    breaking: frozenset[str]


def rows_as_lines(batch: Batch, terms: Terms) -> bytes:
    """The rows of a batch, a JSON object each."""
    encode = Encoder().encode
    lines = []
    for name, text, origin in batch.texts():
        row = {**row_of(name, text, terms.plant, terms.breaking), **origin}
        # None and what is empty are what a column holds by itself
        lines.append(encode({key: item for key, item in row.items() if item or item == 0.0}))
    return b"\n".join(lines)


def _content(number: int) -> bytes:
    """All that is in a file; the system's calls without what a file object adds to them."""
    found = os.read(number, AT_ONCE)
    if len(found) < AT_ONCE:
        return found
    parts = [found]
    while more := os.read(number, 1 << 20):
        parts.append(more)
    return b"".join(parts)


def main() -> None:
    """Answer batches until the input ends; an error that has a sentence is an answer as well."""
    gc.disable()  # nothing of a case refers to itself
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who started this process heeds it for both
    answers = _own_output()
    questions: BinaryIO = sys.stdin.buffer
    terms: Terms = pickle.load(questions)
    while True:
        try:
            batch: Batch = pickle.load(questions)
        except EOFError:
            return
        try:
            answer: bytes | OSError = rows_as_lines(batch, terms)
        except OSError as error:
            answer = error
        pickle.dump(answer, answers)
        answers.flush()


def _own_output() -> BinaryIO:
    """The output for answers alone: whatever else is printed goes to standard error."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return answers


if __name__ == "__main__":
    main()
