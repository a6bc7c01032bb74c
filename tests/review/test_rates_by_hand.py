"""What learned rates are counted from: part years, days in service, and a bound that holds.

All on paper: a loop of two cores in service for five years has ten core years.  That a failure
outside of the days in service says nothing of them is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from diagnose.review.exposure import Population, Unit
from diagnose.review.priors import Priors, priors
from diagnose.review.records import Records
from diagnose.review.review import counted
from diagnose.review.rows import CaseRow
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
