"""The loop of a session by a few letters of its tag or service; asked where several fit."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TextIO

from diagnose.errors import UnknownNameError
from diagnose.loops.finding import ALIKE, Hit
from diagnose.loops.loop import Loop
from diagnose.loops.plant import Plant
from diagnose.quantities import whole_number
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.find_loop import find_loop
from diagnose.terminal.session_input import PlainLines
from diagnose.terminal.wording import listed

MOST = 9
"""Loops that are offered to choose from."""


def choose_loop(words: str, plant: Plant, out: TextIO) -> Loop:
    """The loop that words mean: a tag, a type, a sheet; else what the finder takes them for.

    On a terminal a choice is asked for.  Raises as `find_loop` does, and UsageError where several
    loops fit and nobody can be asked.
    """
    if not words and not sys.stdin.isatty():
        raise UsageError("name a loop, or a case to go on with: troubleshoot LOOP")
    while not words:
        words = _line("Which loop? A few letters of its tag or service: ", out)
    try:
        return find_loop(words, plant)
    except (UnknownNameError, UsageError) as error:
        if "/" in words or "\\" in words or words.casefold().endswith(".toml"):
            raise
        hits = _hits(words, plant)
        if not hits:
            raise
        return find_loop(_chosen(words, hits, out, error), plant)


def _hits(words: str, plant: Plant) -> list[Hit]:
    # Imported here: a tag that is typed in full needs no catalogue.
    from diagnose.loops.catalogue import catalogue
    from diagnose.loops.finding import find

    return find(words, catalogue(plant))


def _chosen(words: str, hits: Sequence[Hit], out: TextIO, error: Exception) -> str:
    """The tag of the only hit, or of the one that is chosen by its number."""
    if len(hits) == 1 and hits[0].rank < ALIKE:
        return hits[0].card.tag
    tags = [hit.card.tag for hit in hits[:MOST]]
    if not sys.stdin.isatty():
        if hits[0].rank == ALIKE:
            raise UsageError(f"no loop is called '{words[:80]}'; like it: {listed(tags, 'or')}")
        more = [f"{len(hits) - MOST} more"] if len(hits) > MOST else []
        raise UsageError(f"'{words[:80]}' can mean {listed([*tags, *more], 'or')}: type more of it")
    for number, hit in enumerate(hits[:MOST], 1):
        print(f"  {number}  {hit.card.tag:<12} {hit.card.service}", file=out)
    while True:
        line = _line("Which of them? Its number, or Enter to leave: ", out)
        if not line:
            raise error
        chosen = whole_number(line, 1, len(tags))
        if chosen:
            return tags[chosen - 1]


def _line(prompt: str, out: TextIO) -> str:
    """A line; the end of the input is an empty one that leaves."""
    try:
        return " ".join(PlainLines(out).ask(prompt).split())
    except EOFError:
        raise UsageError("no loop was named") from None
