"""Loops that fail more often than their like, by more than chance explains."""

from __future__ import annotations

import numpy as np

from diagnose.review.records import Records
from diagnose.review.statistics import corrected
from diagnose.review.tables import BadActor, Settings

FEWEST = 2
"""A loop that failed once is nobody's bad actor."""

_QUERY = """
with n as (select plant, tag, count(*) as failures, list_sort(flatten(list(names))) as cases
           from failures where confirmed group by plant, tag),
     all_of as (select u.plant, u.tag, u.loop_type, u.span / 365.25 as years,
                       coalesce(n.failures, 0) as failures, n.cases,
                       sum(coalesce(n.failures, 0)) over w as total,
                       sum(u.span / 365.25) over w as exposure
                from units u left join n using (plant, tag)
                window w as (partition by u.plant, u.loop_type))
select plant, tag, loop_type, failures, years, total, exposure, cases from all_of
where exposure > years
"""


def bad_actors(records: Records, settings: Settings) -> tuple[BadActor, ...]:
    """The notable ones, the least likely first; loops alone of their type have no like.

    Given how often all loops of a type in one plant failed, each failure falls on a loop with a
    chance in proportion to its time in service: the number on one loop is binomial.
    """
    from scipy.special import betainc

    rows = records.engine.execute(_QUERY).fetchall()
    many = [row for row in rows if row[3] >= FEWEST and row[3] * row[6] > row[5] * row[4]]
    if not many:
        return ()
    count, total = (np.array([row[n] for row in many], dtype=float) for n in (3, 5))
    share = np.array([row[4] / row[6] for row in many])
    chances = betainc(count, total - count + 1, share)
    fair = corrected([float(chance) for chance in chances], len(rows))
    found = []
    for row, chance, after in zip(many, chances, fair, strict=True):
        plant, tag, loop_type, failures, years, of, exposure, cases = row
        if after <= settings.notable:
            others = (of - failures) / (exposure - years)
            told = (failures, years, others * years, float(chance), after, tuple(cases))
            found.append(BadActor(plant, tag, loop_type, *told))
    return tuple(sorted(found, key=lambda item: (item.chance, item.plant, item.tag)))
