"""Which few names hold most of the cases."""

from __future__ import annotations

from diagnose.review.records import Records
from diagnose.review.rows import Filters
from diagnose.review.tables import MOST_NAMED, Endings, ParetoLine, Review

_OF_PLANT = """case when min(plant) over (partition by tag) = max(plant) over (partition by tag)
     then '' else ' of ' || plant end"""
"""The plant behind a tag that several plants have, as ``which.loop_names`` writes it."""

BY: dict[str, str] = {
    "part": f"tag || ' ' || coalesce(part, suspect_part) || {_OF_PLANT}",
    "kind": "coalesce(kind, suspect_kind)",
    "cause": "coalesce(kind, suspect_kind) || ': ' || coalesce(fault, suspect_fault)",
    "mode": "nullif(mode, '')",
    "loop": f"tag || {_OF_PLANT}",
    "type": "nullif(loop_type, '')",
    "place": "coalesce(place, suspect_place)",
    "mechanism": "mechanism",
}
"""What cases can be sorted by, in SQL; ``mode`` is what operations saw."""

STANDS = """case when status = 'unreadable' then 'unreadable'
     when fault is not null or status = 'cause confirmed' then 'confirmed'
     when status = 'no fault found' then 'no_fault_found'
     when status = 'cause not found' then 'not_found' else 'suspected' end"""
"""How a case stands, each in one class."""

LONGEST = 1000
"""Lines of one table."""


def endings(records: Records, filters: Filters | None = None) -> Endings:
    """How many cases stand how."""
    found = dict(records.ask(f"select {STANDS} as s, count(*) from chosen group by s", filters))
    unread = records.ask(
        "select name, note from chosen where status = 'unreadable' order by name "
        f"limit {MOST_NAMED}",
        filters,
    )
    names, reasons = zip(*unread, strict=True) if unread else ((), ())
    return Endings(sum(found.values()), **found, unread=names, reasons=reasons)


def pareto(records: Records, by: str, filters: Filters | None = None) -> tuple[ParetoLine, ...]:
    """The names of one sort (a key of ``BY``), the most confirmed cases first.

    A case without such a name (no part is suspected, say) is in no line, and shares are of those
    that have one, listed or not.
    """
    rows = records.ask(
        f"""
        , sorted as (
            select * from (select {BY[by]} as key, {STANDS} as s, name from chosen)
            where key is not null and s <> 'unreadable'
        ), most as (
            select key, count(*) as calls, count(*) filter (s = 'confirmed') as n,
                   count(*) filter (s = 'suspected') as suspected,
                   count(*) filter (s = 'no_fault_found') as sound,
                   count(*) filter (s = 'not_found') as unfound,
                   sum(count(*) filter (s = 'confirmed')) over () as total
            from sorted group by key order by n desc, calls desc, key limit {LONGEST}
        ), named as (
            select key, list_sort(min(name, {MOST_NAMED})) as names
            from sorted semi join most using (key) group by key
        )
        select key, n, suspected, sound, unfound, names, total
        from most join named using (key) order by n desc, calls desc, key
        """,
        filters,
    )
    lines, running = [], 0
    for name, confirmed, suspected, sound, unfound, cases, total in rows:
        running += confirmed
        share, so_far = (confirmed / total, running / total) if total else (0.0, 0.0)
        lines.append(
            ParetoLine(name, confirmed, suspected, sound, unfound, share, so_far, tuple(cases))
        )
    return tuple(lines)


def untold(found: Review, by: str) -> int:
    """How many confirmed cases stand in no line of a table, for they have no such name."""
    lines = found.paretos[by]
    told = sum(line.confirmed for line in lines)
    return found.endings.confirmed - told if lines and len(lines) < LONGEST else 0
