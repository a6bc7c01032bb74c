"""Explanations, chances and minutes as people say them."""

from __future__ import annotations

from diagnose.loops.loop import Loop
from diagnose.training.lookout import Keys, Look
from diagnose.training.verdicts import NOT_FOUND

SOUND = "a sound loop"


def believed(look: Look, loop: Loop) -> str:
    """The leading explanations with their chances."""
    lead = sorted(look.probability.items(), key=lambda pair: -pair[1])[:3]
    return ", ".join(f"{names(keys, loop)} {percent(share)}" for keys, share in lead)


def names(keys: Keys, loop: Loop) -> str:
    """An explanation by name; two faults joined."""
    return " together with ".join(fault_words(part, fault, loop) for part, fault in keys)


def fault_words(part: str | None, fault: str, loop: Loop) -> str:
    """``R1 drift (sense resistor)``."""
    if part is None:
        return "cause not found" if (part, fault) == NOT_FOUND else SOUND
    found = next((item for item in loop.parts if item.name == part), None)
    word = found.title or found.kind.title if found else ""
    return f"{part} {fault} ({word})" if word else f"{part} {fault}"


def minutes(value: float) -> str:
    """Minutes as people say them."""
    whole = round(value)
    return "under a minute" if value < 0.75 else f"{whole} minute{'s' * (whole != 1)}"


def percent(share: float) -> str:
    """A probability: never 0 % or 100 %, because nothing here is certain."""
    if share < 0.005:
        return "under 1 %"
    return "over 99 %" if share > 0.995 else f"{share * 100:.0f} %"
