"""What learned rates and shares are counted from: part years, days in service, bounds that hold.

All on paper: a loop of two cores in service for five years has ten core years.  That a failure
outside of the days in service says nothing of them is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from diagnose.loops.loop import Shares
from diagnose.review.exposure import Population, Unit, window
from diagnose.review.priors import Priors, priors
from diagnose.review.records import Records
from diagnose.review.review import counted
from diagnose.review.rows import CaseRow, Filters
from diagnose.review.shares import ShareLine
from diagnose.review.tables import Settings
from review.test_review import START, WINDOW, YEARS, confirmed, unit

WORKS = "works"
CORE = ("core", "open")


def learned(rows: list[CaseRow], *units: Unit) -> Priors:
    records = Records.of_rows(rows)
    counted(records, Population(units), WINDOW, Settings(repeat_days=-1))
    return priors(records)


def day_of(number: int) -> date:
    return START + timedelta(days=number)


def test_part_years_count_each_part_of_a_kind() -> None:
    """Two loops, each with two cores and one supply, five years: 20 core years, 10 of supplies."""
    found = learned([confirmed(WORKS, "A", day_of(9))], unit(WORKS, "A"), unit(WORKS, "B"))
    years = {line.kind: line.years for line in found.of(WORKS)}
    assert years["core"] == pytest.approx(4 * YEARS, rel=2e-3)
    assert years["supply"] == pytest.approx(2 * YEARS, rel=2e-3)


def test_what_failed_outside_of_service_is_not_counted() -> None:
    """Taken out of service after the first year: the failure of day 900 is of another time."""
    short = replace(unit(WORKS, "A"), until=day_of(364))
    rows = [confirmed(WORKS, "A", day_of(100)), confirmed(WORKS, "A", day_of(900))]
    found = learned(rows, short)
    assert found.failures == 1
    assert {x.kind: x.confirmed for x in found.of(WORKS) if (x.kind, x.mode) == CORE} == {"core": 1}


@pytest.mark.parametrize("failures", [300, 1500])
def test_a_rate_moves_by_no_more_than_ten_times(failures: int) -> None:
    """All failures are of one mode: the others weigh as ten of their own, (10 + 0) / (10 + due)."""
    rows = [
        confirmed(WORKS, "A", day_of(n), f"c{n}", part="G1", kind="supply", fault="sagging")
        for n in range(failures)
    ]
    found = learned(rows, unit(WORKS, "A")).of(WORKS)
    core = next(line for line in found if (line.kind, line.mode) == CORE)
    assert core.expected > 50 and core.confirmed == 0
    assert core.rate / core.assumed == pytest.approx(max(0.1, 10 / (10 + core.expected)))
    assert max(line.rate / line.assumed for line in found) <= 10 * (1 + 1e-9)


# -- how calls end ---------------------------------------------------------------------------------

ASSUMED = Shares(sound=0.20, process_connection=0.20, electrical=0.40, unmodelled=0.20)
"""Of the calls whose end is known, that is of eight in ten: a quarter, a quarter and a half."""

CALLED = replace(unit(WORKS, "A"), assumed=ASSUMED)


def sound(number: int, name: str = "") -> CaseRow:
    """A call that ended with no fault found."""
    row = confirmed(WORKS, "A", day_of(number), name)
    return replace(row, part=None, kind=None, fault=None, status="no fault found")


def ends(rows: list[CaseRow], *units: Unit) -> dict[str, ShareLine]:
    """How all calls of the one plant end."""
    return {x.ending: x for x in learned(rows, *units).shares_of(WORKS) if not x.loop_type}


def test_what_is_expected_is_of_the_calls_whose_end_is_known() -> None:
    """Of 8 calls 2 sound, 2 at the process connection, 4 electrical.  What is none of the modelled
    ends no case by name, so that its fifth is shared out among the three.
    """
    rows = [sound(n, f"s{n}") for n in range(2)] + [
        confirmed(WORKS, "A", day_of(n), f"e{n}") for n in range(6)
    ]
    found = ends(rows, CALLED)
    assert {x.calls for x in found.values()} == {8}
    assert {name: x.expected for name, x in found.items()} == pytest.approx(
        {"sound": 2, "process_connection": 2, "electrical": 4}
    )
    assert {name: x.ended for name, x in found.items()} == {
        "sound": 2, "process_connection": 0, "electrical": 6,
    }  # fmt: skip


def test_shares_are_those_of_the_sum_on_paper() -> None:
    """Beta priors that weigh as 20 ends: sound (20 + 2) / (80 + 8) is the quarter still; process
    (20 + 0) / (80 + 8) of a quarter; electrical, one of six left out, (20 + 5) / (40 + 8) of
    a half.  Times the assumed, and made to add up to the 0.8 that are modelled.
    """
    rows = [sound(n, f"s{n}") for n in range(2)] + [
        confirmed(WORKS, "A", day_of(n), f"e{n}") for n in range(6)
    ]
    found = ends(rows, CALLED)
    told = {"sound": 0.20 * 1, "process_connection": 0.20 * (20 / 88) / 0.25,
            "electrical": 0.40 * (25 / 48) / 0.5}  # fmt: skip
    scale = 0.8 / sum(told.values())
    assert {name: x.share for name, x in found.items()} == pytest.approx(
        {name: scale * value for name, value in told.items()}
    )


def test_the_factor_of_a_share_is_a_tenth_at_least() -> None:
    """4000 calls, all of them sound: 20 / (40 + 4000) of a half were a hundredth, and a tenth
    counts; of a quarter (20 + 3999) / (80 + 4000) is 3.94 times as much.
    """
    rows = [sound(n % 1800, f"s{n}") for n in range(4000)]
    found = ends(rows, CALLED)
    more = (20 + 3999) / (80 + 4000) / 0.25
    between = found["electrical"].share / found["sound"].share
    assert between == pytest.approx(0.40 * 0.1 / (0.20 * more))
    assert found["process_connection"].share / found["sound"].share == pytest.approx(0.1 / more)
    assert sum(x.share for x in found.values()) == pytest.approx(0.8)


def test_a_call_outside_of_service_tells_nothing_of_how_calls_end() -> None:
    """In service from day 100 to day 464, both of them counted."""
    units = replace(CALLED, since=day_of(100), until=day_of(464))
    rows = [sound(n, f"s{n}") for n in (99, 100, 464, 465)]
    found = ends(rows, units)
    assert found["sound"].ended == 2
    assert found["sound"].cases == ("s100", "s464")


def test_what_is_asked_of_a_log_does_not_move_its_days() -> None:
    """The log of a plant is one: it runs from its first case to its last, whichever loop is asked
    for; another plant has another log.
    """
    rows = [
        confirmed(WORKS, "A", day_of(0)), confirmed(WORKS, "B", day_of(50)),
        confirmed(WORKS, "A", day_of(300)), confirmed("mill", "A", day_of(900)),
    ]  # fmt: skip
    records = Records.of_rows(rows)
    for asked in (Filters(plants=(WORKS,)), Filters(plants=(WORKS,), tags=("B",)),
                  Filters(plants=(WORKS,), faults=("no such",))):  # fmt: skip
        found = window(records, asked)
        assert (found.first, found.last, found.known) == (day_of(0), day_of(300), True)
    both = window(records, Filters(tags=("B",)))
    assert (both.first, both.last) == (day_of(0), day_of(900))
    given = window(records, Filters(since=day_of(20), tags=("B",)))
    assert (given.first, given.last) == (day_of(20), day_of(900))
