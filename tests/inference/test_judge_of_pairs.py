"""The judge of two faults is judged: a closed form, and plain sampling from the prior."""

from __future__ import annotations

from math import erf, log, sqrt

import numpy as np
import pytest

from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.loops.sheet import load_sheet
from judge.boxes import Used
from judge.evidence import choices, log_broad, log_density
from judge.model import Model
from judge.posterior import COARSE, _evidence, drawn_posterior, judge_posterior
from judge.small import small_loop
from judge.two_faults import MASS, Pairs, pair_evidence
from judge.world import hypotheses


def evidence_of_pairs(loop, readings, seed):
    """(log of the evidence of all pairs by the judge, its relative error)."""
    model = Model(loop, readings, hypotheses(loop))
    record: list[Used] = []
    lowest = log(0.02) + log_broad(model.margins)
    sets = choices(model.margins)
    logs, _ = _evidence(model, COARSE, lowest, record)
    others = float(np.logaddexp(np.logaddexp.reduce(logs), lowest))
    found = pair_evidence(model, sets, record, others, seed)
    parts = np.array([*found.logs.values(), found.rest])
    whole = float(np.logaddexp.reduce(parts))
    return whole, float(np.sqrt(((np.exp(parts - whole) * found.error) ** 2).sum()))


def test_the_prior_of_all_pairs():
    # source: the stated model: 2 %, and three times as much at one place, here for all of them
    loop = small_loop()
    pairs = Pairs(Model(loop, [], hypotheses(loop)))
    part = np.array([pairs.model.cases[k].part for k in pairs.faults])
    rate = np.array([pairs.model.cases[k].prior for k in pairs.faults])
    same = sum(
        rate[a] * rate[b]
        for a in range(len(rate))
        for b in range(a + 1, len(rate))
        if part[a] == part[b]
    )
    whole = (rate.sum() ** 2 - (rate**2).sum()) / 2
    assert pairs.whole == pytest.approx(3 * MASS * (1 - same / whole), rel=1e-12)


def test_pairs_that_the_reading_does_not_see():
    # source: closed form: a gauge sees the process alone, under every pair alike
    loop, y = small_loop(), 0.004
    found, error = evidence_of_pairs(loop, [Reading(Measurement("shows", ("LG",)), "value", y)], 3)
    sd = sqrt((0.02**2 + 0.005**2) / 3 + loop.drift**2)

    def phi(z):
        return 0.5 * (1 + erf(z / sqrt(2)))

    inside = sum(
        share / (b - a) * (phi((b - y) / sd) - phi((a - y) / sd))
        for a, b, share in ((-0.1, 0, 0.02), (0, 1, 0.96), (1, 1.1, 0.02))
    )
    pairs = Pairs(Model(loop, [], hypotheses(loop)))
    expected = log(pairs.whole * (0.995 * inside + 0.005 / 1.5))
    assert error < 0.1
    assert abs(found - expected) < max(4 * error, 0.02)


READINGS = [
    Reading(Measurement("V", ("d", "sn")), "span", 0.6, 0.1),
    Reading(Measurement("shows", ("X3",)), "lit"),
    Reading(Measurement("shows", ("LG",)), "span", 0.4, 0.1),
]


def test_pairs_agree_with_plain_sampling():
    # source: Monte Carlo from the prior of pairs, severities, process and tolerances, through the
    # whole circuit: 60,000 draws
    loop, rows = small_loop(drift=0.0), 60_000
    model, rng = Model(loop, READINGS, hypotheses(loop)), np.random.default_rng(8)
    pairs, sets = Pairs(model), choices(model.margins)
    h, u = pairs.drawn(rows, rng), rng.random((rows, 2))
    piece = rng.choice(3, size=rows, p=[0.02, 0.96, 0.02])
    low, high = np.array([-0.1, 0.0, 1.0])[piece], np.array([0.0, 1.0, 1.1])[piece]
    off = rng.standard_normal((rows, len(model.tolerances)))
    mean = np.concatenate(
        [
            model.moved(h[k : k + 4000], u[k : k + 4000], p, off[k : k + 4000])
            for k in range(0, rows, 4000)
            for p in [rng.uniform(low[k : k + 4000], high[k : k + 4000])]
        ]
    )
    cov = np.broadcast_to(model.fixed, (rows, *model.fixed.shape))
    logs = np.logaddexp.reduce([log_density(s, cov, [mean])[0] for s in sets], axis=0)
    weight = np.exp(logs - logs.max())
    plain = float(np.log(weight.mean()) + logs.max()) + log(pairs.whole)
    doubt = float(weight.std() / weight.mean() / rows**0.5)
    found, error = evidence_of_pairs(loop, READINGS, 4)
    assert error < 0.15
    assert abs(found - plain) < 4 * np.hypot(error, doubt)


def test_draws_agree_with_quadrature_where_the_circuit_is_straight():
    # source: the judge's own quadrature, itself judged by plain sampling
    loop = small_loop(drift=0.0)
    readings = [
        Reading(Measurement("V", ("d", "sn")), "value", 3.02, rounding=0.0005),
        Reading(Measurement("shows", ("LG",)), "value", 0.5, rounding=0.0025),
    ]
    drawn, quadrature = drawn_posterior(loop, readings), judge_posterior(loop, readings, (1, 1))
    assert drawn.converged
    assert not drawn.pairs
    for key, value in quadrature.probabilities.items():
        assert drawn.probabilities[key] == pytest.approx(value, abs=0.012)


def test_a_sharp_fault_with_any_harmless_one_beside_it(plant):
    # source: closed form: a second fault that neither reading sees leaves their likelihood as it
    # is, so that all pairs with the first one hold what the prior gives them beside it alone
    loop = load_sheet(plant / "sheets" / "TT-133.toml")
    readings = [
        Reading(
            Measurement("ohm", ("TI-133:D", "X33:4"), (Applied("TI-133", "off"),)), "value", 34073.6
        ),
        Reading(Measurement("mA", ("TI-133:B", "X33:2")), "value", 1e-5, rounding=5e-6),
    ]
    pairs, key = Pairs(Model(loop, [], hypotheses(loop))), ("TI-133.D", "high resistance")
    (k,) = [n for n, case in enumerate(hypotheses(loop)) if (case.part, case.mode) == key]
    beside = pairs.prior[pairs.number[k]].sum() / pairs.model.cases[k].prior
    drawn = drawn_posterior(loop, readings)
    held = sum(drawn.pairs.values()) + drawn.other_pairs
    assert drawn.probabilities[key] > 0.5
    # One second fault in a hundred is seen; a few pairs explain both without the first one.
    assert 0.9 < held / (beside * drawn.probabilities[key]) < 1.25
