"""Call-outs with something in common: one place, one supply, one day; tested against chance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from diagnose.review.records import Records
from diagnose.review.statistics import binomial_tail, corrected, poisson_tail
from diagnose.review.tables import Cluster, Settings

FEWEST_TAGS = 2
"""Loops that must be called for: one alone has nothing in common with anybody."""

_FIRSTS = """
firsts as (select f.plant, f.tag, f.day, f.names from failures f join units u using (plant, tag)
           where f.real and f.day >= u.start and f.day < u.start + u.span)
"""

_GROUPS = f"""
with {_FIRSTS}, whole as (
    select u.plant, sum(span) as days, count(*) as loops,
           (select count(*) from firsts f where f.plant = u.plant) as calls
    from units u group by u.plant
), held as (
    select s.plant, s.sort, s.name, sum(span) as days, count(*) as loops
    from unit_shared s join units u using (plant, tag) group by all
), hit as (
    select s.plant, s.sort, s.name, count(*) as calls, list_sort(list(distinct f.tag)) as tags,
           list_sort(flatten(list(f.names))) as names
    from firsts f join unit_shared s using (plant, tag) group by all
)
select h.plant, h.sort, h.name, hit.tags, hit.calls, whole.calls, h.days / whole.days, hit.names
from held h join whole using (plant) left join hit using (plant, sort, name)
where h.loops >= {FEWEST_TAGS} and h.loops < whole.loops
"""

_DAYS = f"""
with {_FIRSTS}, groups as (
    select plant, tag, 'day' as sort, '' as name from units
    union all
    select plant, tag, 'day and ' || sort, name from unit_shared where sort <> 'place'
), spans as (
    select g.plant, g.sort, g.name, count(*) as loops,
           date_diff('day', min(u.start), max(u.start + u.span)) as days
    from groups g join units u using (plant, tag) group by all having count(*) >= {FEWEST_TAGS}
), hit as (
    select g.plant, g.sort, g.name, f.day, list_sort(list(distinct f.tag)) as tags,
           count(distinct f.tag) as calls, list_sort(flatten(list(f.names))) as names
    from firsts f join groups g using (plant, tag) group by all
), totals as (select plant, sort, name, sum(calls) as calls from hit group by all)
select s.plant, s.sort, trim(h.day || ' ' || s.name), h.tags, h.calls, t.calls / s.days, s.days,
       h.names
from spans s join hit h using (plant, sort, name) join totals t using (plant, sort, name)
"""


def clusters(records: Records, settings: Settings) -> tuple[Cluster, ...]:
    """The notable ones, the least likely first, each sort corrected for all that were looked at.

    A place or a shared part: of all call-outs of its plant, each falls on its loops with a chance
    in proportion to their time in service.  A day: call-outs come evenly over the days (Poisson).
    """
    groups = [
        (row, row[6] * row[5], binomial_tail(row[4] or 0, row[5], row[6]))
        for row in records.engine.execute(_GROUPS).fetchall()
    ]
    found = _notable(groups, len(groups), settings)
    days = records.engine.execute(_DAYS).fetchall()
    for sort in sorted({row[1] for row in days}):
        some = [row for row in days if row[1] == sort]
        looked_at = sum({(row[0], row[1], _group(row)): row[6] for row in some}.values())
        tested = [(row, row[5], poisson_tail(row[4], row[5])) for row in some]
        found += _notable(tested, looked_at, settings)
    return tuple(sorted(found, key=lambda item: (item.chance, item.plant, item.sort, item.name)))


def _group(row: Sequence[Any]) -> str:
    """The name of what is shared, without its day."""
    return str(row[2])[11:]


def _notable(
    tested: Sequence[tuple[Sequence[Any], float, float]], looked_at: int, settings: Settings
) -> list[Cluster]:
    fair = corrected([chance for _, _, chance in tested], max(looked_at, len(tested)))
    return [
        Cluster(
            row[0], row[1], row[2], tuple(row[3]), row[4], float(expected), chance, after,
            tuple(row[7]),
        )
        for (row, expected, chance), after in zip(tested, fair, strict=True)
        if after <= settings.notable and row[3] and len(row[3]) >= FEWEST_TAGS
        and row[4] > expected
    ]  # fmt: skip
