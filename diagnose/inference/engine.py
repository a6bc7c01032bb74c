"""The engine of one loop: evidence in, ranking and advice out."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import log

import numpy as np

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.rows import Array
from diagnose.inference import beside
from diagnose.inference.advice import Adviser
from diagnose.inference.answer import Answer
from diagnose.inference.atlas import Atlas
from diagnose.inference.baseline import Baseline
from diagnose.inference.candidates import HOME, candidates
from diagnose.inference.data import Datum, datum_of
from diagnose.inference.forcing import forced
from diagnose.inference.ground import Ground
from diagnose.inference.hum import hum_factors
from diagnose.inference.hypotheses import UNMODELLED, Hypothesis, hypotheses
from diagnose.inference.measurement import (
    Cleared,
    Complaint,
    Context,
    Measurement,
    Reading,
    is_hum,
)
from diagnose.inference.meters import GENERIC, Meter
from diagnose.inference.moving import UNREST, beyond, drift
from diagnose.inference.observe import Observer
from diagnose.inference.pairs import Search
from diagnose.inference.posterior import Belief, normalised, refined, with_pairs
from diagnose.inference.ranking import Proof, Ranking
from diagnose.inference.report import compose
from diagnose.inference.report_repair import proofs, receivers
from diagnose.inference.shifted import Shifting, changed
from diagnose.inference.spreads import spreads
from diagnose.inference.stages import Benches, Stages
from diagnose.inference.stated import restated
from diagnose.inference.symptoms import Symptoms
from diagnose.inference.uncovered import uncovered
from diagnose.inference.unrest import restless, unlikely
from diagnose.inference.weighing import Scales, Weighted
from diagnose.loops.loop import Loop

Evidence = Reading | Complaint | Context | Cleared

STATES = 1
"""Engines that are kept for other operating states than the sheet gives: a hunt is in one."""

OPENINGS = 3
"""Looks before any reading that are kept: some megabytes each on a large sheet."""


@dataclass(frozen=True)
class Told:
    """Evidence sorted out: readings as likelihoods, the complaint, the context facts.

    ``cleared`` are the faults (part, fault) that there are not: looked for, or put right.
    """

    data: tuple[Datum, ...]
    numbers: tuple[int, ...]
    complaint: str | None
    facts: tuple[str, ...]
    hum: tuple[Reading, ...] = ()
    declined: frozenset[Measurement] = frozenset()
    cleared: frozenset[tuple[str, str]] = frozenset()


class Engine:
    """Holds what is the same for every hunt on a loop: circuit, lines, levels, candidates."""

    def __init__(
        self,
        loop: Loop,
        meter: Meter = GENERIC,
        rates: Mapping[tuple[str, str], float] | None = None,
        step: float | None = None,
    ) -> None:
        self.loop, self.meter, self.rates = loop, meter, rates
        self.machine = Predictor(loop)
        self.hypotheses = hypotheses(loop, (), rates)
        known = spreads(self.machine, meter)
        more = uncovered(Ground(self.machine, self.hypotheses), known)
        self.observer = Observer(self.machine, meter, (*known, *more))
        steps = {} if step is None else {"step": step}
        self.atlas = Atlas(self.observer, self.hypotheses, **steps)
        self.benches = Benches(self.atlas)
        self.shifting = Shifting.of(self.atlas)
        self.candidates = candidates(loop)
        self._others: dict[str, Engine] = {}
        self._openings: dict[object, Adviser] = {}

    def sort(self, evidence: Sequence[Evidence]) -> Told:
        """Readings, complaint and context of some evidence."""
        data, numbers, complaint, facts, hum = [], [], None, [], []
        declined: set[Measurement] = set()
        cleared: set[tuple[str, str]] = set()
        count = 0
        for item in evidence:
            if isinstance(item, Complaint):
                complaint = item.name
            elif isinstance(item, Context):
                facts.append(item.fact)
            elif isinstance(item, Cleared):
                cleared.add((item.part, item.fault))
            else:
                count += 1
                if is_hum(item.measurement, self.loop) and item.sort in ("value", "span"):
                    hum.append(item)
                if item.sort == "impossible":
                    declined.add(item.measurement)
                datum = datum_of(item, self.loop, self.meter)
                if datum is not None:
                    data.append(datum)
                    numbers.append(count)
        return Told(
            tuple(data),
            tuple(numbers),
            complaint,
            tuple(dict.fromkeys(facts)),
            tuple(hum),
            frozenset(declined),
            frozenset(cleared),
        )

    def believe(self, told: Told) -> tuple[Belief, Atlas]:
        """The posterior of some evidence, and the part of the atlas that it rests on.

        Pairs of faults join in when single ones leave doubt, even with a process that moves by more
        than the sheet says.
        """
        priors = self.priors(told.facts, told.cleared) + self._hum(told)
        symptoms = Symptoms(told.complaint, self.baseline if told.complaint else None)
        share = log(self.loop.shares.unmodelled * symptoms.unknown())
        unrest = drift(told.facts, self.loop)
        scales = Scales(priors, symptoms, beyond(unrest, self.loop))
        bench = self.benches.of(told.data)
        atlas, weighted, belief, change = self._single(bench.calm, told.data, scales, share)
        moving, unseen = 0.0, np.zeros(len(priors))
        calm = unrest < UNREST and not self.loop.states
        if calm and (forced(belief, told.data) or unlikely(belief, priors)):
            rough = replace(scales, drift=beyond(UNREST, self.loop))
            other = self._single(bench.restless, told.data, rough, share)
            moving = restless(other[2].evidence - belief.evidence)
            if moving > 1 / 2:
                unrest, scales, (atlas, weighted, belief, change) = UNREST, rough, other
        if forced(belief, told.data, symptoms.unexplained(atlas, belief.weighted)):
            complained = told.complaint is not None
            search = Search(self.atlas, told.data, priors, scales.drift, complained)
            pairs = search.find(belief)
            if pairs:
                wider = np.concatenate([priors, search.log_priors(pairs)])
                scales = replace(scales, log_prior=wider)
                atlas, weighted = with_pairs(atlas, weighted, pairs, told.data, scales)
            more = search.grown(pairs)
            weighted = changed(weighted, change + more)
            belief = normalised(atlas, weighted, told.data, share, scales.drift)
            unseen = belief.probability[: len(more)] * -np.expm1(-more)
        return replace(belief, drift=unrest, restless=moving, unseen=unseen), atlas

    def _single(
        self, stages: Stages, data: tuple[Datum, ...], scales: Scales, share: float
    ) -> tuple[Atlas, Weighted, Belief, Array]:
        """The belief in single faults; ``share`` is the log prior of none of the modelled.

        Before it the weights, without what a moved bend changes of each hypothesis: that is last.
        """
        atlas, weighted = refined(*stages.after(data, scales), data, scales)
        change = np.zeros(len(atlas.ground.hypotheses))
        for one in self.shifting:
            change += one.changes(atlas, weighted, data, scales)
        belief = normalised(atlas, changed(weighted, change), data, share, scales.drift)
        return atlas, weighted, belief, change

    def _hum(self, told: Told) -> Array:
        """What readings of alternating volts make of the hypotheses: log factors."""
        swayed = [
            (reading, self.atlas.sound.sway(Measurement("V", reading.measurement.points)))
            for reading in told.hum
        ]
        return hum_factors(self.hypotheses, swayed, self.loop.signalling)

    def priors(
        self, facts: Sequence[str], cleared: Container[tuple[str | None, str]] = ()
    ) -> Array:
        """log priors of the hypotheses under context facts: (hypothesis,).

        What is ``cleared`` is left out.
        """
        found = hypotheses(self.loop, facts, self.rates) if facts else self.hypotheses
        result: Array = np.log(
            np.array([max(h.prior * (h.key not in cleared), 1e-300) for h in found])
        )
        return result + beside.log_odds(self.loop, facts, found)

    def rank(
        self,
        evidence: Sequence[Evidence],
        place: str = HOME,
        without: frozenset[str] = frozenset(),
        calm: bool = False,
    ) -> Ranking:
        """Ranked hypotheses, the next measurements, remedy and proof.

        ``place`` is where the technician stands; ``without`` names places and functions that are
        ruled out; ``calm`` leaves out every step that opens the loop or moves its signal.
        """
        return compose(Answer.of(self.look(evidence, place, without, calm)))

    def look(
        self,
        evidence: Sequence[Evidence],
        place: str = HOME,
        without: frozenset[str] = frozenset(),
        calm: bool = False,
    ) -> Adviser:
        """What is believed, and what each measurement would tell.

        It is of the engine for the operating state that is told.  Without a reading it is the same
        for every hunt that begins so: the last few are kept.
        """
        engine = self.at(evidence)
        if engine is not self:
            return engine.look(evidence, place, without, calm)
        told = self.sort(evidence)
        key = (told, place, without, calm)
        known = self._openings.pop(key, None)
        if known is None:
            belief, atlas = self.believe(told)
            known = Adviser(self, atlas, belief, told, place, without, calm)
        if not told.numbers:
            self._openings[key] = known.of(None)  # a way back to here would keep both for ever
            for oldest in list(self._openings)[:-OPENINGS]:
                del self._openings[oldest]
        return known.of(self)

    @cached_property
    def baseline(self) -> Baseline:
        """What the displays of the sound loop show; the same for every hunt."""
        return Baseline(self.observer)

    def at(self, evidence: Sequence[Evidence]) -> Engine:
        """The engine for the operating state that some evidence tells; mostly this one."""
        loop = restated(self.loop, evidence)
        found = self if loop is self.loop else self._others.pop(loop.digest, None)
        # Room is made before more is taken: a hunt stays with the state that it was told.
        for other in (self, *self._others.values()):
            if other is not found:
                other.benches.let_go()
                for one in other.shifting:
                    one.let_go()
        if found is self:
            return self
        while len(self._others) >= STATES:
            del self._others[next(iter(self._others))]
        found = found or Engine(loop, self.meter, self.rates)
        self._others[loop.digest] = found
        return found

    @cached_property
    def proof(self) -> tuple[Proof, ...]:
        """The readings that prove a repair; the same for every hunt."""
        return proofs(self)

    @cached_property
    def receivers(self) -> tuple[Proof, ...]:
        """What the other displays must show meanwhile; the same for every hunt."""
        return receivers(self)

    def hypothesis(self, key: tuple[str | None, str]) -> Hypothesis:
        """The hypothesis with a (part, fault) key; KeyError if there is none."""
        return {h.key: h for h in self.hypotheses}[key]


__all__ = ["UNMODELLED", "Engine", "Evidence", "Told"]
