"""Belief and advice obey what holds for any posterior, whatever the loop.

Sources: the rules of probability (a posterior adds up to 1, the order of the evidence does not
matter, a shared error does not average out), and the bounds that the project states for its own
assumptions (``symptoms.floor``, ``hypotheses.MOST_FAVOUR``).  Simulated readings come from
``world.World``, seeded.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations
from math import log
from pathlib import Path

import numpy as np
import pytest

from diagnose.inference.engine import Engine, Evidence
from diagnose.inference.hypotheses import MOST_FAVOUR, hypotheses
from diagnose.inference.measurement import COMPLAINTS, CONTEXTS, Complaint, Context, Reading
from diagnose.inference.posterior import Belief
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line
from diagnose.inference.symptoms import floor
from diagnose.inference.world import World
from diagnose.loops.sheet import load_sheet

ROOT = Path(__file__).resolve().parents[2]
LOOPS = {
    "b3": ROOT / "tests" / "sheets" / "b3.toml",
    "LT-214": ROOT / "cases" / "larkmere" / "sheets" / "LT-214.toml",
}
CASES = 20
BOTH = pytest.mark.parametrize("name", list(LOOPS))

SOUND = ("V d n 2.998", "V b c 17.40", "V ps n 23.99", "V tp tn 16.92", "TX 50.0 %")

CLASHES: dict[str, tuple[str, ...]] = {
    "dead supply, live signal": ("V d n 3.00", "V b c 5.00", "TX 80 %", "V ps n 12.00"),
    "every receiver differs": ("V d n 4.000", "U1 10 %", "U2 40 %", "U3 90 %"),
    "same points, three answers": ("V d n 3.00", "V d n 1.00", "V d n 5.00"),
}


@cache
def engine(name: str, step: float | None = None) -> Engine:
    return Engine(load_sheet(LOOPS[name]), step=step)


def said(*lines: str, name: str = "b3") -> list[Evidence]:
    return [parse_line(line, engine(name).loop) for line in lines]


def believe(known: Engine, evidence: list[Evidence]) -> Belief:
    return known.believe(known.sort(evidence))[0]


def rank(
    *lines: str, name: str = "b3", place: str = "cabinet", without: frozenset[str] = frozenset()
) -> Ranking:
    return engine(name).rank(said(*lines, name=name), place, without)


@cache
def drawn(name: str, seed: int) -> tuple[Reading, ...]:
    """One to five readings of a loop with a fault: even seeds any fault, odd ones as priors say."""
    known = engine(name)
    rng = np.random.default_rng(seed)
    prior = np.array([item.prior for item in known.hypotheses])
    weight = prior if seed % 2 else np.ones(len(prior))
    fault = known.hypotheses[int(rng.choice(len(prior), p=weight / weight.sum()))]
    x, process = rng.uniform(size=2)
    world = World(known.observer, known.atlas.ground, fault, x, process, rng, mistakes=False)
    chosen = rng.choice(len(known.candidates), 1 + seed % 5, replace=False)
    return tuple(world.read(known.candidates[int(n)].measurement) for n in chosen)


def singles(known: Engine, belief: Belief) -> np.ndarray:
    """Probabilities of the single faults; pairs stand behind them."""
    return belief.probability[: len(known.hypotheses)]


def log_odds(lines: tuple[str, ...], fault: tuple[str, str]) -> float:
    """log odds of a fault against the sound loop."""
    known = engine("b3")
    belief = believe(known, said(*lines))
    return log(belief.probability[known.hypothesis(fault).number] / belief.probability[0])


# -- a posterior -----------------------------------------------------------------------------------


@BOTH
@pytest.mark.parametrize("seed", range(CASES))
def test_probabilities_add_up_to_one(name: str, seed: int) -> None:
    belief = believe(engine(name), list(drawn(name, seed)))
    assert belief.probability.min() >= 0
    assert belief.probability.sum() + belief.unmodelled == pytest.approx(1, abs=1e-9)
    assert np.all((belief.suspect >= 0) & (belief.suspect <= 1 + 1e-9))


@pytest.mark.parametrize("lines", CLASHES.values(), ids=list(CLASHES))
def test_a_ranking_with_pairs_adds_up_to_one(lines: tuple[str, ...]) -> None:
    ranking = rank(*lines)
    total = sum(item.probability for item in ranking.hypotheses) + ranking.unexplained
    assert total == pytest.approx(1, abs=1e-9)
    assert sum(group.probability for group in ranking.groups) <= 1 + 1e-9


def test_without_evidence_the_posterior_is_the_prior() -> None:
    known = engine("LT-214")
    belief = believe(known, [])
    prior = np.array([item.prior for item in known.hypotheses])
    assert singles(known, belief) == pytest.approx(prior, abs=2e-4)
    assert belief.unmodelled == pytest.approx(known.loop.shares.unmodelled, rel=1e-3)


@BOTH
@pytest.mark.parametrize("seed", range(CASES))
def test_the_order_of_readings_does_not_matter(name: str, seed: int) -> None:
    """Far below any figure that is shown: only rounding of sums is left."""
    known, readings = engine(name), list(drawn(name, seed))
    forward, backward = believe(known, readings), believe(known, readings[::-1])
    assert singles(known, backward) == pytest.approx(singles(known, forward), abs=1e-9)
    assert backward.suspect[::-1] == pytest.approx(forward.suspect, abs=1e-9)


@pytest.mark.parametrize("lines", CLASHES.values(), ids=list(CLASHES))
def test_the_order_does_not_matter_where_readings_clash(lines: tuple[str, ...]) -> None:
    """Two faults at once are looked for here; the search may not depend on the order either.

    Cells of no weight are left out as they are met, which moves the fifth digit.
    """
    known = engine("b3")
    first = believe(known, said(*lines))
    for order in (lines[::-1], lines[1:] + lines[:1]):
        belief = believe(known, said(*order))
        assert belief.unmodelled == pytest.approx(first.unmodelled, abs=1e-4)
        assert singles(known, belief) == pytest.approx(singles(known, first), abs=1e-4)


@BOTH
@pytest.mark.parametrize("seed", range(CASES))
def test_a_finer_grid_changes_nothing_that_matters(name: str, seed: int) -> None:
    readings = list(drawn(name, seed))
    coarse, fine = engine(name), engine(name, 0.25)
    expected = singles(fine, believe(fine, readings))
    assert singles(coarse, believe(coarse, readings)) == pytest.approx(expected, abs=0.01)


# -- what a reading is worth -----------------------------------------------------------------------


def test_a_reading_given_twice_counts_less_than_two_independent_ones() -> None:
    """11.93 mA against 3.000 V across 250 ohm; the gain error of the meter is the same twice."""
    drift = ("R1", "drift")
    once = ("V d n 3.000", "mA LK2 11.93")
    twice = log_odds((*once, "mA LK2 11.93"), drift)
    independent = log_odds((*once, "clamp W1- 11.93"), drift)
    assert log_odds(once, drift) < twice < independent


def test_repeating_a_reading_does_not_average_out_its_gain_error() -> None:
    """Four readings with errors of their own alone would halve the width."""
    blocked = [
        next(
            item.size for item in rank(*(["V d n 3.000"] * n)).hypotheses if item.fault == "blocked"
        )
        for n in (1, 4)
    ]
    assert blocked[0] is not None
    assert blocked[1] is not None
    ratio = (blocked[1].high - blocked[1].low) / (blocked[0].high - blocked[0].low)
    assert 0.55 < ratio < 1


def test_a_reading_that_could_not_be_taken_is_no_evidence() -> None:
    known = engine("b3")
    bare = believe(known, said("V d n 3.000"))
    told = believe(known, said("V d n 3.000", "V b c not possible"))
    assert singles(known, told) == pytest.approx(singles(known, bare), abs=1e-12)


def test_suspects_are_numbered_as_they_were_given() -> None:
    lines = ("complaint reads low", "V b c not possible", *SOUND[:1], "V tp tn 1.692", *SOUND[2:])
    (suspect,) = rank(*lines).suspects
    assert suspect.index == 3
    assert suspect.text == "V tp tn 1.692"


@pytest.mark.parametrize(
    ("place", "slip"),
    [
        (0, "V d n 29.98"), (0, "V d n 0.300"), (1, "V b c 1.740"), (1, "V b c 14.70"),
        (2, "V ps n 2.399"), (3, "V tp tn 1.692"), (3, "V tp tn 19.62"),
    ],
)  # fmt: skip
def test_a_slip_among_good_readings_is_named(place: int, slip: str) -> None:
    """A slip of the decimal point, or two digits exchanged."""
    lines = [*SOUND[:place], slip, *SOUND[place + 1 :]]
    ranking = rank(*lines)
    assert [item.index for item in ranking.suspects] == [place + 1]
    assert ranking.suspects[0].probability > 0.9
    assert ranking.sound > 0.8
    assert ranking.unexplained < 0.01


def test_good_readings_are_not_suspected() -> None:
    assert rank(*SOUND).suspects == ()


@pytest.mark.parametrize("lines", CLASHES.values(), ids=list(CLASHES))
def test_contradiction_is_called_so_and_gives_no_certainty(lines: tuple[str, ...]) -> None:
    ranking = rank(*lines)
    assert ranking.unexplained > 0.5
    assert ranking.hypotheses[0].probability < 0.3
    assert not ranking.resolved


def test_two_readings_that_exclude_each_other_are_both_suspected() -> None:
    """One of two voltages across the same points is wrong; nothing says which."""
    ranking = rank("V d n 3.000", "V d n 1.000")
    assert {item.index for item in ranking.suspects} == {1, 2}
    assert abs(ranking.suspects[0].probability - ranking.suspects[1].probability) < 0.2
    assert not ranking.resolved


# -- complaint and context -------------------------------------------------------------------------


@BOTH
@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_a_complaint_moves_odds_within_its_bound(name: str, complaint: str) -> None:
    """Of any two explanations that the readings leave a share above 5e-3: traces are cut off."""
    known = engine(name)
    sense = {"b3": "V d n 3.000", "LT-214": "V X21:7 X20:0 3.000"}[name]
    before = believe(known, said(sense, name=name))
    after = believe(known, [*said(sense, name=name), Complaint(complaint, "")])
    some = singles(known, before) > 5e-3
    moved = np.log(singles(known, after)[some]) - np.log(singles(known, before)[some])
    # The grid is cut anew for other evidence: that may add a tenth of a neper.
    assert np.ptp(moved) <= log(1 / floor(complaint)) + 0.1


@BOTH
def test_context_moves_odds_within_its_bound(name: str) -> None:
    """Any set of facts, and any two faults or the sound loop."""
    loop = engine(name).loop
    before = np.array([item.prior for item in hypotheses(loop)])
    sets = [facts for n in range(1, 7) for facts in combinations(CONTEXTS, n)]
    assert len(sets) == 63
    for facts in sets:
        after = np.array([item.prior for item in hypotheses(loop, facts)])
        moved = after / before
        assert moved.max() / moved.min() <= MOST_FAVOUR * (1 + 1e-9)
        assert after.sum() == pytest.approx(1 - loop.shares.unmodelled)


def test_context_moves_the_posterior_as_it_moves_the_prior() -> None:
    """Bayes' rule: the odds change by the same factor before and after a reading.

    Where the weight goes decides where the grid is cut finer, which moves odds by up to 3 %.
    """
    known = engine("b3")
    lines = said("V d n 3.500")
    plain, wet = believe(known, lines), believe(known, [*lines, Context("rain", "")])
    prior = np.array([item.prior for item in known.hypotheses])
    rained = np.array([item.prior for item in hypotheses(known.loop, ["rain"])])
    some = singles(known, plain) > 1e-4
    moved = (singles(known, wet) / wet.probability[0])[some]
    expected = (singles(known, plain) / plain.probability[0] * rained / prior)[some]
    assert moved == pytest.approx(expected * prior[0] / rained[0], rel=0.05)


def test_latent_defects_are_listed_as_untested() -> None:
    """A lost earth bond cannot make an earthed loop read low, and no reading has looked at it."""
    lines = [*SOUND, "process 50 %", "LG 50 %", "U1 50 %", "U2 50 %", "U3 50 %"]
    ranking = rank("complaint reads low", *lines)
    assert ("E1", "open") in ranking.untested
    assert ranking.resolved
    assert ranking.sound > 0.95
    tested = {("G1", "low"), ("R1", "drift"), ("W1-", "high resistance"), ("U1", "scaling")}
    assert not tested & set(ranking.untested)
    assert rank(*lines).untested == ()


def test_a_trip_that_nobody_looked_at_stays_untested() -> None:
    """The trip is set at 50 %: at 30 % its lamp is dark, whether or not it could be lit."""
    shown = [f"{receiver} 30 %" for receiver in ("LIC-214", "LR-214", "LI-214")]
    bare = rank("complaint reads low", "process 30 %", *shown, name="LT-214").untested
    assert {("LAHH-214", "stuck on"), ("LAHH-214", "stuck off")} <= set(bare)
    seen = rank("complaint reads low", "process 30 %", *shown, "LAHH-214 dark", name="LT-214")
    assert ("LAHH-214", "stuck on") not in seen.untested
    assert ("LAHH-214", "stuck off") in seen.untested


# -- advice ----------------------------------------------------------------------------------------

LOW = ("complaint reads low", "LIC-214 35 %", "process 60 %")


@pytest.mark.parametrize(
    "without",
    [
        frozenset({"transmitter"}), frozenset({"Transmitter", "junction box"}),
        frozenset({"cabinet"}), frozenset({"ohm", "mA"}), frozenset({"V", "clamp"}),
    ],
)  # fmt: skip
def test_advice_keeps_to_what_is_allowed(without: frozenset[str]) -> None:
    ranking = rank(*LOW, name="LT-214", without=without)
    words = {word.lower() for word in without}
    assert ranking.next
    for advice in ranking.next:
        assert advice.place.lower() not in words
        assert advice.measurement.function.lower() not in words


def test_nothing_allowed_leaves_no_advice() -> None:
    places = frozenset(place.name for place in engine("LT-214").loop.places)
    ranking = rank(*LOW, name="LT-214", without=places)
    assert ranking.next == ()
    assert ranking.stop


@pytest.mark.parametrize("place", ["cabinet", "junction box", "transmitter"])
def test_minutes_count_from_where_the_technician_stands(place: str) -> None:
    """The walk is paid once for another place and not at all for this one."""
    ranking = rank(*LOW, name="LT-214", place=place)
    loop = engine("LT-214").loop
    walk = {item.name: item.minutes for item in loop.places}
    assert ranking.next
    for advice in ranking.next:
        if advice.place not in {place, "control room"}:
            assert advice.minutes > max(walk[place], walk[advice.place])
        elif not advice.measurement.condition:
            assert advice.minutes <= 6


def test_the_same_question_is_cheaper_at_its_place() -> None:
    here = rank("V d n 3.397", "V tp tn 15.97", "complaint reads high", place="transmitter")
    there = rank("V d n 3.397", "V tp tn 15.97", "complaint reads high", place="cabinet")
    minutes = {advice.measurement: advice.minutes for advice in here.next}
    shared = [advice for advice in there.next if advice.measurement in minutes]
    assert shared
    assert all(advice.minutes > minutes[advice.measurement] for advice in shared)


def key(reading: Reading) -> tuple[object, ...]:
    """A measurement with its leads either way round."""
    known = reading.measurement
    return known.function, frozenset(known.points), known.condition


@BOTH
@pytest.mark.parametrize("seed", range(3))
def test_a_hunt_never_asks_twice_for_the_same(name: str, seed: int) -> None:
    """But for what is in doubt, and is said to be asked for again."""
    known = engine(name)
    rng = np.random.default_rng(100 + seed)
    fault = known.hypotheses[int(rng.integers(1, len(known.hypotheses)))]
    world = World(known.observer, known.atlas.ground, fault, *rng.uniform(size=2), rng, False)
    evidence: list[Evidence] = []
    taken: set[tuple[object, ...]] = set()
    for _ in range(5):
        advice = known.rank(evidence).next
        asked = {key(Reading(item.measurement, "value")) for item in advice if not item.again}
        assert not asked & taken
        if not advice:
            break
        reading = world.read(advice[0].measurement)
        taken.add(key(reading))
        evidence.append(reading)
    assert taken


def test_leads_the_other_way_round_are_the_same_measurement() -> None:
    """2.2 V at the limiter instead of 3.6 V: the advice goes on, but not at the same points."""
    lines = ("V n d -3.000", "V b a -2.200")
    taken = {key(item) for item in said(*lines) if isinstance(item, Reading)}
    asked = {key(Reading(item.measurement, "value")) for item in rank(*lines).next}
    assert len(taken) == 2
    assert asked
    assert not asked & taken


def test_what_could_not_be_taken_is_not_asked_for_again() -> None:
    lines = ("V d n 3.000", "V b c not possible")
    first = rank(lines[0]).next[0].measurement
    assert first.points == ("b", "c")
    assert first not in [advice.measurement for advice in rank(*lines).next]


def test_advice_has_an_outcome_for_the_leading_explanations() -> None:
    ranking = rank(*LOW, name="LT-214")
    for advice in ranking.next:
        assert advice.gain_bits > 0
        assert advice.minutes > 0
        assert advice.expects
        for outcome in advice.expects:
            assert outcome.low <= outcome.high


def test_answers_are_the_same_every_time() -> None:
    known = Engine(load_sheet(LOOPS["b3"]))
    lines = said("V d n 2.361", "V tp tn 17.60", "complaint reads low")
    assert (
        known.rank(lines)
        == known.rank(lines)
        == rank("V d n 2.361", "V tp tn 17.60", "complaint reads low")
    )


def test_a_sound_loop_is_no_case_for_a_repair() -> None:
    """The complaint agrees with an independent truth: look at the process, renew nothing."""
    ranking = rank("complaint reads high", "U1 88 %", "process 88 % +- 2 %", "U2 88 %", "LG 88 %")
    assert ranking.sound > 0.95
    assert ranking.resolved
    assert "process" in ranking.stop
    assert "repair" not in ranking.stop
