"""The review of invented histories whose truth is known."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from diagnose.review.exposure import Population, Unit
from diagnose.review.pareto import untold
from diagnose.review.records import Records
from diagnose.review.review import review
from diagnose.review.rows import CONFIRMED, CaseRow, Filters
from diagnose.review.tables import Review, Settings
from diagnose.review.work import idle, work
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_review import lines

START, YEARS = date(2020, 1, 1), 5
DAYS = round(YEARS * 365.25)
END = START + timedelta(days=DAYS - 1)
WINDOW = Filters(since=START, until=END)

REPETITIONS, LOOPS, RATE, WORSE = 500, 12, 0.8, 8.0
"""Plants, each a repetition; loops of each; failures a loop-year; the bad actor's multiple."""


def confirmed(plant: str, tag: str, day: date, name: str = "", **told: object) -> CaseRow:
    facts: dict = {"part": "W3+", "fault": "open", "kind": "core", "loop_type": "two-wire-input"}
    return CaseRow(
        name or f"{plant}-{tag}-{day}", plant=plant, tag=tag, day=day, status=CONFIRMED,
        **(facts | told),
    )  # fmt: skip


def unit(plant: str, tag: str, **told: object) -> Unit:
    parts = (("W3+", "core"), ("W3-", "core"), ("G1", "supply"))
    return Unit(plant, tag, "two-wire-input", START, None, parts, **told)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def injected() -> Review:
    """500 plants of 12 loops, five years at 0.8 failures a loop-year; the last fails eight times as
    often in every fifth plant.
    """
    rng = np.random.default_rng(7)
    units, rows = [], []
    for repetition in range(REPETITIONS):
        plant = f"p{repetition:03d}"
        for loop in range(LOOPS):
            tag = f"LT-{loop}"
            bad = loop == LOOPS - 1 and repetition % 5 == 0
            units.append(unit(plant, tag))
            for n in range(rng.poisson(RATE * YEARS * (WORSE if bad else 1))):
                day = START + timedelta(days=int(rng.integers(DAYS)))
                rows.append(confirmed(plant, tag, day, f"{plant}-{tag}-{n}"))
    records = Records.of_rows(rows)
    return review(records, Population(tuple(units)), WINDOW, Settings(repeat_days=-1))


def test_intervals_cover_the_known_rate_as_often_as_they_say(injected: Review) -> None:
    """Of 400 plants with one rate, the 90 % intervals hold it in about 90 %.

    The exact interval is never short of what it says (Garwood, Biometrika 28:437, 1936); at 48
    failures it covers 90 to 93 %.  The bounds are four standard errors of 400 repetitions.
    """
    steady = [
        rate for rate in injected.rates if rate.level == "plant" and int(rate.name[1:]) % 5 != 0
    ]
    assert len(steady) == REPETITIONS * 4 // 5
    covered = np.mean([rate.rate.low <= RATE <= rate.rate.high for rate in steady])
    assert 0.90 - 0.06 <= covered <= 0.93 + 0.05


def test_known_bad_actors_are_found_and_no_others(injected: Review) -> None:
    found = {(item.plant, item.tag) for item in injected.bad_actors}
    true = {(f"p{n:03d}", f"LT-{LOOPS - 1}") for n in range(0, REPETITIONS, 5)}
    assert len(found & true) >= 0.95 * len(true)
    assert len(found - true) <= 1


def test_a_constant_rate_shows_a_trend_as_rarely_as_said(injected: Review) -> None:
    verdicts = [rate.trend.verdict for rate in injected.rates if rate.level == "plant"]
    tested = [verdict for verdict in verdicts if verdict != "too few to tell"]
    assert len(tested) > 50
    # Holm: in one table of ten is there any; without it there are some in each.
    assert sum(verdict in ("rising", "falling") for verdict in tested) <= 1


def test_loops_are_exposed_while_they_are_in_service_only() -> None:
    """Arithmetic: one loop over the whole five years, one for a year of 365 days, one never."""
    year = date(2022, 1, 1), date(2022, 12, 31)
    units = (
        unit("p", "LT-1"),
        replace(unit("p", "LT-2"), since=year[0], until=year[1]),
        replace(unit("p", "LT-3"), since=date(2031, 1, 1)),
    )
    rows = [confirmed("p", "LT-2", date(2022, 6, 1)), confirmed("p", "LT-2", date(2023, 6, 1))]
    found = review(Records.of_rows(rows), Population(units), WINDOW)
    (whole,) = (rate for rate in found.rates if rate.level == "all")
    assert (whole.units, whole.failures) == (2, 1)
    assert whole.years == pytest.approx((DAYS + 365) / 365.25)
    (kind,) = (r for r in found.rates if (r.level, r.name) == ("part kind", "core"))
    assert (kind.units, kind.years) == (4, pytest.approx(2 * whole.years))
    (none,) = (r for r in found.rates if (r.level, r.name) == ("part kind", "supply"))
    assert none.rate.high == pytest.approx(-np.log(0.1) / whole.years)
    assert any("1 failure is in no rate" in note for note in found.notes)


def test_repeats_within_the_days_are_one_failure() -> None:
    days = [date(2022, 1, 1), date(2022, 1, 31), date(2022, 3, 2), date(2022, 4, 2)]
    rows = [confirmed("p", "LT-1", day) for day in days]
    found = review(Records.of_rows(rows), Population((unit("p", "LT-1"),)), WINDOW)
    (repeat,) = found.repeats
    assert (repeat.calls, repeat.first, repeat.last) == (3, days[0], days[2])
    assert next(rate.failures for rate in found.rates if rate.level == "all") == 2


def test_failures_that_hold_several_causes_are_named() -> None:
    """A core and then its neighbour, ten days apart, may well be two faults: say that it is one."""
    core, other = (
        confirmed("p", "LT-1", date(2022, 3, 1)),
        confirmed("p", "LT-1", date(2022, 3, 11), part="W3-"),
    )
    same = [confirmed("p", "LT-2", day) for day in (date(2022, 6, 1), date(2022, 6, 5))]
    people = Population((unit("p", "LT-1"), unit("p", "LT-2")))
    found = review(Records.of_rows([core, other, *same]), people, WINDOW)
    (told,) = (note for note in found.notes if "causes differ" in note)
    assert told.startswith("1 failure holds call-outs")
    assert "on LT-1 from 2022-03-01 to 2022-03-11" in told
    apart = review(Records.of_rows([core, other, *same]), people, WINDOW, Settings(repeat_days=0))
    assert next(rate.failures for rate in apart.rates if rate.level == "all") == 4
    assert not any("causes differ" in note for note in apart.notes)


def test_shares_are_of_all_cases_that_have_a_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """A table that is cut after its first lines tells their shares of all, not of what it shows."""
    rows = [confirmed("p", f"LT-{n // 3}", START + timedelta(n)) for n in range(12)]
    nameless = confirmed("p", "LT-1", END, kind=None, part=None, fault=None)
    found = review(Records.of_rows([*rows, nameless]), None, WINDOW)
    assert untold(found, "cause") == 1
    assert untold(found, "loop") == 0
    told = "\n".join(lines(found, "cause", Look(width=80)))
    assert "1 confirmed case without a known cause: in no line and no share." in told
    assert "in no line" not in "\n".join(lines(found, "loop", Look(width=80)))
    monkeypatch.setattr("diagnose.review.pareto.LONGEST", 2)
    cut = review(Records.of_rows(rows), None, WINDOW).paretos["loop"]
    assert [(line.share, line.running) for line in cut] == [(0.25, 0.25), (0.25, 0.5)]


def test_what_was_chosen_stands_in_the_first_line() -> None:
    rows = [confirmed("p", "LT-1", START), confirmed("p", "LT-2", START, kind="supply")]
    found = review(Records.of_rows(rows), None, replace(WINDOW, kinds=["core"], tags=["LT-1"]))
    first = next(lines(found, "cause", Look(width=200)))
    assert first == f"1 case, {START} to {END}; only tags: LT-1; only kinds: core"


def test_suspected_confirmed_and_unfound_stand_apart() -> None:
    rows = [
        confirmed("p", "LT-1", START, "a"),
        CaseRow("b", plant="p", tag="LT-1", day=START, status="open", suspect_kind="core",
                suspect_part="W3+", suspect_fault="open"),
        CaseRow("c", plant="p", tag="LT-1", day=START, status="no fault found"),
        CaseRow("d", plant="p", tag="LT-1", day=START, status="cause not found",
                suspect_kind="core", suspect_part="W3+", suspect_fault="open"),
    ]  # fmt: skip
    found = review(Records.of_rows(rows), Population((unit("p", "LT-1"),)), WINDOW)
    ends = found.endings
    assert (ends.cases, ends.confirmed, ends.suspected) == (4, 1, 1)
    assert (ends.no_fault_found, ends.not_found) == (1, 1)
    (line,) = found.paretos["kind"]
    assert (line.confirmed, line.suspected, line.not_found, line.cases) == (
        1,
        1,
        1,
        ("a", "b", "d"),
    )
    assert next(rate.failures for rate in found.rates if rate.level == "all") == 1


def test_a_common_cause_is_found_where_there_is_one() -> None:
    """Forty loops in eight boxes; six of one box fail on one day, the rest evenly over years."""
    rng = np.random.default_rng(5)
    units = [
        unit("p", f"LT-{n}", shared=(("place", f"box {n // 5}"), ("shared", f"supply {n // 10}")))
        for n in range(40)
    ]
    rows = [
        confirmed("p", f"LT-{n}", START + timedelta(days=int(rng.integers(DAYS))), f"x{n}")
        for n in range(40)
    ]
    even = review(Records.of_rows(rows), Population(tuple(units)), WINDOW)
    assert even.clusters == ()
    wet = date(2023, 8, 14)
    rows += [confirmed("p", f"LT-{n}", wet, f"wet{n}") for n in range(15, 20)]
    found = review(Records.of_rows(rows), Population(tuple(units)), WINDOW)
    sorts = {item.sort: item for item in found.clusters}
    assert set(sorts) >= {"day", "day and shared"}
    assert sorts["day"].calls >= 5
    assert sorts["day and shared"].name == "2023-08-14 supply 1"


def test_what_told_nothing_is_a_share_of_what_could_tell() -> None:
    """By hand: 10 and 4 readings, 5 and 3 of them between rankings, 2 idle: 2 of 8, not of 14.

    Where it is not known how many can be judged (a table made elsewhere), all are.
    """
    rows = [
        confirmed("P", "A", START, "a", readings=10, judged=5, told_nothing=2),
        CaseRow("b", plant="P", tag="A", loop_type="two-wire-input", day=START,
                status="no fault found", readings=4, judged=3),
    ]  # fmt: skip
    line = work(Records.of_rows(rows), None, Settings())[0]
    assert (line.told_nothing.count, line.told_nothing.of, line.unadvised.of) == (2, 8, 14)
    assert (line.cases, line.confirmed, line.readings.value) == (2, 1, 10.0)
    unknown = [replace(row, judged=None) for row in rows]
    assert work(Records.of_rows(unknown), None, Settings())[0].told_nothing.of == 14


def test_what_told_nothing_time_and_again_is_named_with_its_loop() -> None:
    """By hand: X1 told nothing in 3 of 4, W3+ in 2 of 2, LI-1 once, and once is chance."""
    read = (("V X1:1 X1:2", "LI-1"), ("V X1:1 X1:2", "clamp W3+"), ("V X1:1 X1:2", "V X1:1 X1:2"))
    idle_ = (("V X1:1 X1:2", "LI-1"), ("clamp W3+",), ("V X1:1 X1:2", "V X1:1 X1:2"))
    rows = [
        confirmed("P", "A", START, f"c{n}", readings=2, tried=tried, idle=nothing)
        for n, (tried, nothing) in enumerate(zip(read, idle_, strict=True))
    ]
    rows.append(confirmed("P", "A", START, "d", readings=1, tried=("clamp W3+",),
                          idle=("clamp W3+",)))  # fmt: skip
    rows.append(confirmed("P", "B", START, "e", readings=1, tried=("V X1:1 X1:2",), idle=()))
    found = idle(Records.of_rows(rows), None, Settings())
    told = [
        (i.tag, i.reading, i.told_nothing.count, i.told_nothing.of, i.hunts, i.cases) for i in found
    ]
    assert told == [
        ("A", "V X1:1 X1:2", 3, 4, 2, ("c0", "c2")),  # twice in one of them
        ("A", "clamp W3+", 2, 2, 2, ("c1", "d")),
    ]


def test_a_failure_that_opens_or_ends_the_log_tells_no_trend() -> None:
    """Failures each 100 days: Laplace's statistic is 0 by symmetry, and the first is no early one.

    NIST/SEMATECH e-Handbook 8.2.3.4 (from memory): a failure that ends the watch is not counted in
    a test for a trend; one that begins it is the same with time reversed.  By hand, T = 601 days
    and t = 100.5 to 500.5: the sum of ln(T / t) is 4.168, the exponent 5 / 4.168 = 1.200.
    """
    days = [START + timedelta(days=100 * n) for n in range(7)]
    records = Records.of_rows([confirmed("P", "A", day) for day in days])
    people = Population((unit("P", "A"),))
    seen = {rate.level: rate for rate in review(records, people).rates}["all"]
    assert (seen.failures, seen.trend.events) == (7, 5)
    assert seen.trend.laplace == pytest.approx(0.0, abs=1e-9)
    assert seen.trend.shape.value == pytest.approx(1.200, abs=0.001)
    own = Filters(since=days[0], until=days[-1])
    told = {rate.level: rate for rate in review(records, people, own).rates}["all"]
    assert (told.failures, told.trend.events) == (7, 7)


def test_a_median_between_two_counts_of_readings_is_not_rounded_to_either() -> None:
    """The middle of 2 and 5 is 3.5; a quarter of the way 2.75 and 4.25, here with one decimal."""
    days = [START, START + timedelta(days=300)]
    rows = [
        confirmed("P", "A", day, readings=n, elapsed=60.0)
        for day, n in zip(days, (2, 5), strict=True)
    ]
    told = lines(review(Records.of_rows(rows)), "cause", Look(100))
    line = next(line for line in told if line.startswith("all  "))
    assert "3.5 (2.8-4.2)" in line
    assert "60 (60-60)" in line
