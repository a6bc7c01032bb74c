"""``with supply off and LT-214 driven 12 mA``: the state that a reading was taken in."""

from __future__ import annotations

import re

from diagnose.errors import QuantityError
from diagnose.inference.measurement import Applied, Condition, Jumper, normal_condition
from diagnose.inference.reading_names import (
    ends,
    find_node,
    find_part,
    joining,
    node,
    supplies,
    touching,
    two_nodes,
)
from diagnose.inference.reading_words import ACTION_WORDS, RefusedError
from diagnose.loops.kind import Action
from diagnose.loops.loop import Loop, Part
from diagnose.quantities import parse_quantity, shown

DEFAULT_PREFIX = {"A": "m", "1": "%", "Pa": "kPa"}
"""Unit of an action -> what a number without a unit counts in."""

_SEPARATOR = re.compile(r"\s+and\s+|\s*[;&]\s*|,(?=\s|$)|(?<![0-9]),")
_SMALL_WORDS = frozenset({"is", "was", "the", "made", "set", "being", "kept", "to"})
_LEAD = frozenset({"at", "to", "by", "from", "drive"})
_SUPPLY_WORDS = frozenset({"supply", "supplies", "power", "power supply"})
_LARGEST = {"A": 0.03}

Match = tuple[Part, Action]


def parse_condition(text: str, loop: Loop) -> Condition:
    """The condition behind ``with``; RefusedError with what is wrong."""
    clauses = [clause.strip() for clause in _SEPARATOR.split(text)]
    if not any(clauses):
        raise RefusedError(f"a condition is missing after 'with'{_examples(loop)}")
    items = [item for clause in clauses if clause for item in _clause(clause, loop)]
    condition = normal_condition(items)
    names = [item.part for item in condition if isinstance(item, Applied)]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise RefusedError(f"{twice[0]} cannot be in two states at once")
    return condition


def _clause(clause: str, loop: Loop) -> list[Applied | Jumper]:
    words = [word for word in clause.split() if word.casefold() not in _SMALL_WORDS]
    if words and words[0].casefold() in {"jumper", "jumpered", "jumper:"}:
        return [_jumper(words[1:], loop)]
    start, length, actions = _action_words(words, loop)
    if not actions:
        raise RefusedError(f"{shown(clause)} is no condition of this loop{_examples(loop)}")
    name, rest = words[:start], words[start + length :]
    if not name:
        name, rest = rest[:1], rest[1:]
    matches = _matches(" ".join(name), actions, loop)
    return [Applied(part.name, action.name, _value(part, action, rest)) for part, action in matches]


def _jumper(words: list[str], loop: Loop) -> Jumper:
    names = [word for word in words if word.casefold() not in {*_LEAD, "-", "across", "between"}]
    if len(names) != 2:
        raise RefusedError("a jumper joins two points; write for example jumper X21:4 X21:5")
    a, b = (node(name, loop) for name in names)
    if a == b:
        raise RefusedError(f"a jumper joins two points, and {a} is only one")
    return Jumper(a, b)


def _action_words(words: list[str], loop: Loop) -> tuple[int, int, tuple[str, ...]]:
    """Where the action stands in a clause, its number of words, what it may mean."""
    meanings = meaning_of_words(loop)
    folded = [word.casefold() for word in words]
    for length in (3, 2, 1):
        for start in range(len(words) - length + 1):
            phrase = " ".join(folded[start : start + length])
            if phrase in meanings and not (start == 0 and find_part(words[0], loop)):
                return start, length, meanings[phrase]
    return 0, 0, ()


def meaning_of_words(loop: Loop) -> dict[str, tuple[str, ...]]:
    """Every word for an action that some part of the loop has."""
    names = {action.name for part in loop.parts for action in part.kind.actions}
    own = {name.casefold(): (name,) for name in sorted(names)}
    for word, meant in ACTION_WORDS.items():
        known = tuple(name for name in meant if name in names)
        own[word] = (*own.get(word, ()), *known)
    return {word: meant for word, meant in own.items() if meant}


def _matches(name: str, actions: tuple[str, ...], loop: Loop) -> list[Match]:
    """The parts and actions that a clause means: by part, then by point, then by kind."""
    if not name:
        raise RefusedError(f"say which part is {actions[0]}{_examples(loop)}")
    if name.casefold() in _SUPPLY_WORDS and "off" in actions:
        return [match for part in supplies(loop) for match in _actions(part, ("off",))]
    part, at = find_part(name, loop), find_node(name, loop)
    found = _actions(part, actions) if part else []
    if not found and at:
        found = _at_point(at, actions, loop)
    if not found and not part and not at:
        found = _between(name, actions, loop) or _by_kind(name, actions, loop)
    if not found:
        raise RefusedError(_no_match(name, part, at, actions, loop))
    if len(found) > 1:
        choices = " or ".join(f"{part.name} {action.name}" for part, action in found)
        raise RefusedError(f"'{name} {actions[0]}' can mean {choices}: name one of them")
    return found


def _actions(part: Part, names: tuple[str, ...]) -> list[Match]:
    return [(part, action) for action in part.kind.actions if action.name in names][:1]


def _at_point(at: str, actions: tuple[str, ...], loop: Loop) -> list[Match]:
    """Parts at a point that have the action; of one action, first pins there come first."""
    found = [match for part in touching(loop, at) for match in _actions(part, actions)]
    first = [match for match in found if ends(match[0])[0] == at]
    return first if first and len({action.name for _, action in found}) == 1 else found


def _between(name: str, actions: tuple[str, ...], loop: Loop) -> list[Match]:
    """Parts between the two points of ``X21:3-4`` that have the action."""
    nodes = two_nodes(name, loop)
    parts = joining(*nodes, loop) if nodes else ()
    return [match for part in parts for match in _actions(part, actions)]


def _by_kind(name: str, actions: tuple[str, ...], loop: Loop) -> list[Match]:
    word = name.casefold().replace("_", " ")
    alike = (p for p in loop.parts if word in {p.kind.title, p.kind.name.replace("_", " ")})
    return [match for part in alike for match in _actions(part, actions)]


def _no_match(
    name: str, part: Part | None, at: str | None, actions: tuple[str, ...], loop: Loop
) -> str:
    """Why nothing matches, and what would."""
    if part:
        can = ", ".join(action.name for action in part.kind.actions)
        return f"{part.name} cannot be {actions[0]}" + (f"; it can be {can}" if can else "")
    wanted = [p.name for p in loop.parts if _actions(p, actions)]
    hint = f"; {actions[0]} goes with {', '.join(wanted[:8])}" if wanted else ""
    if at:
        return f"nothing at {at} can be {actions[0]}{hint}"
    return f"no part or point called {shown(name)}{hint}"


def _value(part: Part, action: Action, rest: list[str]) -> float | None:
    words = rest[1:] if rest and rest[0].casefold() in _LEAD else rest
    text = " ".join(words)
    if not action.unit:
        if text:
            raise RefusedError(f"{part.name} {action.name} takes no value: what is {shown(text)}?")
        return None
    if not text:
        usual = action.usual if action.usual is not None else 0.0
        example = f"{part.name} {action.name} {action_value(action, usual)}"
        raise RefusedError(f"{part.name} {action.name} needs a value; write for example {example}")
    value = parse_quantity(text, action.unit, default_prefix=DEFAULT_PREFIX.get(action.unit, ""))
    most = _LARGEST.get(action.unit)
    if most is not None and not 0 <= value <= most:
        raise QuantityError(
            text, f"{part.name} {action.name}: {shown(text)} is outside of 0 to {most * 1e3:g} mA"
        )
    return value


def action_value(action: Action, value: float) -> str:
    """The value of an action as text that parses back to it."""
    return exact(value, action.unit)


def exact(value: float, unit: str) -> str:
    """A value with up to twelve digits in the unit that people use: mA, %, V, ohm."""
    known = {"A": (1e3, "mA"), "1": (100.0, "%"), "Pa": (1e-3, "kPa")}
    scale, symbol = known.get(unit, (1.0, unit))
    return f"{value * scale + 0.0:.12g} {symbol}"


def _examples(loop: Loop) -> str:
    """A tail that shows one condition of each action of the loop."""
    found: dict[str, str] = {}
    for part in loop.parts:
        for action in part.kind.actions:
            value = f" {action_value(action, action.usual)}" if action.usual else ""
            found.setdefault(action.name, f"{part.name} {action.name}{value}")
    return f"; write for example {', '.join([*found.values()][:5])}" if found else ""
