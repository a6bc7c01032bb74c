"""The whole review of some cases, in one call."""

from __future__ import annotations

from datetime import UTC, datetime

from diagnose.review.bad_actors import bad_actors
from diagnose.review.clusters import clusters
from diagnose.review.exposure import Population, lay_out, of_cases, window
from diagnose.review.failures import join_calls, repeats, several_causes
from diagnose.review.pareto import BY, endings, pareto
from diagnose.review.rates import rates
from diagnose.review.record import engine_records
from diagnose.review.records import Records
from diagnose.review.rows import Filters, Window
from diagnose.review.strays import strays
from diagnose.review.tables import Review, Settings
from diagnose.review.unmet import unmet
from diagnose.review.work import idle, neglects, work


def review(
    records: Records,
    people: Population | None = None,
    filters: Filters | None = None,
    settings: Settings | None = None,
) -> Review:
    """What the cases that pass the filters teach.

    ``people`` are the loops in service (``exposure.population``); without them, rates are set
    against the loops that have a case, and a note says so.
    """
    filters, settings = filters or Filters(), settings or Settings()
    people = people or of_cases(records, filters)
    days = counted(records, people, filters, settings)
    return Review(
        settings=settings,
        filters=filters,
        window=days,
        endings=endings(records, filters),
        paretos={by: pareto(records, by, filters) for by in BY},
        rates=rates(records, settings, days.of_cases),
        repeats=repeats(records),
        bad_actors=bad_actors(records, settings),
        clusters=clusters(records, settings),
        work=work(records, filters, settings),
        neglects=neglects(records, filters),
        records=engine_records(records, filters, settings),
        idle=idle(records, filters, settings),
        notes=(
            *doubts(records, people, days, filters),
            *unmet(records, filters),
            *_strangers(records),
            *_twice(records),
        ),
    )


def doubts(records: Records, people: Population, days: Window, filters: Filters) -> tuple[str, ...]:
    """What makes rates doubtful: loops not known, days assumed, faults joined, wrong clocks."""
    return (
        *people.notes,
        *filter(None, [days.assumed]),
        *several_causes(records),
        *strays(records, filters, days, datetime.now(UTC).date()),
    )


def counted(records: Records, people: Population, filters: Filters, settings: Settings) -> Window:
    """Make the tables ``units`` and ``failures`` that rates and priors are counted from."""
    days = window(records, filters)
    exposed = _within(people, filters) if days.known else Population((), people.notes)
    lay_out(records, exposed, days)
    join_calls(records, filters, settings)
    return days


def _within(people: Population, filters: Filters) -> Population:
    """The loops that the filters on plants, tags and types leave: they alone are exposed."""

    def kept(value: str, wanted: object) -> bool:
        words = [str(word).casefold() for word in wanted]  # type: ignore[attr-defined]
        return not words or value.casefold() in words

    units = tuple(
        unit
        for unit in people.units
        if kept(unit.plant, filters.plants)
        and kept(unit.tag, filters.tags)
        and kept(unit.loop_type, filters.types)
    )
    return Population(units, people.notes)


def _twice(records: Records) -> tuple[str, ...]:
    """A note on cases that stand in more than one source."""
    if not records.twice:
        return ()
    cases = "1 case stands" if records.twice == 1 else f"{records.twice} cases stand"
    return (f"{cases} in more than one source: counted once, by the latest state",)


def _strangers(records: Records) -> tuple[str, ...]:
    """A note on confirmed failures that no rate counts."""
    ((count, tags),) = records.engine.execute(
        "select count(*), list_sort(list(distinct f.tag))[:6] from failures f left join units u "
        "using (plant, tag) where f.confirmed "
        "and (u.tag is null or f.day < u.start or f.day >= u.start + u.span)"
    ).fetchall()
    if not count:
        return ()
    failures = "1 failure is" if count == 1 else f"{count} failures are"
    named = ", ".join(tags[:5]) + " ..." * (len(tags) > 5)
    why = "the loop has no sheet, or was not in service that day"
    return (f"{failures} in no rate: {why} ({named})",)
