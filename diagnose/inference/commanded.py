"""What a person can set by hand of what a loop is told to do, and what would move with it."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace

from diagnose.inference.hypotheses import action_of
from diagnose.inference.measurement import Applied, Condition
from diagnose.loops.joined import heads
from diagnose.loops.kind import Action
from diagnose.loops.loop import EARTH, Loop, Part


def commands(loop: Loop) -> Iterator[Condition]:
    """The ways in which a person can set what the loop is told to do, where it has a command."""
    for part in loop.parts:
        if (part.kind.driven or part.kind.stated) and not part.kind.follows and not part.pins:
            for action in part.kind.actions:
                yield (Applied(part.name, action.name, action.usual),)


def strokes(loop: Loop) -> Iterator[Condition]:
    """A command set to both ends of the values at which it proves a repair, if it takes values.

    On a control loop, whose process answers to its own valve at once, to those next to the ends.
    """
    for condition in commands(loop):
        for item in condition:
            if isinstance(item, Applied):
                action = action_of(loop, item.part, item.action)
                for end in _ends(loop.part(item.part), action):
                    yield (Applied(item.part, item.action, end),)


def _ends(part: Part, action: Action) -> tuple[float, ...]:
    given = action.proves(SimpleNamespace(**part.values)) if action.proves else ()
    values = sorted(value for value in given if value is not None)
    if part.kind.stated and len(values) > 3:
        values = values[1:-1]
    return (values[0], values[-1]) if len(values) > 1 else ()


def side(loop: Loop, command: Condition) -> frozenset[str]:
    """Parts and nodes that a command may move: what is wired to it, or follows what is.

    Plant earth joins everything, and carries no signal from one side to the other.  What sets the
    command itself, as the switch to manual does, tells nothing while a person does.
    """
    given = {item.part for item in command if isinstance(item, Applied)}
    refers = [(part, role, other) for part in loop.parts for role, other in part.references.items()]
    setters = {
        part.name
        for part, role, other in refers
        if other in given and role not in part.kind.follows
    }
    wired = ((part, node) for part in loop.parts for node in part.pins.values())
    joined = (*((part, other) for part, _, other in refers), *wired)
    earthed = {part.name for part in loop.parts if EARTH in part.pins.values()}
    names = {*loop.nodes, *(part.name for part in loop.parts)}
    pairs = [(part.name, name) for part, name in joined if part.name not in earthed]
    group = heads(names, ((part, name) for part, name in pairs if name in names))
    own = {group[name] for name in given}
    return frozenset(name for name, head in group.items() if head in own) - setters
