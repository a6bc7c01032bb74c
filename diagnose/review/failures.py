"""Call-outs joined to failures: one that is called for again within N days is one."""

from __future__ import annotations

from diagnose.loops.names import shown
from diagnose.review.pareto import STANDS
from diagnose.review.records import Records
from diagnose.review.rows import Filters
from diagnose.review.tables import MOST_NAMED, Repeat, Settings

MOST_REPEATS = 200


def join_calls(records: Records, filters: Filters | None, settings: Settings) -> None:
    """Make the table ``failures``: one row a failure, that is, a run of call-outs on one tag.

    A run goes on while each call-out comes within ``repeat_days`` of the one before.  Its cause is
    that which was confirmed last; ``confirmed`` says whether any was.
    """
    records.make(
        "failures",
        f"""
        select plant, tag, max(loop_type) as loop_type, min(day) as day, max(day) as last_day,
               count(*) as calls, bool_or(s = 'confirmed') as confirmed,
               bool_or(s <> 'no_fault_found') as real,
               arg_max(part, row) filter (s = 'confirmed') as part,
               arg_max(kind, row) filter (s = 'confirmed') as kind,
               arg_max(fault, row) filter (s = 'confirmed') as fault,
               count(distinct (part, fault)) filter (s = 'confirmed' and fault is not null)
                   as causes,
               list_sort(list(name))[:{MOST_NAMED}] as names
        from (select *, sum(new) over (partition by plant, tag order by row) as run
              from (select plant, tag, loop_type, day, name, part, kind, fault, {STANDS} as s,
                           row_number() over w as row,
                           case when day - lag(day) over w <= {int(settings.repeat_days)}
                                then 0 else 1 end as new
                    from chosen where day is not null and tag <> '' and status <> 'unreadable'
                    window w as (partition by plant, tag order by day, opened, name)))
        group by plant, tag, run
        """,
        filters,
    )


def several_causes(records: Records) -> tuple[str, ...]:
    """A note on failures that hold call-outs with different confirmed causes: each counts once."""
    ((count, tag, first, last),) = records.engine.execute(
        "select count(*), arg_max(tag, worst), arg_max(day, worst), arg_max(last_day, worst) "
        "from (select *, (causes, calls, day, tag) as worst from failures where causes > 1)"
    ).fetchall()
    if not count:
        return ()
    hold = "1 failure holds" if count == 1 else f"{count} failures hold"
    told = (
        f"{hold} call-outs whose confirmed causes differ, such as those on {shown(tag)} from "
        f"{first} to {last}: counted once, by the cause confirmed last. If each was a fault of its "
        "own, rates come out low; --repeat-days 0 joins call-outs of one day only"
    )
    return (told,)


def repeats(records: Records) -> tuple[Repeat, ...]:
    """The failures that were called for more than once, the most often called for first."""
    rows = records.engine.execute(
        "select plant, tag, day, last_day, calls, names from failures where calls > 1 "
        f"order by calls desc, day, tag, plant limit {MOST_REPEATS}"
    ).fetchall()
    return tuple(
        Repeat(plant, tag, first, last, calls, tuple(names))
        for plant, tag, first, last, calls, names in rows
    )
