"""Confirmed failures per year in service, with bounds, and only after a look for a trend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from diagnose.review.records import Records
from diagnose.review.statistics import rate_interval
from diagnose.review.tables import FEW, MOST_NAMED, Rate, Settings
from diagnose.review.trends import among, trend_of_sums

YEAR = 365.25

MOST_LOOPS = 200
"""Loops listed with a rate of their own, those with the most failures."""

# Sums of fractions are made in order: a report says the same to the last digit each time.
_COUNTED = f"""
counted as (
    select f.*, u.loop, u.start, u.span as days, least(f.day - u.start + 0.5, u.span) as age,
           not list_contains(?::DATE[], f.day) as free
    from failures f join units u using (plant, tag)
    where f.confirmed and f.day >= u.start and f.day < u.start + u.span
), sums as (
    select {{by}} as name, count(*) as n, count(*) filter (free) as arrived,
           sum(age - days / 2) filter (free) as excess,
           sum(days::DOUBLE * days) filter (free) as squares,
           sum(ln(days / age) order by age / days) filter (free) as logs,
           list_sort(min(names[1], {MOST_NAMED})) as cases
    from counted f where {{by}} is not null group by all
)
select p.name, p.units, coalesce(n, 0), p.years, coalesce(arrived, 0), excess, squares, logs,
       coalesce(cases, [])
from ({{people}}) p left join sums using (name) order by coalesce(n, 0) desc, p.name
"""

_LOOPS = f"count(*) as units, sum(span) / {YEAR} as years from units u"
_KINDS = (
    f"sum(parts)::INTEGER as units, sum(parts * span) / {YEAR} as years "
    "from unit_kinds k join units u using (plant, tag)"
)
_CAUSES = (
    "select c.name, units, years from (select distinct kind, kind || ': ' || fault as name "
    "from failures where confirmed and fault is not null) c join "
    f"(select kind, {_KINDS} group by kind) using (kind)"
)

LEVELS: dict[str, tuple[str, str]] = {
    "all": ("'all'", f"select 'all' as name, {_LOOPS}"),
    "plant": ("f.plant", f"select u.plant as name, {_LOOPS} group by u.plant"),
    "loop type": ("f.loop_type", f"select u.loop_type as name, {_LOOPS} group by u.loop_type"),
    "loop": ("f.loop", f"select u.loop as name, {_LOOPS} group by u.loop"),
    "part kind": ("f.kind", f"select k.kind as name, {_KINDS} group by k.kind"),
    "cause": ("f.kind || ': ' || f.fault", _CAUSES),
}
"""What failures are counted by, and whose time in service they are set against."""


def rates(records: Records, settings: Settings, of_cases: Sequence[date] = ()) -> tuple[Rate, ...]:
    """Rates of all levels, from the tables ``failures`` and ``units``; loops without one left out.

    ``of_cases`` are days on which the watch begins or ends because a case was on them: a failure
    then did not arrive at random within the watch, and no trend is told by it.

    Part kinds and loop types without a failure have their zero-failure bound.
    """
    found: list[Rate] = []
    for level, (by, people) in LEVELS.items():
        query = f"with {_COUNTED.format(by=by, people=people)}"
        rows = records.engine.execute(query, [list(of_cases)]).fetchall()
        rows = [row for row in rows if row[3]]  # nothing was in service: no rate, not even zero
        if level == "loop":
            rows = [row for row in rows if row[2]][:MOST_LOOPS]
        these = [_rate(level, row, settings.confidence) for row in rows]
        trends = among([one.trend for one in these], settings.confidence)
        found += [replace(one, trend=trend) for one, trend in zip(these, trends, strict=True)]
    return tuple(found)


def failures_by_loop(records: Records) -> dict[str, int]:
    """Confirmed failures of every loop in service, not only of those that are listed."""
    rows = records.engine.execute(
        "select u.loop, count(*) from failures f join units u using (plant, tag) "
        "where f.confirmed and f.day >= u.start and f.day < u.start + u.span group by u.loop"
    ).fetchall()
    return dict(rows)


def _rate(level: str, row: tuple[Any, ...], confidence: float) -> Rate:
    name, units, failures, years, arrived, excess, squares, logs, cases = row
    return Rate(
        level,
        name,
        int(units),
        failures,
        float(years),
        rate_interval(failures, float(years), confidence),
        failures < FEW,
        trend_of_sums(arrived, excess or 0.0, squares or 0.0, logs or 0.0, confidence),
        tuple(cases),
    )
