"""A verdict: what the trainee says is wrong, and how much of it is right."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import permutations

from diagnose.errors import DiagnoseError
from diagnose.inference.fault_text import find_fault
from diagnose.inference.reading_names import find_part
from diagnose.loops.loop import Loop
from diagnose.training.setting import DrillError

Key = tuple[str | None, str]

SOUND_WORDS = ("none", "sound", "no fault", "nothing", "loop sound")

NOT_FOUND: Key = (None, "not found")
"""The verdict of one who gives up: an ending of a case as well, and no claim about the loop."""

NOT_FOUND_WORDS = ("not found", "cause not found", "unknown")

VERDICTS = "verdict PART FAULT, verdict none, or verdict not found to give up"

PART, MODE, GROUP = 0.2, 0.2, 0.6
"""Shares of a verdict: the right part, the right mode too, the right ambiguity group."""


def verdict_of(text: str, loop: Loop) -> tuple[Key, ...]:
    """``R1 drift`` or ``R1:drift``; ``none``; two faults joined by ``and``; ``not found``.

    Raises DrillError where a part or a mode is not known.
    """
    plain = " ".join(text.split())
    if plain.casefold() in SOUND_WORDS:
        return ((None, "none"),)
    if plain.casefold() in NOT_FOUND_WORDS:
        return (NOT_FOUND,)
    if not plain:
        raise DrillError(f"say what is wrong: {VERDICTS}")
    return tuple(_fault(item, loop) for item in re.split(r" and | \+ ", plain))


def verdict_words(part: str | None, fault: str) -> str:
    """One fault of a verdict in words."""
    if part is not None:
        return f"{part} {fault}"
    return "the cause is not found" if (part, fault) == NOT_FOUND else "the loop is sound"


def _fault(text: str, loop: Loop) -> Key:
    head, colon, tail = text.partition(":") if " " not in text.split(":")[0] else ("", "", "")
    options = [f"{head}:{tail}"] if colon and tail and not tail[:1].isdigit() else []
    words = text.split()
    options += [f"{words[0]}:{' '.join(words[1:])}"] if len(words) > 1 else []
    problem = "" if options else _which(text, loop)
    for option in options:
        try:
            fault = find_fault(option, loop)
        except DiagnoseError as error:
            problem = problem or str(error)
        else:
            return fault.part, fault.mode.name
    raise DrillError(f"verdict: {problem}")


def _which(text: str, loop: Loop) -> str:
    """What a verdict lacks: of a part its faults, else both."""
    part = find_part(text, loop)
    names = [mode.name for mode in part.kind.modes] if part else []
    if part is None or not names:
        return "write PART FAULT, such as: verdict R1 drift"
    return f"say which fault of {part.name}: {', '.join(names)}"


def right_share(said: Sequence[Key], true: Sequence[Key], alike: Sequence[frozenset[Key]]) -> float:
    """How much of a verdict is right, 0 to 1.

    ``alike`` are the ambiguity groups of the true faults, in their order.  Faults are matched in
    the order that is best for the trainee; one too many or too few costs its share.
    """
    count = max(len(said), len(true))
    if not said or not count:
        return 0.0
    best = 0.0
    for order in permutations(range(len(true))):
        pairs = zip(said, order, strict=False)
        best = max(best, sum(_share(one, true[n], alike[n]) for one, n in pairs))
    return best / count


def _share(said: Key, true: Key, alike: frozenset[Key]) -> float:
    if said == true:
        return 1.0
    group = GROUP if said in alike else 0.0
    return group + (PART if said[0] == true[0] and said[0] is not None else 0.0)
