"""One period set against another: whether failures came more or less often, beyond chance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from diagnose.review.exposure import Population, in_service, of_cases
from diagnose.review.rates import MOST_LOOPS, YEAR, failures_by_loop
from diagnose.review.records import Records
from diagnose.review.refused import ReviewError
from diagnose.review.review import counted, review
from diagnose.review.rows import Filters
from diagnose.review.statistics import corrected, ratio_of_rates, share_interval
from diagnose.review.tables import Estimate, Review, Share
from diagnose.review.which import loop_names

QUIET = timedelta(31)
"""A log may well have no case for so long (an assumption)."""


Failed = Mapping[tuple[str, str], int]
"""Level and name -> confirmed failures."""

Years = Mapping[tuple[str, str], float]
"""Level and name -> years in service."""

Told = int | Share | Estimate | None
"""A figure of the hunts of a period."""


@dataclass(frozen=True, slots=True)
class Change:
    """The rate of one loop type, loop, part kind or cause in two periods, confirmed failures alone.

    ``ratio`` is the rate of the later over that of the ``before``; an end that is None has no
    bound.  ``chance`` is that of so uneven a split where the rate is one and the same, two-sided;
    ``corrected`` the same for how many of its level were looked at.
    """

    level: str
    name: str
    failures: int
    years: float
    before: int
    years_before: float
    ratio: Estimate
    chance: float
    corrected: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """The review of the other period and what changed since, the least likely change first."""

    before: Review
    changes: tuple[Change, ...]
    notes: tuple[str, ...]


def compared(
    now: Review, since: date, until: date, records: Records, people: Population | None = None
) -> Comparison:
    """A review set against that of the same cases from ``since`` to ``until``, both included.

    The periods may differ in length: rates are compared.  Raises ReviewError where they share a
    day, or where the review was not of a period with two ends.
    """
    own = now.filters
    if own.since is None or own.until is None:
        raise ReviewError("a review is compared where its own first and last day are given")
    if since <= own.until and until >= own.since:
        raise ReviewError(f"{since} to {until} and {own.since} to {own.until} have days in common")
    filters = replace(own, since=since, until=until)
    before = review(records, people, filters, now.settings)
    people = people or of_cases(records, Filters())
    failed, failed_before = (_failed(one, records, people) for one in (now, before))
    years, earlier = (_years(one, people) for one in (now, before))
    told = changes(failed, failed_before, years, earlier, now.settings.confidence)
    return Comparison(before, told, _outside(records, own, filters))


def _failed(found: Review, records: Records, people: Population) -> Failed:
    """What failed, by level and name: also the loops that a review with very many does not list."""
    failed = {(rate.level, rate.name): rate.failures for rate in found.rates if rate.failures}
    if sum(level == "loop" for level, _ in failed) < MOST_LOOPS:
        return failed
    counted(records, people, found.filters, found.settings)
    return {**failed, **{("loop", loop): n for loop, n in failures_by_loop(records).items()}}


def _years(found: Review, people: Population) -> Years:
    """In service, by level and name: also of what did not fail, which some levels do not list."""
    years = {(rate.level, rate.name): rate.years for rate in found.rates}
    named = loop_names((unit.plant, unit.tag) for unit in people.units)
    loops = {
        ("loop", named[unit.plant, unit.tag]): max(in_service(unit, found.window)[1], 0) / YEAR
        for unit in people.units
    }
    return {**loops, **years}


def changes(
    now: Failed, before: Failed, years: Years, earlier: Years, confidence: float
) -> tuple[Change, ...]:
    """What failed in either period, level by level; ``years`` and ``earlier`` are in service.

    What was not in service in one of the periods is left out.  Of very many lines of a level the
    ``MOST_LOOPS`` least likely are told; all of them were looked at.
    """
    failed = now, before
    found: list[Change] = []
    keys = list(dict.fromkeys(key for each in failed for key in each))
    for level in dict.fromkeys(level for level, _ in keys):
        told = []
        for key in (key for key in keys if key[0] == level):
            one = failed[0].get(key, 0), _of(years, key)
            other = failed[1].get(key, 0), _of(earlier, key)
            ratio, chance = ratio_of_rates(*one, *other, confidence)
            if chance is not None:
                told.append(Change(*key, *one, *other, ratio, chance, chance))
        raised = corrected([one.chance for one in told])
        told = [replace(one, corrected=each) for one, each in zip(told, raised, strict=True)]
        told.sort(key=lambda one: (one.chance, -one.failures - one.before, one.name))
        found += told[:MOST_LOOPS]
    return tuple(found)


def _of(years: Years, key: tuple[str, str]) -> float:
    """Years of a name; a cause has those of the parts of its kind."""
    level, name = key
    wanted = ("part kind", name.split(": ")[0]) if level == "cause" else key
    return years.get(wanted, 0.0)


def hunts(found: Review) -> Iterator[tuple[str, Told, int]]:
    """What the hunts of a period came to: name, figure, and digits where it is an estimate.

    A count, a share, a median with its quartiles; None where nothing tells it.
    """
    ends = found.endings
    read, sure = ends.cases - ends.unreadable, found.settings.confidence
    yield "cases", ends.cases, 0
    yield "cause confirmed", share_interval(ends.confirmed, read, sure), 0
    yield "no fault found", share_interval(ends.no_fault_found, read, sure), 0
    yield "cause not found", share_interval(ends.not_found, read, sure), 0
    work = next((item for item in found.work if item.group == "all"), None)
    yield "minutes to cause", work.to_cause if work else None, 0
    yield "readings to cause", work.readings if work else None, 1
    yield "readings that told nothing", work.told_nothing if work else None, 0
    yield "own choice", work.unadvised if work else None, 0


def _outside(records: Records, *periods: Filters) -> tuple[str, ...]:
    """A note for each period that reaches far beyond the first or the last case of the log."""
    first, last = records.ask("select min(day), max(day) from chosen", Filters())[0]
    if first is None:
        return ()
    return tuple(
        f"{one.since} to {one.until} goes beyond the log, whose cases are of {first} to {last}: "
        "where nothing was logged nothing seems to fail"
        for one in periods
        if one.since and one.until and (first - one.since > QUIET or one.until - last > QUIET)
    )
