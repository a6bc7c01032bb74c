"""The score of a drill: one rule, printed, and the same for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

from diagnose.inference.advice import HANDLING
from diagnose.training.drill import Drill
from diagnose.training.lookout import Look
from diagnose.training.path import Passed, path_of
from diagnose.training.verdicts import GROUP, NOT_FOUND, Key, right_share

VERDICT, INFORMATION, TIME, CALM, CARE, RESTORED = 45.0, 20.0, 10.0, 5.0, 10.0, 10.0
"""Points for the parts of the score; they add up to one hundred."""

TRIP, UPSET, UNSAFE = 30.0, 15.0, 20.0
"""Points that are lost each time."""

INTERRUPTED, MOVED = 2.0, 1.0
"""Points lost of ``CALM`` for a step that opens the loop, or that moves its signal."""

CAPS = (100.0, 30.0, 10.0, 0.0)
"""Most that a drill scores with none, one, two, more unsafe steps and trips: safety comes first."""

GUESSED = 1 / 3
"""Chance of the group of a verdict below which it was a guess, and not one of two that are left."""

GIVEN_UP = 0.4
"""Most of a verdict that counts for one who gives up: less than the right group named, 0.6."""

LEAST_BITS = 0.02
"""A step at which less than this could be learnt counts this much, so that idling is seen."""

RULE = (
    (
        f"{VERDICT:.0f} points for the verdict: six tenths for the right group of faults that no "
        "reading tells apart, two for the right part, two for the right mode.  A guess, whose "
        "group the readings had put at less than one in three, counts in proportion; where two "
        "faults are hidden, or one that comes and goes, the readings must have led a third of the "
        "way there at some time."
    ),
    (
        f"To give up (verdict not found) counts up to {GIVEN_UP * 10:.0f} tenths of these, by how "
        "far the readings had narrowed it down to what was wrong: less than the right name, more "
        "than a wrong one."
    ),
    (
        f"{INFORMATION:.0f} for information: what each step was expected to tell per minute, "
        "against the best step that could be had then, weighed by what could be learnt. A reading "
        f"counts {HANDLING:.0f} minutes more for handling the meter, a display at hand or told by "
        "radio does not."
    ),
    f"{TIME:.0f} for time: all of them up to half of the time limit, none at the limit.",
    (
        f"{CALM:.0f} for a calm plant: {INTERRUPTED:.0f} less for each step that opens the loop, "
        f"{MOVED:.0f} less for each that moves its signal."
    ),
    f"{CARE:.0f} for care: the share of what the steps needed that was arranged before them.",
    f"{RESTORED:.0f} for putting everything back before closing.",
    (
        "The points for time, calm, care and putting back count in full where the group is right "
        "and no guess, else in the share in which the verdict counts: to do nothing is no skill."
    ),
    (
        f"Less {TRIP:.0f} each time the plant trips, {UPSET:.0f} each time it is upset, "
        f"{UNSAFE:.0f} for every step with something unsafe in it.  Less what hints, ranking and "
        "advice cost."
    ),
    (
        f"With one step that is unsafe or trips the plant at most {CAPS[1]:.0f} in all, with two "
        f"at most {CAPS[2]:.0f}, with more 0: what is not safe is not passed.  Never below 0."
    ),
)
"""The rule in words."""


@dataclass(frozen=True)
class Score:
    """The points of one drill.

    ``lost`` are those for trips, upsets and unsafe steps; ``grave`` counts the steps that were
    unsafe or tripped the plant; ``narrowed`` is how far the readings led to what was wrong.
    ``borne`` is the share in which the verdict counts, below 1 for a guess; ``earned`` that of
    time, calm, care and putting back.
    """

    verdict: float
    information: float
    time: float
    calm: float
    care: float
    restored: float
    lost: float
    asked: float
    right: float
    minutes: float
    readings: int
    trips: int
    upsets: int
    unsafe: int
    interruptions: int
    grave: int
    narrowed: float = 0.0
    borne: float = 1.0
    earned: float = 1.0

    @property
    def total(self) -> float:
        """The score, 0 to 100."""
        won = self.verdict + self.information + self.time + self.calm + self.care + self.restored
        return min(self.cap, max(0.0, won - self.lost - self.asked))

    @property
    def cap(self) -> float:
        """Most that the drill scores with so many unsafe steps and trips."""
        return CAPS[min(self.grave, len(CAPS) - 1)]


def score_of(
    drill: Drill, passed: Sequence[Passed] | None = None, end: Look | None = None
) -> Score:
    """The score of a drill; what was known at its steps may be given, to compute it once."""
    if passed is None or end is None:
        passed, end = path_of(drill)
    steps = drill.steps
    effects = [effect.sort for step in steps for effect in step.effects]
    unsafe = sum(bool(step.unsafe) for step in steps)
    right, borne = rightness(drill, end), borne_out(drill, passed, end)
    closer = narrowed(drill, passed, end)
    named = GIVEN_UP * closer if NOT_FOUND in drill.verdict else right
    earned = borne * min(1.0, named / GROUP)
    breaks = sum(step.interrupts for step in steps)
    moves = sum(step.disturbs and not step.interrupts for step in steps)
    asked = sum(step.points for step in steps)
    trips, upsets = effects.count("trip"), effects.count("upset")
    return Score(
        verdict=VERDICT * named * borne,
        information=INFORMATION * information(passed),
        time=TIME * earned * _punctual(drill),
        calm=earned * max(0.0, CALM - INTERRUPTED * breaks - MOVED * moves),
        care=CARE * earned * _care(drill),
        restored=0.0 if drill.items else RESTORED * earned,
        lost=TRIP * trips + UPSET * upsets + UNSAFE * unsafe,
        asked=asked,
        right=right,
        minutes=drill.clock,
        readings=len(drill.readings),
        trips=trips,
        upsets=upsets,
        unsafe=unsafe,
        interruptions=breaks,
        grave=sum(bool(s.unsafe) or "trip" in {e.sort for e in s.effects} for s in steps),
        narrowed=closer,
        borne=borne,
        earned=earned,
    )


def rightness(drill: Drill, end: Look) -> float:
    """How much of the verdict is right, 0 to 1, with the groups as they stand at the end."""
    true = drill.hidden.keys
    return right_share(drill.verdict, true, [end.alike(key) for key in true])


def borne_out(drill: Drill, passed: Sequence[Passed], end: Look) -> float:
    """Share in which a verdict counts for what the readings say of it: below 1 it was a guess."""
    if NOT_FOUND in drill.verdict:
        return 1.0
    known_ = known(drill, end) if measured_by_chance(drill) else reached(drill, passed, end)
    return min(1.0, known_ / GUESSED)


def measured_by_chance(drill: Drill) -> bool:
    """Whether the chance at the end is a measure of what was known.

    It is none of two faults at once, or of one that comes and goes: their readings gainsay each
    other.
    """
    return len(drill.hidden.keys) == 1 and not drill.setting.intermittent


def known(drill: Drill, end: Look) -> float:
    """Chance at which the readings had put the groups of a verdict, 0 to 1.

    Of two faults that are named it is the chance that either is there: so a second name that is
    thrown in does not make a guess of the first any better.
    """
    named = frozenset().union(*(end.alike(key) for key in drill.verdict))
    if len(drill.verdict) == 1:
        return sum(end.probability.get((key,), 0.0) for key in named)
    return _chance(end, named)


def reached(drill: Drill, passed: Sequence[Passed], end: Look) -> float:
    """How far the readings led to what is wrong when they led there most, 0 to 1."""
    looks = (*(item.after for item in passed), end)
    return max((narrowed(drill, passed, look) for look in looks), default=0.0)


def narrowed(drill: Drill, passed: Sequence[Passed], end: Look) -> float:
    """How far the readings of a drill led to what is wrong, 0 to 1.

    Of the bits that were missing before the first reading, the share that is not missing any more:
    1 where the group of what is wrong is certain, 0 where it is no likelier than before.
    """
    if not passed:
        return 0.0
    found = []
    for key in drill.hidden.keys:
        before, after = (_chance(look, end.alike(key)) for look in (passed[0].before, end))
        missing = -log(max(before, 1e-9))
        told = log(max(after, 1e-9)) + missing
        found.append(min(1.0, max(0.0, told / missing)) if missing > 0 else 0.0)
    return sum(found) / len(found)


def _chance(look: Look, alike: frozenset[Key]) -> float:
    """Chance that one of some faults is there, alone or with another."""
    return sum(chance for keys, chance in look.probability.items() if alike & {*keys})


def information(passed: Sequence[Passed]) -> float:
    """Share of what could be learnt that the steps were chosen for."""
    if not passed:
        return 0.0
    could = [max(p.before.best.gain_bits if p.before.best else 0.0, LEAST_BITS) for p in passed]
    won = sum(p.share * bits for p, bits in zip(passed, could, strict=True))
    return float(won / sum(could))


def _punctual(drill: Drill) -> float:
    """1 up to half of the time limit, falling to 0 at the limit."""
    return min(1.0, max(0.0, 2 * (1 - drill.clock / drill.setting.minutes)))


def _care(drill: Drill) -> float:
    """Share of what the steps needed that was arranged."""
    needed = sum(len(step.needed) for step in drill.steps)
    missing = sum(len(step.missing) for step in drill.steps)
    return 1.0 if not needed else 1 - missing / needed
