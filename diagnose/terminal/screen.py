"""The one place that writes: standard output for answers, standard error for what is wrong."""

from __future__ import annotations

import io
import json
import os
import shutil
import sys
from contextlib import suppress

from diagnose.errors import DiagnoseError
from diagnose.terminal.outcome import Look, Outcome

WIDEST, NARROWEST = 100, 40
"""Lines longer than this are hard to read; below, words no longer fit."""


def prepare() -> None:
    """UTF-8 out, whatever the platform says; what cannot be encoded never stops an answer."""
    if sys.stdout is None:  # closed by whoever started us
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:  # print would put complaints among the answers
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="replace")


def look() -> Look:
    """The screen as it is now."""
    return fitted(shutil.get_terminal_size((80, 24)).columns, _colour())


def fitted(width: int, colour: bool) -> Look:
    """A screen of some width as lines are made for it."""
    return Look(max(NARROWEST, min(WIDEST, width)), colour)


def _colour() -> bool:
    """Colour only on a terminal that understands it and where nobody declines it (no-color.org)."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return sys.stdout.isatty() and (os.name != "nt" or "WT_SESSION" in os.environ)


def show(outcome: Outcome, *, as_json: bool) -> None:
    """Print an outcome as one JSON object or as lines.

    DiagnoseError where it cannot be written: a file on a full disk takes its place.
    """
    if as_json:
        lines = iter([json.dumps(outcome.data, indent=1, allow_nan=False)])
    else:
        lines = (line.rstrip() for line in outcome.lines(look()))
    for line in lines:
        _put(f"{line}\n")
    _put("")


def tell(text: str) -> None:
    """Print a text at once; DiagnoseError where it cannot be written."""
    _put(text)
    _put("")


def _put(text: str) -> None:
    """Write a text, or with none flush what was written."""
    try:
        if text:
            sys.stdout.write(text)
        else:
            sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        _detach()
        reason = (error.strerror or str(error)).lower()
        raise DiagnoseError(f"the answer cannot be written: {reason}") from error


def complain(problem: object) -> None:
    """One clear line on standard error for each problem; where it is full, the exit code tells."""
    with suppress(OSError):
        for line in str(problem).splitlines():
            print(f"diagnose: {line}", file=sys.stderr)


def finish() -> None:
    """Flush standard output; give it up if its reader, ``head`` say, has seen enough."""
    try:
        sys.stdout.flush()
    except OSError:
        _detach()


def _detach() -> None:
    """Put nothing in the place of standard output: the interpreter flushes it again at exit."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        return
