"""Typed names -> nodes and parts of a loop, in any case, with a hint where there is none."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from diagnose.errors import did_you_mean
from diagnose.inference.ammeter import metered
from diagnose.inference.reading_words import RefusedError
from diagnose.loops.kind import Action
from diagnose.loops.loop import EARTH, Loop, Part
from diagnose.loops.names import without_hyphen
from diagnose.quantities import shown

_EARTH_WORDS = frozenset({"pe", "earth", "ground", "gnd"})


def _find(word: str, names: Iterable[str]) -> str | None:
    """The name as written, or else the only one that differs in case or a tag's hyphen alone."""
    known = tuple(names)
    if word in known:
        return word
    near = [name for name in known if name.casefold() == word.casefold()]
    near = near or [name for name in known if without_hyphen(name) == word.casefold()]
    return near[0] if len(near) == 1 else None


def known_nodes(loop: Loop) -> tuple[str, ...]:
    """Reachable points first, then earth and the nodes that no lead reaches; each once."""
    return tuple(dict.fromkeys((*(point.name for point in loop.points), *loop.nodes)))


def find_node(word: str, loop: Loop) -> str | None:
    """The node a word names, or None."""
    nodes = known_nodes(loop)
    found = _find(word, nodes)
    if found is None and word.casefold() in _EARTH_WORDS and EARTH in nodes:
        return EARTH
    return found


def find_part(word: str, loop: Loop) -> Part | None:
    """The part a word names, or None."""
    found = _find(word, (part.name for part in loop.parts))
    return None if found is None else loop.part(found)


def node(word: str, loop: Loop) -> str:
    """The node a word names; RefusedError with the nearest names if there is none."""
    found = find_node(word, loop)
    if found is None:
        raise unknown("point", word, (point.name for point in loop.points))
    return found


def unknown(what: str, word: str, names: Iterable[str]) -> RefusedError:
    """The refusal of an unknown name, with the nearest names of any case."""
    return RefusedError(f"no {what} called {shown(word)}{did_you_mean(word, names)}")


def ends(part: Part) -> tuple[str, str]:
    """The nodes of a part's first two pins, in the order of its kind."""
    first, second = part.kind.pins[:2]
    return part.pins[first], part.pins[second]


def two_nodes(word: str, loop: Loop) -> tuple[str, str] | None:
    """The nodes of ``X21:3-4`` or ``X21:3-X21:4``, or None."""
    for cut in (i for i, letter in enumerate(word) if letter == "-"):
        left, right = word[:cut], word[cut + 1 :]
        a = find_node(left, loop)
        b = find_node(right, loop) or find_node(f"{left.rpartition(':')[0]}:{right}", loop)
        if a and b and a != b:
            return a, b
    return None


def touching(loop: Loop, at: str) -> Iterator[Part]:
    """The parts with a pin on a node."""
    return (part for part in loop.parts if at in part.pins.values())


def joining(a: str, b: str, loop: Loop) -> tuple[Part, ...]:
    """The parts with a pin on each of two nodes."""
    return tuple(part for part in touching(loop, a) if b in part.pins.values())


def opening(at: str, loop: Loop) -> Part:
    """The part at which a meter is fitted for a current reading at one point.

    What opens nothing comes first, then what opens quickest (a link or a fuse before a wire end);
    among equals the one
    whose far side is farthest to walk to, which is the field side.  RefusedError if still open.
    """
    found = [part for part in metered(loop) if at in part.pins.values()]
    if not found:
        known = ", ".join(part.name for part in metered(loop)[:12])
        raise RefusedError(f"nothing opens at {at}; a meter goes in series at {known or 'no part'}")
    ranked = sorted(found, key=lambda part: _ease(part, at, loop))
    best = _ease(ranked[0], at, loop)
    equal = [part.name for part in ranked if _ease(part, at, loop) == best]
    if len(equal) > 1:
        raise RefusedError(f"{at} can be opened at {' or '.join(equal)}: name one of them")
    return ranked[0]


def _ease(part: Part, at: str, loop: Loop) -> tuple[float, str, float]:
    """Minutes to open, how, and minus the longest walk behind the part."""
    if part.kind.meters_across:
        return 0.0, "", 0.0
    quickest = min(
        (action for action in part.kind.actions if action.interrupts),
        key=lambda action: action.minutes,
    )
    behind = next(end for end in (*ends(part), at) if end != at)
    return quickest.minutes, quickest.name, -_farthest(behind, at, loop)


def _farthest(start: str, barred: str, loop: Loop) -> float:
    """The longest walk to a point that the loop current reaches from ``start``."""
    seen, ahead, longest = {barred, loop.reference, start}, [start], 0.0
    while ahead:
        here = ahead.pop()
        longest = max(longest, _walk(here, loop))
        carriers = (part for part in touching(loop, here) if part.kind.carries_loop)
        new = {end for part in carriers for end in part.pins.values()} - seen
        seen |= new
        ahead += new
    return longest


def _walk(at: str, loop: Loop) -> float:
    place = loop.place_of(at)
    return 0.0 if place is None else loop.place(place).minutes


def between(a: str, b: str, loop: Loop) -> tuple[str, str]:
    """Two nodes across which a meter can be fitted; RefusedError if there is no such part."""
    if any({a, b} == set(ends(part)) for part in metered(loop)):
        return a, b
    near = [part for part in metered(loop) if {a, b} & set(ends(part))]
    hint = "; near it: " + ", ".join(part.name for part in near[:6]) if near else ""
    raise RefusedError(f"nothing can be opened between {a} and {b}{hint}")


def supplies(loop: Loop) -> tuple[Part, ...]:
    """The parts that must be off before resistance is measured."""
    return tuple(part for part in loop.parts if any(map(_de_energises, part.kind.actions)))


def _de_energises(action: Action) -> bool:
    return action.name == "off" and "de-energise" in action.cautions


def volts(loop: Loop) -> float:
    """The voltage that the supplies of a loop can give together."""
    return sum(
        part.values.get(parameter.name, 0.0)
        for part in supplies(loop)
        for parameter in part.kind.parameters
        if parameter.unit == "V" and parameter.typed
    )
