"""What a step does to the plant, what had to be arranged first, and what was done wrong.

Minutes, costs and limits are assumptions of this project (common practice, no source) where a line
does not say more.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass

from diagnose.inference.cautions import needs_for
from diagnose.inference.measurement import Measurement
from diagnose.loops.loop import Loop


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Something that is agreed or done before a step; ``need`` is how a step asks for it.

    What ``lasts`` is open until it is put back.
    """

    word: str
    need: str
    told: str
    minutes: float
    lasts: bool = False


ARRANGEMENTS: Mapping[str, Arrangement] = {
    item.word: item
    for item in (
        Arrangement("operator", "operator told", "The operator knows what you are about to do.", 1),
        Arrangement(
            "bypass", "trip bypass authorised and recorded",
            "The trip is bypassed: authorised, recorded, with a time limit.", 15, lasts=True,
        ),
        Arrangement("manual", "loop in manual", "The controller is in manual.", 3, lasts=True),
        Arrangement(
            "isolate", "final element isolated or blocked in",
            "The final element is blocked in.", 15, lasts=True,
        ),
        Arrangement(
            "licence", "licensed person, feed isolated and proved dead",
            "A licensed person has isolated the feed and proved it dead.", 20, lasts=True,
        ),
        Arrangement("permit", "gas test and permit", "Gas test done, permit signed.", 30),
        Arrangement(
            "dead", "supply isolated, locked and proved dead",
            "The supply is locked off and proved dead.", 5,
        ),
        Arrangement(
            "operations", "process connection isolated by operations",
            "Operations have isolated the process connection.", 15, lasts=True,
        ),
    )
}  # fmt: skip
"""What can be arranged, by the word that is typed."""

_WORD_OF = {item.need: item.word for item in ARRANGEMENTS.values()}

MISTAKES: Mapping[str, str] = {
    "short": "volts were taken with the lead in the mA jack: a short across the points",
    "wrong jack": "the lead was in the wrong jack",
    "blown fuse": "the meter's fuse was blown: it shows no current, and the loop stays open",
    "live ohms": "ohms were taken on a live circuit: the display means nothing",
    "no bypass": "a loop that feeds a trip was disturbed, or its key turned, without a bypass that "
    "is authorised and recorded",
    "no manual": "a loop that feeds a controller was disturbed in automatic",
    "no permit": "something was touched in a hazardous area without gas test and permit",
    "live work": "work that needs a dead circuit was done without proving it dead",
    "not isolated": "a final element that could move was not isolated or blocked in",
    "process open": "a process connection was not isolated by operations before it was worked on",
}
"""What can be done wrong at a step."""

UNSAFE = (
    "short", "live ohms", "no bypass", "no manual", "no permit", "live work", "not isolated",
    "process open",
)  # fmt: skip
"""The mistakes that can hurt people or the plant."""

_UNARRANGED = {
    "bypass": "no bypass", "manual": "no manual", "permit": "no permit", "licence": "live work",
    "dead": "live work", "isolate": "not isolated", "operations": "process open",
}  # fmt: skip

LIVE = (-0.025, 1.0625)
"""What a receiver shows of a live signal, share of range: 3.6 to 21 mA (NAMUR NE 43)."""

NOTICED = 0.02
"""Change of what is shown that a controller in automatic acts on, share of range."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What a step did to the plant: ``sort`` is ``trip``, ``upset`` or ``moved``."""

    sort: str
    text: str


def needs(measurement: Measurement, loop: Loop) -> tuple[str, ...]:
    """Words of ``ARRANGEMENTS`` that a step asks for."""
    return tuple(_WORD_OF[need] for need in needs_for(measurement, loop))


def unsafe_without(missing: tuple[str, ...]) -> tuple[str, ...]:
    """The mistakes that lie in leaving something out."""
    return tuple(dict.fromkeys(_UNARRANGED[word] for word in missing if word in _UNARRANGED))


def effects(
    loop: Loop,
    before: Mapping[str, float],
    during: Mapping[str, float],
    known: Container[str],
    usual: Mapping[str, float],
) -> Iterator[Effect]:
    """What the plant does when its displays go from ``before`` to ``during``; told at once.

    ``usual`` is what they show while nothing is altered: a lamp that goes back to it is no trip.
    """
    left = [name for name in before if _fell_out(loop, name, before[name], during[name])]
    turned = [
        name
        for name in before
        if _turned(loop, name, usual[name], during[name])
        and (before[name] > 0) == (usual[name] > 0)
    ]
    moved = [name for name in before if _moved(loop, name, before[name], during[name])]
    if not (left or turned or moved):
        return
    # A lamp that goes out with the signal it was lit by does not say that a trip comes in.
    lit = [name for name in turned if during[name] > 0]
    first = (lit or left or turned or moved)[0]
    if "trip" in loop.role and (left or turned) and "bypass" not in known:
        # A comparator for a high level stays dark then; that a trip takes a signal out of its live
        # range for a demand is common practice, no source.
        why = "" if first in turned else ", as trips do on a lost signal"
        yield Effect("trip", f"The trip comes in{why}: {first} {_change(loop, first, during)}.")
    if "control" in loop.role and (left or moved) and "manual" not in known:
        name = (moved or left)[0]
        yield Effect("upset", f"The controller acts on it: {name} {_change(loop, name, during)}.")
    if "output" in loop.role and "isolate" not in known:
        yield Effect("upset", f"The final element moves: {first} {_change(loop, first, during)}.")
    yield Effect("moved", f"{first} {_change(loop, first, during)}.")


def _state(loop: Loop, name: str) -> bool:
    shows = loop.part(name).kind.shows
    return shows is not None and shows.what == "state"


def _held(loop: Loop, name: str, level: float) -> float:
    """A value as it is shown, held at the ends of its scale."""
    shows = loop.part(name).kind.shows
    assert shows is not None
    return min(max(level, shows.least), shows.most)


def _live(level: float) -> bool:
    return LIVE[0] <= level <= LIVE[1]


def _fell_out(loop: Loop, name: str, before: float, during: float) -> bool:
    return not _state(loop, name) and _live(before) and not _live(during)


def _turned(loop: Loop, name: str, before: float, during: float) -> bool:
    return _state(loop, name) and (before > 0) != (during > 0)


def _moved(loop: Loop, name: str, before: float, during: float) -> bool:
    if _state(loop, name):
        return False
    return abs(_held(loop, name, during) - _held(loop, name, before)) > NOTICED


def _change(loop: Loop, name: str, during: Mapping[str, float]) -> str:
    if _state(loop, name):
        return "comes on" if during[name] > 0 else "goes out"
    return f"goes to {round(_held(loop, name, during[name]) * 100)} %"  # no -0 %
