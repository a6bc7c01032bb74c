"""The hunt itself: what it took, what told nothing, what was left undone."""

from __future__ import annotations

from typing import Any

from diagnose.review.records import Records
from diagnose.review.rows import Filters
from diagnose.review.statistics import share_interval
from diagnose.review.tables import MOST_NAMED, Estimate, Idle, Neglect, Settings, Work

_SUMS = """
count(*), count(fault), median(elapsed) filter (fault is not null),
quantile_cont(elapsed, 0.25) filter (fault is not null),
quantile_cont(elapsed, 0.75) filter (fault is not null),
median(readings) filter (fault is not null),
quantile_cont(readings, 0.25) filter (fault is not null),
quantile_cont(readings, 0.75) filter (fault is not null),
sum(readings)::BIGINT, sum(coalesce(judged, readings))::BIGINT, sum(told_nothing)::BIGINT,
sum(readings - advised)::BIGINT,
sum(corrected + withdrawn)::BIGINT, avg(interruptions)
from chosen where source = 'case' and status <> 'unreadable'
"""


def work(records: Records, filters: Filters | None, settings: Settings) -> tuple[Work, ...]:
    """All hunts, then those of each loop type."""
    rows = records.ask(f"select 'all', {_SUMS} having count(*) > 0", filters)
    rows += records.ask(
        f"select loop_type, {_SUMS} and loop_type <> '' group by loop_type "
        "order by count(*) desc, loop_type",
        filters,
    )
    return tuple(_work(row, settings.confidence) for row in rows)


def _work(row: tuple[Any, ...], confidence: float) -> Work:
    group, cases, confirmed, *middles, readings, judged, idle, own, mended, breaks = row
    return Work(
        group=group,
        cases=cases,
        to_cause=Estimate(*middles[:3]),
        readings=Estimate(*middles[3:]),
        told_nothing=share_interval(idle, judged, confidence),
        unadvised=share_interval(own, readings, confidence),
        mended=share_interval(mended, readings, confidence),
        interruptions=breaks,
        confirmed=confirmed,
    )


TWICE = 2
"""Times that a reading must have told nothing to be named: once may be chance."""


def idle(records: Records, filters: Filters | None, settings: Settings) -> tuple[Idle, ...]:
    """What was read time and again without telling anything, loop by loop, the worst first."""
    own = "from chosen where source = 'case' and status <> 'unreadable'"
    rows = records.ask(
        "select tag, reading, sum(nothing)::BIGINT as n, count(*) - sum(nothing)::BIGINT as of_, "
        "count(distinct name) filter (nothing = 1), "
        f"list_sort(list_distinct(min(name, {MOST_NAMED}) filter (nothing = 1))) from ("
        f"select tag, name, unnest(tried) as reading, 0 as nothing {own} union all "
        f"select tag, name, unnest(idle) as reading, 1 as nothing {own}"
        f") group by tag, reading having n >= {TWICE} order by n desc, n / of_ desc, tag, reading",
        filters,
    )
    return tuple(
        Idle(tag, reading, share_interval(n, of, settings.confidence), hunts, tuple(names))
        for tag, reading, n, of, hunts, names in rows
    )


def neglects(records: Records, filters: Filters | None = None) -> tuple[Neglect, ...]:
    """Cautions that a step needed and nobody had answered; items that were never put back."""
    found = []
    for what, column, where in (
        ("caution not acknowledged", "unacknowledged", "true"),
        ("open item left", "open_items", "status <> 'open'"),
        ("open item in an open case", "open_items", "status = 'open'"),
    ):
        rows = records.ask(
            f"select key, count(*) as n, list_sort(min(name, {MOST_NAMED})) from "
            f"(select name, unnest({column}) as key from chosen where {where}) "
            "group by key order by n desc, key",
            filters,
        )
        found += [Neglect(what, key, n, tuple(names)) for key, n, names in rows]
    return tuple(found)
