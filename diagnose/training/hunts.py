"""One simulated hunt: a hidden fault, a meter with all its errors, a policy, and how it ended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.advice import SURE, Adviser
from diagnose.inference.answer import Answer
from diagnose.inference.candidates import HOME, Candidate
from diagnose.inference.doubts import doubts
from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.measurement import Complaint, Context
from diagnose.inference.posterior import Belief
from diagnose.inference.world import World
from diagnose.training.draws import draw
from diagnose.training.honesty import misled, plain
from diagnose.training.policies import POLICIES
from diagnose.training.repairing import FEW, faults_of, named_first, shares, to_the_end
from diagnose.training.scores import brier, credible
from diagnose.training.troubles import TROUBLES
from diagnose.training.walking import Walk, read_on

MOST_READINGS = 12
"""Readings after which a hunt is called off."""

DISTRUST = 0.5
"""Chance of being worthless from which a reading counts as named."""


@dataclass(frozen=True)
class Hunt:
    """How one hunt went.

    ``rank`` is the place of the true group in the end, 1 the first, and with two faults that up to
    which both were named; where the engine does not know the fault, that of "none of the modelled".
    ``said`` is the probability of the leading group; ``sure`` whether that reached the limit;
    ``unmodelled`` the probability of none of the modelled faults; ``members`` the size of the
    leading group; ``credible`` how far the set of groups that holds 90 % holds the true one;
    ``named`` whether the reading that was worthless by design is distrusted in the end, None where
    there was none; ``touched`` whether the leading group names a fault that there is.

    With two faults the hunt goes on after the first repair: ``both`` tells whether each fault was
    among the first three groups when a repair was due, ``shown`` whether the second could be seen:
    both were named at once, or the proof after the first repair failed, or something was complained
    of still; ``before`` whether both stood among the first three groups before any repair.
    ``put_right`` is the number of faults repaired, ``all_readings`` and ``all_minutes``
    are of the whole, repairs and proof included; the other figures end with the first verdict.

    ``misled`` tells whether the hunt ended sure of a group that names nothing that is wrong with
    the loop (``honesty``), ``warned`` whether the answer said that readings or sheet are in
    doubt, ``plain`` whether there is one fault that has no size, or moves something by more than
    three times its tolerance.
    """

    tag: str
    type: str
    policy: str
    seed: int
    part: str | None
    fault: str
    rank: int
    sure: bool
    said: float
    unmodelled: float
    readings: int
    minutes: float
    interruptions: int
    brier: float
    members: int
    trouble: str = "none"
    credible: float = 0.0
    named: bool | None = None
    touched: bool = False
    both: bool | None = None
    shown: bool | None = None
    put_right: int = 0
    all_readings: int = 0
    all_minutes: float = 0.0
    before: bool | None = None
    misled: bool = False
    warned: bool = False
    plain: bool = False

    @property
    def right(self) -> bool:
        """The true group leads."""
        return self.rank == 1


def hunt(
    engine: Engine,
    policy: str,
    seed: int,
    most: int = MOST_READINGS,
    trouble: str = "none",
    truth: Engine | None = None,
    fault: tuple[str | None, str] | None = None,
) -> Hunt:
    """One hunt by one policy; the same seed hides the same fault for every policy.

    ``truth`` is an engine of the same loop by whose rates faults are drawn, if they are others;
    ``fault`` (part, mode) is hidden in place of a drawn one.  Both go without a trouble.
    """
    full = engine
    if truth is None and fault is None:
        world, complaint, engine = TROUBLES[trouble].stage(engine, seed)
    else:
        world, complaint = draw(truth or engine, seed, fault=fault)
    rng = np.random.default_rng([seed, 1])

    def choose(engine: Engine, adviser: Adviser, left: Sequence[Candidate]) -> Candidate | None:
        return POLICIES[policy](engine, adviser, left, rng)

    evidence: list[Evidence] = [
        Complaint(complaint, complaint),
        *(Context(fact, fact) for fact in world.facts),
    ]
    walk = Walk(HOME)
    adviser = read_on(engine, world, evidence, choose, walk, most)
    walked = Walked(policy, trouble, seed, walk.readings, walk.minutes, walk.interruptions)
    found = _ended(engine, world, adviser, walked)
    if found.sure:
        found = replace(found, misled=misled(adviser, world, full, evidence))
    if world.hypothesis.also:
        faults = faults_of(world.hypothesis)
        before = named_first(adviser, faults) == faults
        repairs = to_the_end(engine, world, adviser, evidence, choose, walk, most)
        found = replace(
            found,
            both=repairs.named,
            before=before,
            shown=repairs.shown or found.rank <= FEW,
            put_right=repairs.found,
            all_readings=repairs.readings,
            all_minutes=repairs.minutes,
        )
    return found


@dataclass(frozen=True)
class Walked:
    """What a hunt took."""

    policy: str
    trouble: str
    seed: int
    readings: int
    minutes: float
    interruptions: int


def _ended(engine: Engine, world: World, adviser: Adviser, walked: Walked) -> Hunt:
    """How a hunt stands in the end; "none of the modelled" is number 0 of the groups."""
    weight, belief, share = adviser.group_probability(), adviser.belief, shares(adviser)
    faults = {world.hypothesis.key, *world.hypothesis.also}
    known = {h.key for h in engine.hypotheses if h.prior > 0}
    mine = 0
    if faults <= known:
        alone = len(faults) == 1
        mine = (
            int(adviser.group[world.hypothesis.number]) if alone else _both(adviser, share, faults)
        )
    part, fault = world.hypothesis.key
    return Hunt(
        tag=engine.loop.tag,
        type=engine.loop.type,
        part=part,
        fault=fault,
        rank=1 + int((share > share[mine]).sum()),
        sure=bool(weight.max() >= SURE),
        said=float(weight.max()),
        unmodelled=float(belief.unmodelled),
        brier=brier(share, mine),
        members=int((adviser.group == int(weight.argmax())).sum()),
        credible=credible(share, mine),
        named=_named(belief, world, walked),
        touched=int(share.argmax()) in {_both(adviser, share, {key}) for key in faults & known},
        warned=not {"fit", "sheet"}.isdisjoint(doubts(Answer.of(adviser))),
        plain=plain(engine, world),
        **vars(walked),
    )


def _both(adviser: Adviser, share: Array, faults: set[tuple[str | None, str]]) -> int:
    """The group, going down the ranking, with which both faults have been named."""
    own = adviser.atlas.ground.hypotheses
    left = set(faults)
    for number in np.argsort(-share, kind="stable"):
        members = np.flatnonzero(adviser.group == number)
        left -= {key for n in members for key in (own[int(n)].key, *own[int(n)].also)}
        if not left:
            return int(number)
    return 0


def _named(belief: Belief, world: World, walked: Walked) -> bool | None:
    """Whether the mistaken reading, if it was taken, is the one that is distrusted most."""
    if not 0 < world.mistaken <= walked.readings:
        return None
    doubt = belief.suspect
    return bool(doubt.max(initial=0.0) > DISTRUST and int(doubt.argmax()) == world.mistaken - 1)
