"""Where a reading was taken: the words behind a meter function -> nodes or a part."""

from __future__ import annotations

from diagnose.inference.ammeter import metered
from diagnose.inference.flow import along
from diagnose.inference.reading_names import (
    between,
    find_node,
    find_part,
    node,
    opening,
    touching,
    two_nodes,
    unknown,
)
from diagnose.inference.reading_words import RefusedError
from diagnose.loops.loop import Loop

Points = tuple[tuple[str, ...], list[str]]


def _two_points(words: list[str], loop: Loop, valued: bool) -> Points:
    """Two nodes, or one that is read against the reference of the loop."""
    if not words:
        raise RefusedError("say between which points, for example V X21:7 X20:0 3.02")
    first = node(words[0].rstrip(","), loop)
    second = _second_node(words, loop, valued)
    if second is None and len(words) > (2 if valued else 1) and _looks_like_point(words[1]):
        raise unknown("point", words[1], (point.name for point in loop.points))
    points = (first, loop.reference if second is None else second)
    if points[0] == points[1]:
        raise RefusedError(f"two different points are needed, and {first} is one")
    return points, words[1 if second is None else 2 :]


def _second_node(words: list[str], loop: Loop, valued: bool) -> str | None:
    """The second word as a node; a number at the very end is the value even so."""
    if len(words) < 2:
        return None
    last = valued and len(words) == 2
    return None if last and words[1][:1].isdigit() else find_node(words[1].rstrip(","), loop)


def _looks_like_point(word: str) -> bool:
    """Whether a word that is no node was meant as one, not as a value."""
    return word[:1].isalpha() and any(mark in word for mark in ":-0123456789")


def _series(words: list[str], loop: Loop, valued: bool) -> Points:
    """The two nodes of a part at which the meter is fitted: by nodes, by part, or by one point.

    Current counts from the first typed node to the second; where one point or the part is named,
    nothing is said of the leads, and it counts the way it flows in the sound loop.
    """
    if not words:
        raise RefusedError("say where the meter is in series, for example mA X21:4 8.03")
    word = words[0].rstrip(",")
    first, second, part = find_node(word, loop), _second_node(words, loop, valued), None
    if first and second:
        return between(first, second, loop), words[2:]
    part = find_part(word, loop)
    if part and part in metered(loop):
        return along(part, loop), words[1:]
    if first:
        return along(opening(first, loop), loop), words[1:]
    if not part and (pair := two_nodes(word, loop)):
        return between(*pair, loop), words[1:]
    if part:
        raise RefusedError(f"{part.name} cannot be opened for a meter; the clamp reads it")
    raise unknown("point", word, (point.name for point in loop.points))


def _wire(words: list[str], loop: Loop, valued: bool) -> Points:
    """The part that a clamp goes round."""
    if not words:
        raise RefusedError("say which wire is in the clamp, for example clamp W3+ 8.0")
    part, at = find_part(words[0].rstrip(","), loop), find_node(words[0], loop)
    if part and len(part.kind.pins) >= 2:
        return (part.name,), words[1:]
    if part:
        raise RefusedError(f"no current flows through {part.name}: name the wire in the clamp")
    if at:
        wires = ", ".join(item.name for item in touching(loop, at) if item.kind.carries_loop)
        raise RefusedError(f"{at} is a point: name the wire in the clamp ({wires or 'none there'})")
    raise unknown("part", words[0], (item.name for item in loop.parts if item.kind.carries_loop))


def _display(words: list[str], loop: Loop, valued: bool) -> Points:
    if not words:
        raise RefusedError("say what shows it, for example LIC-214 62 %")
    part = find_part(words[0], loop)
    if part and part.kind.shows:
        return (part.name,), words[1:]
    displays = [item.name for item in loop.parts if item.kind.shows]
    if part:
        raise RefusedError(f"{part.name} shows nothing; what does: {', '.join(displays) or 'none'}")
    raise unknown("display", words[0], displays)


def _nowhere(words: list[str], loop: Loop, valued: bool) -> Points:
    return (), words


POINTS = {
    "V": _two_points,
    "Vlow": _two_points,
    "VAC": _two_points,
    "ohm": _two_points,
    "mA": _series,
    "clamp": _wire,
    "shows": _display,
    "process": _nowhere,
}
"""Meter function -> what reads its points off the words behind it."""
