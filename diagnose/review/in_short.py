"""What a review found, in a few sentences: what a meeting asks first, before any table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from diagnose.loops.names import shown
from diagnose.review.figures import number_of, years_of
from diagnose.review.tables import FALLING, FEW, RISING, Rate, Review
from diagnose.review.which import of_which

if TYPE_CHECKING:
    from diagnose.review.comparison import Comparison

MOST = 3
"""Names in one sentence, the most notable first; the tables have them all."""

LONG = 120
"""Letters of a name; what is shared is named by what shares it."""

LEVELS = ("plant", "loop type", "loop", "part kind", "cause")
"""Levels whose trends are told, beside that of all loops."""


def in_short(found: Review, other: Comparison | None = None) -> tuple[str, ...]:
    """Sentences on what is out of the ordinary; of what is not, none but the rate of all loops.

    ``other`` is the period that it is set against, if it is.
    """
    if not found.endings.cases:
        return ()
    parts = (_how_often, _causes, _bad_actors, _clusters, _trends, _engine)
    return (
        *_left_behind(found),
        *(_changed(other, found) if other else ()),
        *(sentence for part in parts for sentence in part(found)),
    )


def _changed(other: Comparison, now: Review) -> Iterator[str]:
    """How often all loops fail beside the other period, and what changed beyond chance."""
    days = f"Against {other.before.filters.since} to {other.before.filters.until}"
    whole = next((one for one in other.changes if one.level == "all"), None)
    if whole is None:
        known = any(rate.level == "all" for rate in other.before.rates)
        why = "no failure has a confirmed cause in either period"
        yield f"{days}: {why if known else 'no loop is known to have been in service then'}."
    elif whole.ratio.value is None or whole.ratio.high is None:
        yield (
            f"{days}: {_counted(whole.failures, 'failure')} now, none before: "
            f"{number_of(whole.ratio.low or 0.0)} times as often or more."
        )
    else:
        beyond = "more than" if whole.corrected <= now.settings.notable else "no more than"
        yield (
            f"{days}: loops fail {number_of(whole.ratio.value)} times as often "
            f"({number_of(whole.ratio.low or 0.0)} to {number_of(whole.ratio.high)}; "
            f"{whole.failures} now, {whole.before} before), {beyond} chance makes it."
        )
    told = [
        f"{one.level} {_name(one.name)} ({one.failures} now, {one.before} before)"
        for one in other.changes
        if one.corrected <= now.settings.notable and one.level not in ("all", "plant")
    ]
    if told:
        yield f"Changed beyond chance: {_listed(told)}."


def _how_often(found: Review) -> Iterator[str]:
    whole = next((rate for rate in found.rates if rate.level == "all"), None)
    if whole is None or whole.rate.value is None or whole.rate.high is None:
        return
    time = f"{_counted(whole.units, 'loop')} in {years_of(whole.years)} years of service"
    unknown = found.endings.suspected + found.endings.not_found
    apart = (
        f" {_counted(unknown, 'case')} whose cause is not known count in no rate."
        if unknown
        else ""
    )
    if not whole.failures:
        yield f"No failure has a confirmed cause, on {time}.{apart}" + (
            f" Below {number_of(whole.rate.high)} a year on each loop ({found.settings.sure})."
            if not unknown
            else " How often loops fail cannot be told from that."
        )
        return
    trend = {RISING: ", and rising", FALLING: ", and falling"}.get(whole.trend.verdict, "")
    yield (
        f"{_counted(whole.failures, 'failure')} with a confirmed cause, on {time}: "
        f"{number_of(whole.rate.value)} a year on each loop ({number_of(whole.rate.low or 0.0)} to "
        f"{number_of(whole.rate.high)} with {found.settings.sure} confidence){trend}"
        f"{'; so few tell little' if whole.few else ''}.{apart}"
    )


def _causes(found: Review) -> Iterator[str]:
    lines = [line for line in found.paretos.get("cause", ()) if line.confirmed]
    total = sum(line.confirmed for line in lines)
    if total < FEW or lines[0].confirmed < 2:
        return
    half = next((n for n, line in enumerate(lines, 1) if line.running >= 0.5), len(lines))
    make = "makes" if half == 1 else "make"
    top = lines[0]
    yield (
        f"Most often confirmed: {_name(top.name)}, {top.confirmed} of {total} cases; {half} of "
        f"{_counted(len(lines), 'cause')} {make} half of them."
    )


def _bad_actors(found: Review) -> Iterator[str]:
    where = of_which([item.plant for item in found.bad_actors])
    told = [
        f"{shown(item.tag)}{where(item.plant)} "
        f"({_counted(item.failures, 'failure')}, {item.expected:.1f} expected)"
        for item in found.bad_actors
    ]
    if told:
        yield f"More failures than on loops like them: {_listed(told)}."


def _clusters(found: Review) -> Iterator[str]:
    where = of_which([item.plant for item in found.clusters])
    told = [
        f"{shown(item.sort)} {shown(item.name, LONG)}{where(item.plant)} "
        f"({_counted(item.calls, 'call')} on {_counted(len(item.tags), 'loop')}, "
        f"{item.expected:.2g} expected)"
        for item in found.clusters
    ]
    if told:
        yield f"Calls have in common, beyond chance: {_listed(told)}."


def _trends(found: Review) -> Iterator[str]:
    several = sum(rate.level == "plant" for rate in found.rates) > 1
    levels = LEVELS if several else LEVELS[1:]
    for verdict, way in ((RISING, "more"), (FALLING, "less")):
        some = [rate for rate in found.rates if rate.trend.verdict == verdict]
        some.sort(key=lambda rate: rate.trend.laplace_chance or 0.0)
        told = [_of_rate(rate) for rate in some if rate.level in levels]
        if told:
            yield f"Failing {way} and {way} often: {_listed(told)}."


def _of_rate(rate: Rate) -> str:
    return f"{rate.level} {_name(rate.name)} ({_counted(rate.failures, 'failure')})"


def _engine(found: Review) -> Iterator[str]:
    whole = next((item for item in found.records if item.level == "all"), None)
    if whole is None or whole.first.low is None or whole.first.high is None:
        return
    if whole.first.of < FEW:
        return
    yield (
        f"The ranking had the cause first in {whole.first.count} of "
        f"{_counted(whole.first.of, 'hunt')} that confirmed one ({100 * whole.first.low:.0f} to "
        f"{100 * whole.first.high:.0f} %)."
    )


def _left_behind(found: Review) -> Iterator[str]:
    told: dict[str, int] = {}
    for item in found.neglects:
        if item.what.startswith("open item"):
            told[item.key] = told.get(item.key, 0) + item.count
    if told:
        items = [f"{shown(key)} ({_counted(n, 'case')})" for key, n in told.items()]
        yield f"Altered and not noted as put back: {_listed(items)}. Check these first."


def _listed(told: Sequence[str]) -> str:
    more = f" and {len(told) - MOST} more" if len(told) > MOST else ""
    return ", ".join(told[:MOST]) + more


def _name(name: str) -> str:
    return shown(name or "not told").replace("_", " ")


def _counted(number: int, one: str) -> str:
    return f"{number} {one if number == 1 else one + 's'}"
