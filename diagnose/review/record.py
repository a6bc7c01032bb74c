"""The engine's record: how its rankings stood against the causes confirmed afterwards."""

from __future__ import annotations

from typing import Any

from diagnose.review.records import Records
from diagnose.review.rows import Filters
from diagnose.review.statistics import mean_interval, share_interval
from diagnose.review.tables import MOST_NAMED, EngineRecord, Estimate, ReliabilityClass, Settings

CLASSES = 10
"""Classes of stated probability in the reliability table."""

LEVELS = {"all": "'all'", "loop type": "loop_type", "version": "tool"}

_SUMS = f"""
count(chance) as hunts,
count(*) filter (rank = 1), count(*) filter (rank <= 3),
avg(brier order by brier), stddev_samp(brier order by brier),
count(*) filter (unmodelled is not null and status not in ('open', 'handed over')),
count(*) filter (unmodelled > coalesce(suspect_chance, 0)
                 and status not in ('open', 'handed over')),
sum(distrusted_right)::BIGINT, sum(distrusted_right + distrusted_wrong)::BIGINT,
list_sort(min(name, {MOST_NAMED}) filter (chance is not null))
from chosen where source = 'case' and status <> 'unreadable'
"""


def engine_records(
    records: Records, filters: Filters | None, settings: Settings
) -> tuple[EngineRecord, ...]:
    """The record over all hunts, by loop type and by version; only confirmed causes judge."""
    found = []
    for level, column in LEVELS.items():
        classes = _classes(records, column, filters, settings)
        rows = records.ask(
            f"select {column} as name, {_SUMS} group by {column} having count(chance) > 0 "
            f"order by hunts desc, name",
            filters,
        )
        found += [_record(level, row, classes.get(row[0], ()), settings) for row in rows]
    return tuple(found)


def _record(
    level: str, row: tuple[Any, ...], classes: tuple[ReliabilityClass, ...], settings: Settings
) -> EngineRecord:
    name, hunts, first, three, brier, deviation, ended, unmodelled, right, distrusted, cases = row
    sure = settings.confidence
    return EngineRecord(
        level,
        name,
        hunts,
        share_interval(first, hunts, sure),
        share_interval(three, hunts, sure),
        _within_scale(mean_interval(brier, deviation, hunts, sure)),
        share_interval(unmodelled, ended, sure),
        share_interval(right or 0, distrusted or 0, sure),
        classes,
        tuple(cases or ()),
    )


def _within_scale(score: Estimate) -> Estimate:
    """A quadratic score lies from 0 to 1, and so does its interval."""
    if score.low is None or score.high is None:
        return score
    return Estimate(score.value, max(score.low, 0.0), min(score.high, 1.0))


def _classes(
    records: Records, column: str, filters: Filters | None, settings: Settings
) -> dict[str, tuple[ReliabilityClass, ...]]:
    """The reliability table of each name of one level."""
    rows = records.ask(
        f"""
        select {column} as name, least(floor(lead * {CLASSES}), {CLASSES - 1}) as class,
               count(*), avg(lead order by lead), count(*) filter (rank = 1)
        from chosen where lead is not null and chance is not null
        group by all order by name, class
        """,
        filters,
    )
    found: dict[str, list[ReliabilityClass]] = {}
    for name, place, hunts, said, right in rows:
        share = share_interval(right, hunts, settings.confidence)
        low, high = place / CLASSES, (place + 1) / CLASSES
        found.setdefault(name, []).append(ReliabilityClass(low, high, hunts, said, share))
    return {name: tuple(lines) for name, lines in found.items()}
