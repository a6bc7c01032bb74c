"""Priors that learn: by hand and by scipy's Gamma, shrunk, and never turned by one odd case."""

import tomllib
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from diagnose.errors import SheetError
from diagnose.inference.engine import Engine
from diagnose.inference.hypotheses import hypotheses
from diagnose.inference.readings import parse_lines
from diagnose.library import demo_plant
from diagnose.loops.kind import Kind
from diagnose.loops.plant import open_plant
from diagnose.loops.site_rates import FILE, SiteRates, read_rates, site_rates
from diagnose.review.exposure import Population, population
from diagnose.review.priors import (
    LEAST,
    Priors,
    likeliest_strength,
    priors,
    shrunk,
    weakest_strength,
)
from diagnose.review.priors_file import priors_text, write_priors
from diagnose.review.records import Records
from diagnose.review.review import counted
from diagnose.review.rows import CaseRow, Window
from diagnose.review.tables import Settings
from review.test_review import DAYS, START, WINDOW, confirmed

PLANT = open_plant(demo_plant())
PEOPLE = population([PLANT])
DAYS_OF = Window(WINDOW.since or START, WINDOW.until or START)


def learned(rows: list[CaseRow], people: Population = PEOPLE) -> Priors:
    records = Records.of_rows(rows)
    counted(records, people, WINDOW, Settings(repeat_days=-1))
    return priors(records)


def test_the_factor_is_that_of_a_gamma_prior() -> None:
    """Gamma(10, 10) and 6 - 1 = 5 counted where 2.5 were expected: Gamma(15, 12.5)."""
    factor, low, high = shrunk(6, 2.5, 10.0, 0.90)
    judge = stats.gamma(15, scale=1 / 12.5)
    assert factor == pytest.approx(15 / 12.5) == pytest.approx(judge.mean())
    assert (low, high) == (pytest.approx(judge.ppf(0.05)), pytest.approx(judge.ppf(0.95)))


@pytest.mark.parametrize(
    ("n", "expected", "factor"), [(0, 5.0, 10 / 15), (1, 0.0, 1.0), (1, 0.5, 1.0)]
)
def test_a_first_failure_that_nobody_expected_moves_nothing(
    n: int, expected: float, factor: float
) -> None:
    assert shrunk(n, expected, 10.0, 0.90)[0] == pytest.approx(factor)


def test_the_strength_is_the_likeliest_by_scipy() -> None:
    """Counts spread by a Gamma of shape 25: the negative binomial of scipy is largest there too."""
    rng = np.random.default_rng(3)
    expected = rng.uniform(20, 60, size=400)
    seen = [(int(rng.poisson(e * rng.gamma(25, 1 / 25))), float(e)) for e in expected]
    found = likeliest_strength(seen)

    def judge(a: float) -> float:
        n, e = map(np.array, zip(*seen, strict=True))
        return float(stats.nbinom.logpmf(n, a, a / (a + e)).sum())

    assert judge(found) >= max(judge(found * 0.98), judge(found * 1.02))
    assert 20 < found < 32
    weakest = weakest_strength(seen)
    assert 10 < weakest < found
    assert judge(found) - judge(weakest) == pytest.approx(1.92, abs=0.01)
    assert likeliest_strength([(0, 0.1), (9, 0.1)]) == pytest.approx(LEAST)
    assert weakest_strength([(0, 0.1), (1, 0.9)]) == LEAST


def history(seed: int, worse: tuple[str, str] = ("core", "open"), factor: float = 1.0) -> list:
    """Failures of the demo plant over five years that fall as the assumed rates say, but one."""
    rng = np.random.default_rng(seed)
    parts = [
        (unit.tag, part, kind, mode.name, mode.rate * (factor if (kind, mode.name) == worse else 1))
        for unit in PEOPLE.units
        for part, kind in unit.parts
        for mode in Kind.registry[kind].modes
        if mode.group == "electrical"
    ]
    weights = np.array([item[4] for item in parts])
    picked = rng.choice(len(parts), size=120, p=weights / weights.sum())
    return [
        confirmed(
            PLANT.name, parts[i][0], START + timedelta(days=int(rng.integers(DAYS))), f"c{n}",
            part=parts[i][1], kind=parts[i][2], fault=parts[i][3],
        )
        for n, i in enumerate(picked)
    ]  # fmt: skip


def test_what_fails_more_often_than_assumed_gains_and_the_rest_hardly_moves() -> None:
    lines = {(x.kind, x.mode): x for x in learned(history(1, factor=8.0)).of(PLANT.name)}
    worse = lines["core", "open"]
    assert worse.confirmed > 2 * worse.expected
    assert worse.rate > 1.4 * worse.assumed
    assert worse.low < worse.rate < worse.high
    rest = [x.rate / x.assumed for key, x in lines.items() if key != ("core", "open")]
    assert 0.9 < np.median(rest) <= 1.0


@pytest.mark.parametrize("seed", range(2))
def test_one_odd_case_cannot_turn_a_ranking(seed: int) -> None:
    """The rates of two faults never move against each other by a quarter, whichever case it is.

    So a leader that is ahead by a quarter stays ahead; two faults of one group were no order.
    """
    rows = history(seed) if seed else []
    before = _factors(learned(rows))
    day = date(2022, 5, 5)
    odd = [
        confirmed(PLANT.name, "LT-214", day, "odd", part=part, kind=kind, fault=fault)
        for part, kind, fault in (
            ("LT-214", "two_wire_transmitter", "reversed"), ("G1", "supply", "sagging"),
            ("W3+", "core", "open"), ("I.W3", "insulation", "short"),
        )
    ]  # fmt: skip
    for case in odd:
        after = _factors(learned([*rows, case]))
        moved = [after.get(key, 1.0) / before.get(key, 1.0) for key in after]
        assert max(moved) / min(moved) < 1.25


def _factors(found: Priors) -> dict[tuple[str, str], float]:
    return {(x.kind, x.mode): x.rate / x.assumed for x in found.of(PLANT.name)}


def test_a_ranking_stays_after_one_odd_case_and_follows_many() -> None:
    """The demo loop read at one point: what leads after one odd case is what led before it."""
    loop = PLANT.load("LT-214")
    said = parse_lines(["complaint reads high", "LIC-214 69.4 %", "LT-214 42 %"], loop)

    def rates(found: Priors) -> dict[tuple[str, str], float]:
        return SiteRates({(x.kind, x.mode): x.rate for x in found.of(PLANT.name)}).of(loop)

    drift = {"part": "R1", "kind": "resistor", "fault": "drift"}
    odd = learned([confirmed(PLANT.name, "LT-214", date(2022, 5, 5), "odd", **drift)])
    before = Engine(loop).rank(said).hypotheses
    after = Engine(loop, rates=rates(odd)).rank(said).hypotheses
    assert [(h.part, h.fault) for h in before[:3]] == [(h.part, h.fault) for h in after[:3]]

    many = [
        confirmed(PLANT.name, "LT-214", START + timedelta(days=40 * n), f"d{n}", **drift)
        for n in range(30)
    ]
    moved = {h.key: h.prior for h in hypotheses(loop, rates=rates(learned([*history(1), *many])))}
    assert moved["R1", "drift"] > 2 * {h.key: h.prior for h in hypotheses(loop)}["R1", "drift"]


def test_a_plant_is_shrunk_to_its_company() -> None:
    """Two plants: one has the fault often, the other never; both lie between and apart."""
    units = tuple(
        unit.__class__(name, unit.tag, unit.loop_type, None, None, unit.parts)
        for name in ("east", "west")
        for unit in PEOPLE.units
    )
    rows = [
        confirmed("east", row.tag, row.day, f"e{n}", part=row.part, kind=row.kind, fault=row.fault)
        for n, row in enumerate(history(1, factor=8.0))
    ] + [
        confirmed("west", row.tag, row.day, f"w{n}", part=row.part, kind=row.kind, fault=row.fault)
        for n, row in enumerate(history(2, factor=0.05))
    ]
    found = learned(rows, Population(units))
    key = ("core", "open")
    east, west, both = (
        next(x.rate / x.assumed for x in found.of(name) if (x.kind, x.mode) == key)
        for name in ("east", "west", "")
    )
    assert west < both < east


# -- the file --------------------------------------------------------------------------------------


def test_the_file_says_where_its_rates_come_from_and_is_read_back(tmp_path: Path) -> None:
    found = learned(history(1, factor=8.0))
    text = priors_text(found, PLANT.name, DAYS_OF, 120, date(2025, 1, 31))
    (path,) = write_priors(tmp_path, text)
    told = tomllib.loads(path.read_text(encoding="utf-8"))
    assert told["priors"]["failures"] == found.failures == 120
    assert told["priors"]["plants"] == [PLANT.name]
    read = site_rates(tmp_path)
    assert read.failures == 120
    assert read.rates == pytest.approx(
        {(x.kind, x.mode): x.rate for x in found.of(PLANT.name)}, rel=1e-5
    )
    loop = PLANT.load("LT-214")
    rates = read.of(loop)
    assert rates["W3+", "open"] == pytest.approx(read.rates["core", "open"])
    assert site_rates(tmp_path / "elsewhere").rates == {}


@pytest.mark.parametrize(
    ("entry", "key", "sentence"),
    [
        ('kind = "cor"\nmode = "open"\nrate = 1', "rate 1: kind", "did you mean core"),
        ('kind = "core"\nmode = "opn"\nrate = 1', "rate 1: mode", "did you mean open"),
        ('kind = "core"\nmode = "open"', "rate 1: rate", "missing"),
        ('kind = "core"\nmode = "open"\nrate = 1e6', "rate 1: rate", "is not between"),
        ('kind = "core"\nmode = "open"\nrate = "x"', "rate 1: rate", "plain number"),
        ('kind = "core"\nmode = "open"\nrate = nan', "rate 1: rate", "not between"),
        ('kind = "core"\nmode = "open"\nrate = 1\nrats = 2', "rate 1: rats", "no such key"),
    ],
)
def test_each_mistake_in_the_file_is_told(
    tmp_path: Path, entry: str, key: str, sentence: str
) -> None:
    path = tmp_path / FILE
    path.write_text(f"[[rate]]\n{entry}\n")
    with pytest.raises(SheetError) as caught:
        read_rates(path)
    assert Counter(where for _, where, _ in caught.value.problems)[key] >= 1
    assert any(sentence in text for _, where, text in caught.value.problems if where == key)


def test_what_stood_there_is_kept(tmp_path: Path) -> None:
    """A file may be written by hand, and a rate of it is then known nowhere else."""
    by_hand = '[[rate]]\nkind = "core"\nmode = "open"\nrate = 2.5\n'
    (tmp_path / "priors.toml").write_text(by_hand, encoding="utf-8")
    new, kept = write_priors(tmp_path, "[priors]\n")
    assert new.read_text(encoding="utf-8") == "[priors]\n"
    assert kept.read_text(encoding="utf-8") == by_hand
    assert write_priors(tmp_path, "[priors]\n") == (new,)  # the same again takes no one's place
    assert kept.read_text(encoding="utf-8") == by_hand


def test_failures_and_calls_that_move_nothing_are_counted() -> None:
    """A kind of another version, a fault that the kind does not have, and calls without an end."""
    strange = [
        confirmed(PLANT.name, "LT-214", START, kind="flux_gauge", fault="open"),
        confirmed(PLANT.name, "LT-214", START + timedelta(100), kind="core", fault="melted"),
        confirmed(PLANT.name, "LT-214", START + timedelta(200), kind="core", fault=None),
    ]
    loose = [
        CaseRow(f"o{n}", plant=PLANT.name, tag="LT-216", day=START + timedelta(99 * n), status=one)
        for n, one in enumerate(("open", "cause not found", "no fault found"))
    ]
    plain = confirmed(PLANT.name, "LT-214", START + timedelta(300))
    found = learned([*strange, *loose, plain])
    assert found.unplaced == (
        ("core: fault not told", 1), ("core: melted", 1), ("flux_gauge: open", 1),
    )  # fmt: skip
    assert (found.calls(""), found.unresolved) == (2, 5)
    assert sum(line.confirmed for line in found.of("")) == 1
    assert learned([plain]).unplaced == ()
