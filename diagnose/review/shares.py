"""How calls end, learned: the assumed shares of loops, moved by what was confirmed or found sound.

A call ends electrical or at the process connection by its confirmed cause, or sound by "no fault
found"; what is suspected, or "cause not found", tells of neither.  The share of calls that end in
one way has a Beta prior: its mean is what the sheets assume of the loops that were called for, and
it weighs as much as ``STRENGTH`` calls that ended so, so that a rare ending is as hard to move as a
common one.  With n such ends among N calls the share becomes

    (STRENGTH + n) / (STRENGTH / mean + N),

then the shares are made to add up again.  The same is done for all plants together, for each plant
from there, and for each loop type of a plant from there.  The first end beyond what is expected
does not count, as with rates (``priors``).

References
----------
Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), 2.1 to 2.4: binomial counts with a Beta prior
(from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass, fields, replace
from functools import cache

from diagnose.casework.events import SOUND
from diagnose.loops.kind import Kind
from diagnose.loops.loop import Shares
from diagnose.loops.site_rates import LEARNED, moved
from diagnose.review.records import Records
from diagnose.review.tables import MOST_NAMED, Names

STRENGTH = 20.0
"""Calls with one ending that its assumed share weighs as much as (assumption)."""

FURTHEST = 10.0
"""Bound of the factor, either way (assumption)."""


@dataclass(frozen=True, slots=True)
class ShareLine:
    """How often calls of one loop type end in one way: assumed, and as the cases leave it.

    ``plant`` and ``loop_type`` are empty for all of them together.  ``assumed`` is the mean over
    the ``calls`` that count, of which ``ended`` ended so and ``expected`` would if the share one
    level above were right; ``factor`` is what ``share`` is of ``assumed``;
    ``cases`` are the first cases of calls that ended so.
    """

    plant: str
    loop_type: str
    ending: str
    assumed: float
    share: float
    low: float
    high: float
    ended: int
    expected: float
    calls: int
    factor: float
    cases: Names = ()


@dataclass(frozen=True, slots=True)
class _Call:
    """Calls with the same end on loops of one type with the same assumed shares."""

    plant: str
    loop_type: str
    assumed: Shares
    ending: str
    count: int
    cases: Names


Factors = Mapping[str, float]


def shares(records: Records, confidence: float = 0.90) -> tuple[ShareLine, ...]:
    """Shares learned from the tables ``failures`` and ``units`` of a review, see ``counted``.

    A loop whose sheet is not known has no assumed shares, and its calls do not count.
    """
    calls = _calls(records)
    lines, factors = _level("", "", calls, {}, confidence)
    plants = sorted({call.plant for call in calls})
    for plant in plants:
        own = [call for call in calls if call.plant == plant]
        if len(plants) == 1:
            whole, base = [replace(line, plant=plant) for line in lines], factors
        else:
            whole, base = _level(plant, "", own, factors, confidence)
        lines += whole
        for loop_type in sorted({call.loop_type for call in own}):
            some = [call for call in own if call.loop_type == loop_type]
            lines += _level(plant, loop_type, some, base, confidence)[0]
    return tuple(lines)


def unresolved(records: Records, lines: Sequence[ShareLine]) -> int:
    """How many calls of loops in service tell of no share, for it is not known how they ended."""
    ((calls,),) = records.engine.execute(
        "select count(*) from failures f join units u using (plant, tag) "
        "where f.day >= u.start and f.day < u.start + u.span"
    ).fetchall()
    told = max((line.calls for line in lines if not line.plant), default=0)
    return int(calls) - told


def _level(
    plant: str, loop_type: str, calls: Sequence[_Call], above: Factors, confidence: float
) -> tuple[list[ShareLine], Factors]:
    """The three shares of some calls, and the factors that they leave on what sheets assume."""
    n = sum(call.count for call in calls)
    if not n:
        return [], above
    assumed = _mean(calls, {})
    expected = _mean(calls, above)
    found, factors = {}, {}
    for ending in LEARNED:
        ended = sum(call.count for call in calls if call.ending == ending)
        share = getattr(expected, ending) / (1 - expected.unmodelled)
        if share > 0:
            found[ending] = ended, share, learned(ended, n, share, confidence)
            factors[ending] = _bounded(above.get(ending, 1.0) * found[ending][2][0] / share)
    settled = moved(assumed, factors)
    lines = []
    for ending, (ended, before, (mean, low, high)) in found.items():
        share, usual = getattr(settled, ending), getattr(assumed, ending)
        reach = share * low / mean, share * high / mean
        lines.append(
            ShareLine(plant, loop_type, ending, usual, share, *reach, ended, n * before, n,
                      share / usual, _named(calls, ending))
        )  # fmt: skip
    return lines, factors


def learned(
    ended: int, calls: int, assumed: float, confidence: float
) -> tuple[float, float, float]:
    """A share after ``ended`` of ``calls`` ended so, and its interval (Beta quantiles).

    One end more than expected does not count: it may be the odd one.
    """
    from scipy.special import betaincinv

    counted = min(ended, max(assumed * calls, ended - 1.0))
    a = STRENGTH + counted
    b = STRENGTH * (1 - assumed) / assumed + calls - counted
    tail = (1 - confidence) / 2
    return a / (a + b), float(betaincinv(a, b, tail)), float(betaincinv(a, b, 1 - tail))


def _mean(calls: Iterable[_Call], factors: Factors) -> Shares:
    """The mean over calls of what is assumed of their loops, moved by factors."""
    calls = list(calls)
    n = sum(call.count for call in calls)
    each = [astuple(moved(call.assumed, factors)) for call in calls]
    sums = [sum(c.count * of[k] for c, of in zip(calls, each, strict=True)) for k in range(4)]
    return Shares(*(value / n for value in sums))


def _named(calls: Sequence[_Call], ending: str) -> Names:
    """Cases of the calls that ended so, ``MOST_NAMED`` at most."""
    return tuple(sorted(n for c in calls if c.ending == ending for n in c.cases)[:MOST_NAMED])


def _bounded(factor: float) -> float:
    return min(max(factor, 1 / FURTHEST), FURTHEST)


def ending_of(kind: str | None, fault: str | None, status: str) -> str | None:
    """How a case ended, as a field of ``Shares``; None where that is not known."""
    if fault is None:
        return "sound" if status == SOUND else None
    return _groups().get((kind, fault))


@cache
def _groups() -> dict[tuple[str | None, str], str]:
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    names = {"electrical": "electrical", "process connection": "process_connection"}
    return {
        (name, mode.name): names[mode.group]
        for name, kind in Kind.registry.items()
        for mode in kind.modes
    }


def _calls(records: Records) -> list[_Call]:
    """The calls whose end is known, of loops in service."""
    columns = ", ".join(f"a.{item.name}" for item in fields(Shares))
    rows = records.engine.execute(
        f"select f.plant, u.loop_type, {columns}, f.real, f.kind, f.fault, count(*), "
        f"list_sort(min(f.names[1], {MOST_NAMED})) "
        "from failures f join units u using (plant, tag) join unit_assumed a using (plant, tag) "
        "where (f.confirmed or not f.real) "
        "and f.day >= u.start and f.day < u.start + u.span group by all order by all"
    ).fetchall()
    found = []
    for plant, loop_type, *assumed, real, kind, fault, count, cases in rows:
        ending = ending_of(kind, fault, "" if real else SOUND)
        if ending is not None:
            found.append(_Call(plant, loop_type, Shares(*assumed), ending, count, tuple(cases)))
    return found
