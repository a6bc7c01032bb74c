"""Loops of one tag in several plants are several loops; loops beyond those listed count as well."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from scipy.stats import binomtest

from diagnose.review.comparison import compared
from diagnose.review.exposure import Population
from diagnose.review.page.grid import Tracer
from diagnose.review.page.how_often import how_often
from diagnose.review.records import Records
from diagnose.review.review import review
from diagnose.review.rows import CaseRow, Filters
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_review import lines
from review.test_review import START, WINDOW, confirmed, unit

PLANTS = ("north", "south")
PEOPLE = Population(
    tuple(unit(plant, tag) for plant in PLANTS for tag in ("LT-1", "LT-2", f"LT-{plant}"))
)


def failed(plant: str, tag: str, count: int, first: date = START) -> list[CaseRow]:
    days = (first + timedelta(40 * n) for n in range(1, count + 1))
    return [confirmed(plant, tag, day) for day in days]


def test_one_tag_in_two_plants_is_two_loops() -> None:
    """Three failures in the north and one in the south are no four of one loop."""
    rows = [*failed("north", "LT-1", 3), *failed("south", "LT-1", 1), *failed("north", "LT-2", 2)]
    found = review(Records.of_rows(rows), PEOPLE, WINDOW)
    loops = {rate.name: (rate.units, rate.failures) for rate in found.rates if rate.level == "loop"}
    # LT-2 did not fail in the south, but it is there: its name needs its plant as well
    assert loops == {"LT-1 of north": (1, 3), "LT-1 of south": (1, 1), "LT-2 of north": (1, 2)}
    assert [(line.name, line.confirmed) for line in found.paretos["loop"]] == [
        ("LT-1 of north", 3), ("LT-2", 2), ("LT-1 of south", 1),
    ]  # fmt: skip
    assert found.paretos["part"][0].name == "LT-1 W3+ of north"
    alone = review(Records.of_rows(rows[:3]), Population(PEOPLE.units[:3]), WINDOW)
    assert [line.name for line in alone.paretos["loop"]] == ["LT-1"]
    assert [rate.name for rate in alone.rates if rate.level == "loop"] == ["LT-1"]


def test_bad_actors_of_two_plants_are_told_apart() -> None:
    rows = [row for plant in PLANTS for row in failed(plant, "LT-1", 12)]
    found = review(Records.of_rows(rows), PEOPLE, WINDOW)
    assert len(found.bad_actors) == 2
    screen = "\n".join(lines(found, "cause", Look(width=100)))
    page = "".join(map(str, how_often(found, Tracer({}))))
    for plant in PLANTS:
        assert f"LT-1 of {plant}" in screen
        assert f"LT-1 of {plant}" in page


def test_a_loop_that_is_not_listed_is_compared_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A loop below the last of the list looked as if it had not failed in that period.

    One failure and five in equal times: the chance is that of a coin, by scipy's exact test.
    """
    later = date(2022, 1, 1)
    rows = [
        *failed("north", "LT-1", 5), *failed("north", "LT-2", 2), *failed("north", "LT-north", 1),
        *failed("north", "LT-1", 1, later), *failed("north", "LT-2", 4, later),
    ]  # fmt: skip
    people = Population(tuple(replace(one, until=None) for one in PEOPLE.units[:3]))
    now = Filters(since=later, until=later + timedelta(729))
    records = Records.of_rows(rows)

    def told() -> dict[str, tuple[int, int, float]]:
        before = START, START + timedelta(729)
        found = compared(review(records, people, now), *before, records, people)
        return {
            one.name: (one.failures, one.before, round(one.chance, 9))
            for one in found.changes
            if one.level == "loop"
        }

    whole = told()
    assert whole["LT-1"] == (1, 5, round(binomtest(1, 6, 0.5).pvalue, 9))
    assert whole["LT-2"] == (4, 2, round(binomtest(4, 6, 0.5).pvalue, 9))
    monkeypatch.setattr("diagnose.review.rates.MOST_LOOPS", 1)
    monkeypatch.setattr("diagnose.review.comparison.MOST_LOOPS", 1)
    (cut,) = told().items()
    assert whole[cut[0]] == cut[1]
    assert cut[1][2] == min(chance for _, _, chance in whole.values())
    monkeypatch.setattr("diagnose.review.comparison.MOST_LOOPS", 3)
    monkeypatch.setattr("diagnose.review.rates.MOST_LOOPS", 3)
    assert told() == whole
