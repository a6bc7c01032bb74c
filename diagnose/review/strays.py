"""Cases whose day can hardly be right: a clock that was wrong makes the years in service wrong."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from diagnose.loops.names import shown
from diagnose.review.records import Records
from diagnose.review.rows import Filters, Window

GAP = 730
"""Days without any case, beyond which the few at one end may be of a wrong clock (assumption)."""

SMALL = 0.05
"""The largest share of all cases that counts as few (assumption)."""

Day = tuple[date, int, str]
"""A day, how many cases are of it, and the name of one."""


def strays(records: Records, filters: Filters, days: Window, today: date) -> tuple[str, ...]:
    """Notes on cases of days to come, and on few that lie years before or after all others.

    Only days that the review counts from or until matter: those that the user names are right.
    """
    rows: list[Day] = records.ask(
        "select day, count(*), min(name) from chosen where day is not null group by day "
        "order by day",
        Filters(filters.since, filters.until, filters.plants),
    )
    ahead = [row for row in rows if row[0] > today + timedelta(1)]  # it is tomorrow somewhere
    apart = "of a day years apart from all others"
    notes = []
    if days.first in days.of_cases and (found := _apart(rows)):
        notes.append(_said(found, apart, "--since"))
    if days.last in days.of_cases and ahead:
        notes.append(_said(ahead, "of a day to come", "--until"))
    elif days.last in days.of_cases and (found := _apart(rows[::-1])):
        notes.append(_said(found, apart, "--until"))
    if filters.until is not None and filters.until > today:
        notes.append(f"days after {today} count as in service, though nothing can have failed yet")
    return tuple(notes)


def _apart(rows: Sequence[Day]) -> list[Day]:
    """The few at the beginning that a gap divides from all others."""
    most = SMALL * sum(row[1] for row in rows)
    seen, found = 0, 0
    for number, (one, other) in enumerate(pairwise(rows), 1):
        seen += one[1]
        if seen > most:
            break
        if abs((other[0] - one[0]).days) > GAP:
            found = number
    return list(rows[:found])


def _said(found: Sequence[Day], what: str, option: str) -> str:
    many = sum(row[1] for row in found)
    cases = "1 case is" if many == 1 else f"{many} cases are"
    day, _, name = found[0]
    return (
        f"{cases} {what}, such as {shown(name)} of {day}: where a clock was wrong, the years in "
        f"service are wrong and so is every rate; {option} leaves it out"
    )
