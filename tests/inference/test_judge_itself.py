"""The judge is judged: known circuits, closed-form posteriors, published factors, sampling."""

from __future__ import annotations

from fractions import Fraction
from math import asin, erf, erfc, exp, log, pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.measurement import Applied, Measurement, Reading
from diagnose.inference.readings import parse_lines
from diagnose.loops.sheet import load_sheet
from judge.circuit import Circuit, Insertion, insertion
from judge.evidence import Choice, choices, log_broad, log_density
from judge.gaussian import log_cdf, log_orthant
from judge.generator import measurements, random_cases
from judge.model import Model, Seen
from judge.posterior import judge_posterior
from judge.small import small_loop
from judge.solver import Element, current, operating_point
from judge.world import Hypothesis, hypotheses, nominal, state

PT_119 = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets" / "PT-119.toml"
NONE = (None, "none")
SOUND = [Hypothesis(None, "none", 1.0)]

# source "ngspice-39": operating points of the loop of `small.py` by ngspice 39.3 (reltol 1e-6),
# run for this project; columns: changes; + leg mA, - leg mA, V supply, V sense, V cabinet pair,
# V transmitter, + core to earth, - core to earth.  Demand 12 mA unless I says otherwise.
NGSPICE = """
I=3.6e-3 | 3.600 3.600 23.998 0.899 22.019 21.875 22.846 0.971
I=4e-3 | 4.000 4.000 23.998 0.999 21.799 21.638 22.718 1.079
I=12e-3 | 12.000 12.000 23.994 2.998 17.396 16.916 20.154 3.238
I=20e-3 | 20.000 20.000 23.990 4.996 12.994 12.194 17.590 5.396
I=20.5e-3 | 20.353 20.353 23.990 5.084 12.800 11.986 17.477 5.491
I=21.5e-3 | 20.488 20.488 23.990 5.118 12.725 11.906 17.434 5.528
I=22.5e-3 | 20.612 20.612 23.990 5.149 12.657 11.832 17.394 5.561
I=4e-3 SH=1e4 | 6.044 6.044 23.997 1.510 20.674 20.432 22.063 1.631
SH=1e4 | 13.598 13.598 23.993 3.397 16.517 15.973 19.642 3.669
I=20e-3 SH=1e4 | 20.453 20.453 23.990 5.110 12.744 11.926 17.445 5.519
SH=2e3 | 18.531 18.531 23.991 4.629 13.802 13.061 18.061 5.000
LP=1e4 | 13.953 12.000 23.993 2.998 16.809 16.290 19.528 3.238
LP=2e3 | 20.685 12.000 23.990 2.998 14.786 14.132 17.370 3.238
LP=1e4 RHS=250 R=1e-3 | 13.623 12.000 23.993 0.000 16.500 15.988 16.228 0.240
LN=1e4 | 12.000 11.685 23.994 2.919 17.475 17.001 20.154 3.153
LN=1e3 | 12.000 9.450 23.994 2.361 18.033 17.604 20.154 2.550
LN=1e-3 | 12.000 0.000 23.994 0.000 20.394 20.154 20.154 0.000
LN=1e-3 SHIFT=1 | 12.000 3.706 23.994 0.926 19.468 19.154 20.154 1.000
LN=1e3 E=1e12 | 12.000 12.000 23.994 2.998 17.396 16.916 16.916 0.000
LN=1e4 LP=1e4 E=1e12 | 12.822 12.822 23.994 3.203 16.944 16.431 8.216 -8.216
SH=1e-3 | 40.656 40.656 23.980 10.156 1.626 0.000 10.970 10.970
CC=1e-3 | 43.611 43.611 23.978 10.895 0.000 0.000 10.895 10.895
W+=1e12 | 0.000 0.000 24.000 0.000 24.000 0.001 0.001 0.000
W-=1e12 | 0.000 0.000 24.000 0.000 24.000 0.002 24.000 23.998
A=1e12 | 0.000 0.000 24.000 0.000 0.001 0.001 0.001 0.000
I=4e-3 W+=220 | 4.000 4.000 23.998 0.999 21.799 20.838 21.918 1.079
W+=220 | 12.000 12.000 23.994 2.998 17.396 14.516 17.754 3.238
I=20e-3 W+=220 | 15.725 15.725 23.992 3.928 15.346 11.572 15.815 4.243
G=20 | 12.000 12.000 19.994 2.998 13.396 12.916 16.154 3.238
I=20e-3 G=20 | 14.486 14.486 19.993 3.619 12.028 11.449 15.357 3.909
I=20e-3 G=18 | 11.589 11.589 17.994 2.895 11.622 11.159 14.286 3.127
X1=1e3 | 12.000 12.000 23.994 2.399 17.995 17.515 20.154 2.639
X1=50 | 12.000 12.000 23.994 0.500 19.894 19.414 20.154 0.740
R=1e12 | 0.042 0.042 24.000 13.979 10.009 10.007 23.987 13.980
R=262.5 | 12.000 12.000 23.994 3.148 17.246 16.766 20.154 3.388
R=1e-3 | 12.000 12.000 23.994 0.000 20.394 19.914 20.154 0.240
I=20e-3 W-=270 | 14.889 14.889 23.993 3.719 15.807 11.489 19.228 7.739
I=20e-3 A=450 | 16.660 16.660 23.992 4.162 12.332 11.666 16.161 4.495
"""
KEYS = {"G": "voltage", "X1": "input_resistance"}


def changed(text):
    """``I=4e-3 SH=1e4`` as changes of the small loop; the transmitter is made to ask for I."""
    pairs = [item.split("=") for item in text.split()]
    out = {"TX": {"failed": 1.0, "failed_current": 12e-3}}
    for name, value in pairs:
        if name == "I":
            out["TX"]["failed_current"] = float(value)
        elif name == "SHIFT":
            out["LN"]["shift"] = out.setdefault("LP", {})["shift"] = float(value)
        else:
            out.setdefault(name, {})[KEYS.get(name, "resistance")] = float(value)
    return out


def circuit_of(loop, process=0.5, meter=None, cases=SOUND, which=0, u=0.5, condition=()):
    st = state(loop, cases, np.array([which]), np.array([u]), condition)
    return Circuit(loop, st, np.array([process]), condition, meter)


def volts(circuit, a, b):
    return float(np.ravel(circuit.point.across(circuit.nodes[a], circuit.nodes[b]))[0])


def amps(circuit, part):
    return float(np.ravel(circuit.through(part))[0])


@pytest.mark.parametrize("line", NGSPICE.strip().splitlines())
def test_operating_points_agree_with_ngspice(line):
    what, _, table = line.partition("|")
    c = circuit_of(small_loop(changed(what)))
    found = [
        1e3 * amps(c, "RHS"),
        1e3 * amps(c, "LK"),
        volts(c, "ps", "sn"),
        volts(c, "d", "sn"),
        volts(c, "b", "c"),
        volts(c, "tp", "tn"),
        volts(c, "tp", "PE"),
        volts(c, "tn", "PE"),
    ]
    assert found == pytest.approx([float(x) for x in table.split()], abs=6e-4)


def test_currents_balance_at_every_node_under_every_hypothesis():
    # source: Kirchhoff's current law
    loop = small_loop()
    cases = hypotheses(loop)
    rng = np.random.default_rng(1)
    which = rng.integers(0, len(cases), 2000)
    st = state(loop, cases, which, rng.random(2000), ())
    c = Circuit(loop, st, rng.uniform(-0.1, 1.1, 2000), (), Insertion("tp", "PE", (1e-7, 0.0)))
    sums = np.zeros((len(c.nodes), 2000))
    for k, e in enumerate(c.elements):
        i = current(e, c.point.regimes.get(k, 0), c.point.across(e.a, e.b))
        sums[e.a] += i
        sums[e.b] -= i
    assert np.max(np.abs(sums)) < 1e-9
    assert np.max(c.point.conflict) < 1e-9


def exact_volts(edges, count, into):
    """Node voltages in rational arithmetic: plain Gaussian elimination of the nodal matrix."""
    rows = [[Fraction(0)] * count + [Fraction(into if n == 1 else 0)] for n in range(count)]
    for a, b, g in edges:
        g = Fraction(g)
        for n, m in ((a, b), (b, a)):
            rows[n][n] += g
            rows[n][m] -= g
    rows = [row[1:] for row in rows[1:]]
    n = count - 1
    for k in range(n):
        for i in range(n):
            if i != k:
                f = rows[i][k] / rows[k][k]
                rows[i] = [x - f * y for x, y in zip(rows[i], rows[k], strict=True)]
    return [float(rows[k][n] / rows[k][k]) for k in range(n)]


@pytest.mark.parametrize("seed", range(5))
def test_opens_beside_links_lose_no_digit(seed):
    # source: exact rational arithmetic (fractions.Fraction) on the same random network
    rng = np.random.default_rng(seed)
    pairs = [(n, m) for n in range(7) for m in range(n) if rng.random() < 0.6 or m == n - 1]
    edges = [(a, b, float(10 ** rng.uniform(-12, 3))) for a, b in pairs]
    elements = [Element(a, b, ((g, 0.0),)) for a, b, g in edges]
    point = operating_point([*elements, Element(1, 0, ((0.0, -1e-3),))])
    assert [float(point.volts[k]) for k in range(1, 7)] == pytest.approx(
        exact_volts(edges, 7, 1e-3), rel=1e-12
    )


def test_closed_forms_of_leaks():
    # source: current division by hand: I = (I_set + Vs/R_sh) / (1 + R/R_sh) with R the loop's
    # resistance; with a leak of the + core R counts up to the leak; of the - core
    # I_sense = I_set R_L / (R_L + R_lo)
    sense = 1 / (1 / 250 + 3e-6)
    hi, lo = 0.5 + 1e-3 + 300 + 20, 20 + 1e-3 + sense
    shunt = circuit_of(small_loop(changed("SH=1e4")))
    assert amps(shunt, "A") == pytest.approx((12e-3 + 24 / 1e4) / (1 + (hi + lo) / 1e4), rel=3e-5)
    plus = circuit_of(small_loop(changed("LP=1e4")))
    assert amps(plus, "A") == pytest.approx((12e-3 + 24 / 1e4) / (1 + hi / 1e4), rel=3e-5)
    minus = circuit_of(small_loop(changed("LN=1e3")))
    assert amps(minus, "LK") == pytest.approx(12e-3 * 1e3 / (1e3 + lo), rel=3e-5)


def test_a_meter_loads_what_it_reads():
    # source: divider 10 Mohm / (10 Mohm + 100 kohm) = 0.990099
    loop = small_loop({"G": {"voltage": 10.0, "source_resistance": 1e5}}, only=("G", "E"))
    what = Measurement("V", ("ps", "sn"))
    seen = Seen(circuit_of(loop, meter=insertion(loop, what)), what)
    assert float(seen.value[0] if np.ndim(seen.value) else seen.value) / 10 == pytest.approx(
        0.990099, abs=5e-7
    )


def test_a_resistor_out_of_circuit_reads_its_value_and_the_leads():
    # source: Ohm's law; leads 0.2 ohm by the model
    off = (Applied("G", "off"),)
    loop = small_loop()
    what = Measurement("ohm", ("d", "sn"), off)
    c = circuit_of(loop, meter=insertion(loop, what), condition=off)
    bus = 1 / (1 / 250 + 3e-6)
    found = float(np.ravel(Seen(c, what).value)[0])
    assert exp(found) - 1 == pytest.approx(bus + 0.2, rel=1e-6)


def test_sensitivities_are_those_of_the_whole_circuit():
    # source: central differences of complete solutions
    loop = small_loop()
    off = (Applied("G", "off"),)
    for what in (
        Measurement("V", ("tp", "tn")),
        Measurement("clamp", ("A",)),
        Measurement("mA", ("c", "d")),
        Measurement("shows", ("X1",)),
        Measurement("ohm", ("b", "c"), off),
    ):
        meter = insertion(loop, what)
        seen = Seen(circuit_of(loop, 0.7, meter, condition=what.condition), what)
        for name, parameter in (
            ("A", "resistance"),
            ("R", "resistance"),
            ("G", "voltage"),
            ("X2", "input_resistance"),
            ("TX", "trim"),
        ):
            part, step = loop.part(name), max(abs(loop.part(name).values[parameter]), 0.01) * 1e-4
            ends = []
            for sign in (1, -1):
                values = nominal(loop)
                values[name][parameter] += sign * step
                st = state(loop, SOUND, np.zeros(1, int), np.zeros(1), what.condition, values)
                ends.append(Seen(Circuit(loop, st, np.array([0.7]), what.condition, meter), what))
            slope = float(np.ravel(ends[0].value - ends[1].value)[0]) / (2 * step)
            slope *= 0.0 if (what.condition and name == "G") else 1.0
            assert np.ravel(seen.by(part, parameter, step))[0] == pytest.approx(
                slope, rel=1e-4, abs=1e-9
            )


def test_a_process_that_moves_an_element_moves_an_ohmmeter_by_its_volts(plant):
    # source: by hand: an element of 100 to 138.5 ohm (IEC 60751, 0 to 100 degC) on 1.2 V behind
    # 10 kohm, whatever was read
    loop = load_sheet(plant / "sheets" / "TT-132.toml")
    what = Measurement("ohm", ("X32:1", "X32:2"), (Applied("TI-132", "off"),))
    low, high = (1.2 * r / (r + 1e4) for r in (100.0, 138.5))
    (sway,) = Model(loop, [Reading(what, "value", 3324.0)], SOUND)._sway()
    assert sway == pytest.approx(high - low, rel=0.1)


@pytest.mark.parametrize("z", [-30.0, -8.0, -3.0, -0.5, 0.0, 0.5, 3.0, 8.0])
def test_normal_distribution_function(z):
    # source: math.erfc of the standard library
    assert float(log_cdf(z)) == pytest.approx(log(0.5 * erfc(-z / sqrt(2))), rel=1e-6, abs=1e-7)


@pytest.mark.parametrize("rho", [-0.9, -0.3, 0.0, 0.5, 0.95])
def test_two_states_together(rho):
    # source: Sheppard's formula, P = 1/4 + asin(rho) / (2 pi)
    low = [[np.ones(1)], [np.full(1, rho), np.full(1, sqrt(1 - rho**2))]]
    low[0].append(np.zeros(1))
    found = float(np.exp(log_orthant([np.zeros(1), np.zeros(1)], low))[0])
    assert found == pytest.approx(0.25 + asin(rho) / (2 * pi), abs=2e-3)


def test_three_states_together():
    # source: the orthant of three equally correlated normals, 1/8 + 3 asin(rho) / (4 pi)
    rho = 0.6
    factor = np.linalg.cholesky(np.full((3, 3), rho) + (1 - rho) * np.eye(3))
    low = [[np.full(1, x) for x in row] for row in factor]
    found = float(np.exp(log_orthant([np.zeros(1)] * 3, low))[0])
    assert found == pytest.approx(0.125 + 3 * asin(rho) / (4 * pi), abs=3e-3)


@pytest.mark.parametrize(("r", "factor", "even"), [(10, 0.0995, 2.159), (100, 0.0100, 3.035)])
def test_wide_priors_pay_the_occam_factor(r, factor, even):
    # source: MacKay, Information Theory, ch. 28: Bayes factor 1/sqrt(1 + r^2) at no deviation;
    # it breaks even at z^2 = ln(1 + r^2) (1 + 1/r^2)
    choice = Choice((0,), (), 0.0)

    def log_factor(z):
        wide, narrow = (
            log_density(choice, np.full((1, 1, 1), v), [np.full((1, 1), z)])[0][0]
            for v in (1.0 + r**2, 1.0)
        )
        return wide - narrow

    assert exp(log_factor(0.0)) == pytest.approx(factor, abs=5e-5)
    assert log_factor(even) == pytest.approx(0.0, abs=3e-3)


def phi(z):
    return 0.5 * (1 + erf(z / sqrt(2)))


@pytest.mark.parametrize("y", [0.5, 0.98, 0.003, -0.004])
def test_a_gauge_alone_tells_nothing_about_the_circuit(y):
    # source: closed form: a Gaussian over the three uniform stretches of the process prior,
    # and a worthless reading of constant density
    loop = small_loop()
    what = Measurement("shows", ("LG",))
    result = judge_posterior(loop, [Reading(what, "value", y)])
    sd = sqrt((0.02**2 + 0.005**2) / 3 + loop.drift**2)
    inside = sum(
        share / (b - a) * (phi((b - y) / sd) - phi((a - y) / sd))
        for a, b, share in ((-0.1, 0, 0.02), (0, 1, 0.96), (1, 1.1, 0.02))
    )
    fits = 0.995 * inside + 0.005 / 1.5
    # a gauge that is stuck shows anything from 0 to 1
    stuck = next(h.prior for h in hypotheses(loop) if (h.part, h.mode) == ("LG", "stuck"))
    anywhere = 0.995 * (phi((1 - y) / sd) - phi(-y / sd)) + 0.005 / 1.5
    total = (0.98 - stuck) * fits + stuck * anywhere + 0.02 / 1.5
    assert result.unmodelled == pytest.approx(0.02 / 1.5 / total, rel=2e-4)
    assert result.probabilities[NONE] == pytest.approx(0.25 * fits / total, rel=2e-4)
    assert result.log_evidence == pytest.approx(log(total), abs=2e-4)
    assert result.converged


def test_zero_error_against_a_known_process():
    # source: closed form; with the process known to sd a and the display to sd b, a zero error
    # uniform on one whole range costs sqrt(2 pi (a^2 + b^2)) against no fault
    loop = small_loop()
    process = Reading(Measurement("process", ()), "value", 0.45, 0.004)
    shown = Reading(Measurement("shows", ("TX",)), "value", 0.45)
    result = judge_posterior(loop, [process, shown])
    variance = 0.002**2 + (0.002**2 + 0.001**2) / 3 + 2 * loop.drift**2
    q, broad = 0.005, 1 / 1.5
    spoilt = 2 * q * (1 - q) * broad * 0.96 + q**2 * broad**2
    none = (1 - q) ** 2 * 0.96 / sqrt(2 * pi * variance) + spoilt
    # with one of the two worthless the other still sees p, or p + error (flat in the middle)
    flat = 0.96 * 0.95
    prior = next(h.prior for h in hypotheses(loop) if (h.part, h.mode) == ("TX", "zero error"))
    ratio = result.probabilities["TX", "zero error"] / result.probabilities[NONE]
    shift = (1 - q) ** 2 * 0.96 + q * (1 - q) * broad * (0.96 + flat) + q**2 * broad**2
    assert ratio == pytest.approx(prior / 0.25 * shift / none, rel=2e-3)


def test_no_reading_leaves_the_prior():
    loop = small_loop()
    result = judge_posterior(loop, [Reading(Measurement("V", ("d", "sn")), "impossible")])
    assert sum(result.probabilities.values()) + result.unmodelled == pytest.approx(1, abs=1e-12)
    assert result.probabilities["PC", "blocked"] == pytest.approx(0.40 * 3 / 4.5)


@pytest.mark.parametrize("count", [9, 12, 24])
def test_slices_add_up_to_the_normal_distribution(count):
    # source: the density of the standard normal distribution
    slices = Model(small_loop(), [], SOUND, count).slices
    x = np.linspace(-2.5, 2.5, 41)[:, None]
    middle, var = slices.middle[1:], 1 - slices.taken[1:]
    parts = np.exp(-0.5 * (x - middle) ** 2 / var) / np.sqrt(2 * pi * var)
    found = (np.exp(slices.log_weight[1:]) * parts).sum(axis=1)
    assert found == pytest.approx(np.exp(-0.5 * x[:, 0] ** 2) / sqrt(2 * pi), rel=0.01)


def sampled(loop, readings, rows, seed):
    """Evidence of each hypothesis by plain draws; tolerances through the whole circuit."""
    cases = hypotheses(loop)
    model = Model(loop, readings, cases)
    rng = np.random.default_rng(seed)
    logs = []
    for k in range(len(cases)):
        base = nominal(loop)
        for part, name, sd in model.tolerances:
            base[part.name][name] = base[part.name][name] + sd * rng.standard_normal(rows)
        p = np.where(
            rng.random(rows) < 0.96, rng.random(rows), np.where(rng.random(rows) < 0.5, -1.0, 10.0)
        )
        p = np.where(p == -1.0, -0.1 * rng.random(rows), p)
        p = np.where(p == 10.0, 1 + 0.1 * rng.random(rows), p)
        u, mean = rng.random(rows), np.zeros((rows, len(readings)))
        for (condition, meter), members in model.scenes.items():
            st = state(loop, cases, np.full(rows, k), u, condition, base)
            c = Circuit(loop, st, p, condition, meter)
            for i in members:
                m = model.margins[i]
                mean[:, i] = m.sign * (Seen(c, m.what).value - m.target)
        cov = np.broadcast_to(model.fixed, (rows, *model.fixed.shape))
        found = [log_density(s, cov, [mean])[0] for s in choices(model.margins)]
        logs.append(
            np.logaddexp.reduce(np.stack(found), axis=(0, 1)) - log(rows) + log(cases[k].prior)
        )
    weights = np.exp(np.array([*logs, log(0.02) + log_broad(model.margins)]))
    return weights / weights.sum()


CASES = {
    "lamp and display": [
        Reading(Measurement("shows", ("X3",)), "lit"),
        Reading(Measurement("shows", ("LG",)), "value", 0.30),
    ],
    "at lift-off": [
        Reading(Measurement("V", ("tp", "tn")), "span", 11.8, 0.15),
        Reading(Measurement("process", ()), "value", 0.95, 0.1),
    ],
}


@pytest.mark.parametrize("name", CASES)
def test_the_judge_agrees_with_plain_sampling(name):
    # source: Monte Carlo from the prior, tolerances exact; 60,000 draws for each hypothesis
    loop = small_loop(drift=0.0)
    result = judge_posterior(loop, CASES[name])
    drawn = sampled(loop, CASES[name], 60_000, 5)
    found = np.array([*result.probabilities.values(), result.unmodelled])
    assert result.converged
    assert np.max(np.abs(found - drawn)) < 0.01


def test_random_cases_are_repeatable_and_plausible():
    loop = small_loop()
    one, two = random_cases(loop, 40, 3), random_cases(loop, 40, 3)
    assert [c.readings for c in one] == [c.readings for c in two]
    assert {len(c.readings) for c in one} == {1, 2, 3, 4, 5, 6}
    assert any(c.worthless is not None for c in one)
    faults = sum(c.truth[0] not in (None, "PC") for c in one)
    assert 18 <= faults <= 38
    assert len(measurements(loop)) == len(set(measurements(loop)))


def test_the_truth_is_rarely_ruled_out():
    # source: the definition of a posterior: truth of posterior probability below 1/1000 of its
    # prior share happens in less than one case of a hundred
    loop = small_loop()
    prior = {(h.part, h.mode): h.prior for h in hypotheses(loop)}
    for case in random_cases(loop, 5, 11):
        if case.worthless is None:
            result = judge_posterior(loop, case.readings, slices=(1, 1))
            assert result.converged
            assert result.probabilities[case.truth] > prior[case.truth] / 1000


def current_asked(**changes):
    loop = small_loop({"TX": changes})
    return amps(circuit_of(loop), "A") * 1e3


def test_who_obeys_a_hand_that_drives_the_transmitter():
    # source: the description of the kind, by hand; a leak of 50 Mohm adds 0.3 uA
    driven = {"driven": 1.0, "driven_current": 9e-3}
    assert current_asked(**driven) == pytest.approx(9.0, abs=1e-3)
    assert current_asked(**driven, output_error=1e-3) == pytest.approx(10.0, abs=1e-3)
    assert current_asked(**driven, failed=1.0, failed_current=3.6e-3) == pytest.approx(9, abs=1e-3)
    assert current_asked(**driven, stuck=1.0, stuck_at=0.25) == pytest.approx(8.0, abs=1e-3)
    assert current_asked(**driven, alive=0.0) == pytest.approx(0.0, abs=1e-3)


def test_errors_of_one_reading_by_hand():
    # source: 0.1 % and 2 counts of 1 mV rectangular, 2 mV stray, half a digit of rounding;
    # unrest 0.002 times 16 mA in 250 ohm beside three inputs of 1 Mohm
    loop = small_loop()
    reading = Reading(Measurement("V", ("d", "sn")), "value", 3.0, rounding=5e-4)
    model = Model(loop, [reading], SOUND)
    bus = 16e-3 / (1 / 250 + 3e-6)
    own = (2e-3) ** 2 / 3 + 2e-3**2 + 5e-4**2 / 3 + (0.002 * bus) ** 2
    assert model.fixed[0, 0] == pytest.approx(own + 3e-3**2 / 3, rel=1e-4)


def test_states_and_clipped_displays_know_no_unrest():
    # source: the model; what is left of the covariance is the set point's, 20 mV rectangular
    lamp = Reading(Measurement("shows", ("X3",)), "lit")
    model = Model(small_loop(), [lamp], SOUND)
    assert model.fixed[0, 0] == pytest.approx(0.02**2 / 3)


def test_one_reading_of_volts_by_plain_quadrature():
    # source: the trapezoidal rule over 200,001 process values, tolerances by the resistor alone
    loop = small_loop()
    y = 2.5
    model = Model(loop, [Reading(Measurement("V", ("d", "sn")), "value", y)], SOUND)
    p = np.linspace(0, 1, 200_001)
    bus = 1 / (1 / 250 + 3e-6)
    level = (4e-3 + 16e-3 * p) * bus
    spreads = (0.001, 0.001)  # the resistor's limit, and the output stage's
    sd = np.sqrt(model.fixed[0, 0] + sum((level * s) ** 2 / 3 for s in spreads))
    inside = np.trapezoid(np.exp(-0.5 * ((level - y) / sd) ** 2) / (sd * sqrt(2 * pi)), p)
    result = judge_posterior(loop, [Reading(Measurement("V", ("d", "sn")), "value", y)])
    fits = 0.99 * 0.96 * inside + 0.01 / 60
    total = 0.02 / 60 / result.unmodelled
    assert result.probabilities[NONE] == pytest.approx(0.25 * fits / total, rel=2e-3)


def test_slopes_of_an_isolator_on_an_open_loop_are_those_of_the_whole_circuit() -> None:
    """By differences of the solved circuit: what a supply of its own changes where no current flows
    is nothing, though its bend at no current is nearer than a microvolt.
    """
    loop = load_sheet(PT_119)
    lines = ("mA X65:3 X65:4 -0.02", "V X20:0 A5:6 -0.4 mV")
    readings = [one for one in parse_lines(lines, loop) if isinstance(one, Reading)]
    cases = hypotheses(loop)
    model = Model(loop, readings, cases)
    number = [(case.part, case.mode) for case in cases].index(("PT-119", "dead"))
    which, half = np.array([number]), np.array([0.5])
    none = np.zeros((1, len(model.tolerances)))
    _, slopes = model.straight(which, half, half, none)
    for t in range(len(model.tolerances)):
        way = none.copy()
        way[0, t] = 0.05
        rise = model.moved(which, half, half, way) - model.moved(which, half, half, -way)
        assert np.abs(rise[0] / 0.1 - slopes[0, :, t]).max() < 1e-6


def test_ohms_are_as_straight_in_the_tolerances_as_volts_are(plant: Path) -> None:
    """A shorted triac of 30 ohm +-50 % (limit of a rectangle, sd 8.66): 7.04 ohm lie 2.67 sd below.

    By hand: (30 + 0.2 of the leads - 7.04) / 8.66; in the logarithm it would be 4.9.
    """
    loop = load_sheet(plant / "sheets" / "XV-222.toml")
    what = Measurement("ohm", ("A1:1", "A1:2"), (Applied("G1", "off"),))
    cases = hypotheses(loop)
    model = Model(loop, [Reading(what, "value", 7.04)], cases)
    which = np.array([[(c.part, c.mode) for c in cases].index(("A1", "stuck on"))]).ravel()
    mean, slopes = model.straight(which, np.array([0.5]), np.array([0.0]))
    off = mean[0, 0] / np.sqrt((slopes[0, 0] ** 2).sum())
    assert off == pytest.approx((30.2 - 7.04) / (15 / sqrt(3)), rel=0.01)
