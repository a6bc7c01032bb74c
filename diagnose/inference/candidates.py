"""Every measurement that can be taken on a loop, with the place to stand and what it costs."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from diagnose.inference.ammeter import opens
from diagnose.inference.commanded import commands, side, strokes
from diagnose.inference.cores import can_be_off, everything_off, single_cores
from diagnose.inference.hypotheses import action_of
from diagnose.inference.measurement import Applied, Condition, Jumper, Measurement, volts_of
from diagnose.inference.trip_steps import trials
from diagnose.loops.loop import EARTH, MANNED, Loop, Part, Place

MINUTES = {
    "V": 1.0, "Vlow": 1.5, "VAC": 1.0, "mA": 6.0, "clamp": 2.5, "ohm": 3.0, "shows": 0.5,
    "process": 5.0,
}  # fmt: skip
"""Work at the place, beyond getting there (common practice, no source)."""

TO_EARTH = 0.25
"""Minutes more against earth where the reference is at hand: a bare earth is looked for.

So the reference is read against unless earth tells more (common practice, no source).
"""

RESTORE = 0.5
"""Share of a condition's minutes that putting things back takes."""

HOME = "cabinet"


@dataclass(frozen=True)
class Candidate:
    """One measurement that could be taken: where, its own minutes, what it does to the loop."""

    measurement: Measurement
    place: str
    minutes: float
    interrupts: bool
    moves_signal: bool


def candidates(loop: Loop) -> tuple[Candidate, ...]:
    """All measurements worth considering, in a fixed order, each once."""
    found: dict[Measurement, Candidate] = {}
    for measurement, place in (*_as_is(loop), *_conditioned(loop)):
        one = candidate_of(loop, measurement, place)
        way = _there_and_back(loop, measurement, place)
        found.setdefault(measurement, replace(one, minutes=one.minutes + way))
    return tuple(found.values())


def _there_and_back(loop: Loop, measurement: Measurement, place: str) -> float:
    """Minutes to where something is done for what is read here, and back: nobody is there."""
    joined = [item for item in measurement.condition if isinstance(item, Jumper)]
    away = {at for item in joined for node in (item.a, item.b) if (at := loop.place_of(node))}
    if measurement.function == "shows":
        parts = (item.part for item in measurement.condition if isinstance(item, Applied))
        away |= {loop.part(part).place for part in parts}
    away -= {place, MANNED}
    return sum(travel(loop, place, there) + travel(loop, there, place) for there in away)


def travel(loop: Loop, here: str, there: str, been: Container[str] = ()) -> float:
    """Minutes from one place to another, set-up there included; a manned place needs no walk.

    A permit to work there is waited for, unless somebody has ``been`` there in this hunt: then it
    is at hand.
    """
    if here == there or there == MANNED:
        return 0.0
    places = {place.name: place for place in loop.places}
    target = places[there]
    start = places[here].minutes if here in places else 0.0
    return max(start, target.minutes) + target.setup + permit(loop, there, been)


def permit(loop: Loop, there: str, been: Container[str]) -> float:
    """Minutes that a permit to work at a place takes; none where somebody has been already."""
    wanted = (place.permit for place in loop.places if place.name == there and there not in been)
    return next(wanted, 0.0)


def visited(loop: Loop, known: Sequence[Candidate], taken: Iterable[Measurement]) -> frozenset[str]:
    """The places where some measurements were taken, as the candidates and the sheet tell it."""
    at = {candidate.measurement: candidate.place for candidate in known}
    found = {at[one] for one in taken if one in at}
    strange = (one for one in taken if one not in at)
    found.update(loop.place_of(point) or "" for one in strange for point in one.points)
    return frozenset(found)


def candidate_of(loop: Loop, measurement: Measurement, place: str) -> Candidate:
    """A measurement with what it costs at its place and what it does to the loop."""
    minutes = MINUTES[measurement.function]
    if EARTH in measurement.points and loop.reference != EARTH and _reaches(loop, place):
        minutes += TO_EARTH
    interrupts = opens(measurement, loop)
    moves = interrupts
    for item in measurement.condition:
        if isinstance(item, Jumper):
            minutes, moves = minutes + 3.0, True
            continue
        action = action_of(loop, item.part, item.action)
        minutes += action.minutes * (1 + RESTORE)
        interrupts = interrupts or action.interrupts
        moves = moves or action.interrupts or action.moves_signal
    return Candidate(measurement, place, minutes, interrupts, moves)


def _as_is(loop: Loop) -> Iterator[tuple[Measurement, str]]:
    for part in loop.parts:
        if part.kind.shows is not None:
            yield Measurement("shows", (part.name,)), part.read_at
    for place in loop.places:
        for a, b in _pairs(loop, place):
            yield Measurement(volts_of(loop), (a, b)), place.name
            if loop.alternating and (loop.reference in (a, b) or not _reaches(loop, place.name)):
                # What stands on a wire may be a ghost, or leak through an open contact.
                yield Measurement("Vlow", (a, b)), place.name
    for part in loop.parts:
        if (part.kind.opens_at or part.kind.meters_across) and _in_reach(loop, part):
            yield Measurement("mA", tuple(part.pins.values())), part.place
        if part.kind.clamped:
            yield Measurement("clamp", (part.name,)), part.place


def _pairs(loop: Loop, place: Place) -> Iterator[tuple[str, str]]:
    """Two points of one place: across each part, and each to the reference or to earth."""
    here = [point.name for point in loop.points if point.place == place.name]
    reach = {*here, EARTH} & set(loop.nodes)
    seen: set[frozenset[str]] = set()
    home = loop.reference if loop.reference in reach else EARTH
    wanted = [tuple(part.pins.values())[:2] for part in loop.parts if len(part.pins) >= 2]
    wanted += [(node, home) for node in here]
    wanted += [(node, EARTH) for node in here]
    for pair in wanted:
        key = frozenset(pair)
        if key <= reach and len(key) == 2 and key not in seen:
            seen.add(key)
            yield pair[0], pair[1]


def _reaches(loop: Loop, place: str) -> bool:
    """Whether a lead reaches the reference from a place."""
    return loop.place_of(loop.reference) == place


def _conditioned(loop: Loop) -> Iterator[tuple[Measurement, str]]:
    yield from _dead_ohms(loop)
    yield from single_cores(loop)
    yield from _commanded(loop)
    yield from _tried(loop)
    bus = _sense(loop)
    if bus is None:
        return
    points, home = bus
    for part in loop.parts:
        for action in part.kind.actions if part.kind.driven else ():
            applied = Applied(part.name, action.name, action.usual)
            yield from _told(loop, (applied,), part.place)
            if part.kind.shows and action.moves_signal and not action.interrupts:
                yield Measurement("shows", (part.name,), (applied,)), part.place
        if part.kind.opens_at and not _in_reach(loop, part):
            condition = tuple(Applied(part.name, a.name) for a in part.kind.actions)[:1]
            if part.place == home:
                yield Measurement(volts_of(loop), points, condition), home
            else:
                yield from _told(loop, condition, part.place)


def _commanded(loop: Loop) -> Iterator[tuple[Measurement, str]]:
    """What is shown, and the volts, while a person sets the command by hand at its display.

    Only what lies on the side of the command: the rest of a control loop would stand as it is.
    """
    usual = [(condition, ("shows", volts_of(loop))) for condition in commands(loop)]
    for condition, functions in (*usual, *((condition, ("shows",)) for condition in strokes(loop))):
        near = side(loop, condition)
        for measurement, place in _as_is(loop):
            if measurement.function in functions and not near.isdisjoint(measurement.points):
                yield replace(measurement, condition=condition), place


def _tried(loop: Loop) -> Iterator[tuple[Measurement, str]]:
    """The lamp of a trip itself while its input is fed; what is out of sight is walked to.

    What it works is held by the key that bypasses it, and tells nothing meanwhile.
    """
    for part, applied in trials(loop):
        done_at = loop.part(applied.part).place
        place = done_at if part.read_at in (done_at, MANNED) else part.read_at
        yield Measurement("shows", (part.name,), (applied,)), place


def _told(loop: Loop, condition: Condition, place: str) -> Iterator[tuple[Measurement, str]]:
    """Something done in the field, its effect told by radio from a display, or read on the spot.

    A state tells little; where it is all that the control room has, a meter is better.
    """
    manned = [p for p in loop.parts if p.read_at == MANNED and p.kind.shows]
    values = [p for p in manned if p.kind.shows and p.kind.shows.what == "value"]
    for part in (values or manned)[:1]:
        yield Measurement("shows", (part.name,), condition), place
    if not values:
        yield from ((Measurement("V", pair, condition), place) for pair in _beside(loop, place))


def _beside(loop: Loop, place: str) -> list[tuple[str, str]]:
    """The points of a place between which its insulation lies: the pair that comes and goes."""
    here = {point.name for point in loop.points if point.place == place}
    pairs = (tuple(p.pins.values()) for p in loop.parts if not p.kind.carries_loop)
    return [(pair[0], pair[1]) for pair in pairs if len(pair) == 2 and {*pair} <= here][:1]


def _sense(loop: Loop) -> tuple[tuple[str, str], str] | None:
    """The points across the sense resistor, and their place."""
    for part in loop.parts:
        if part.kind.senses and len(part.pins) == 2:
            pair = tuple(part.pins.values())
            if all(loop.place_of(node) for node in pair):
                return (pair[0], pair[1]), part.place
    return None


def _dead_ohms(loop: Loop) -> Iterator[tuple[Measurement, str]]:
    off = everything_off(loop)
    if not off:
        return
    for place in loop.places:
        for a, b in _pairs(loop, place):
            if _worth_ohms(loop, a, b):
                yield Measurement("ohm", (a, b), off), place.name


def _worth_ohms(loop: Loop, a: str, b: str) -> bool:
    """Across a part that conducts or insulates; not across what is switched off for it."""
    between = [part for part in loop.parts if set(list(part.pins.values())[:2]) == {a, b}]
    return bool(between) and not any(can_be_off(part) for part in between)


def _in_reach(loop: Loop, part: Part) -> bool:
    """Whether meter leads reach both ends of a part."""
    return all(loop.place_of(node) for node in part.pins.values())


def excluded(candidate: Candidate, without: Iterable[str]) -> bool:
    """Whether the user has ruled out the candidate's place or function."""
    words = {word.lower() for word in without}
    return candidate.place.lower() in words or candidate.measurement.function.lower() in words


__all__ = [
    "HOME",
    "MANNED",
    "Candidate",
    "candidate_of",
    "candidates",
    "commands",
    "excluded",
    "travel",
]
