"""Priors that learn: the assumed rates of faults, moved by the failures that were confirmed.

The assumed rates are weights within a group of faults (electrical, process connection).  If they
were right, the N failures of a group would fall on its faults in proportion to weight times part
years; that is what is *expected*.  The true rate of a fault is the assumed one times a factor with
a Gamma prior of mean 1, so that ``confirmed`` failures where ``expected`` were to be (Poisson)
leave a factor of mean (strength + confirmed) / (strength + expected).  The strength is the weakest
that the counts of all faults together do not contradict, but never less than ``LEAST``; a plant is
shrunk to its company in the same way.  The first failure beyond what is expected does not count,
and the factor is bounded: one odd case moves the rates of two faults against each other by less
than a quarter.

References
----------
Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), 2.6 and 5.1: Poisson counts with a Gamma
prior, and its parameters from all groups together (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, lgamma, log

from diagnose.loops.kind import Kind
from diagnose.review.records import Records
from diagnose.review.shares import ShareLine, shares, unresolved

LEAST, MOST = 10.0, 1000.0
"""Bounds of the strength of the assumed rates, in failures (assumption)."""

DROP = 1.92
"""Half the 95 % quantile of chi-square with one degree: what a likelihood may fall short by."""

FURTHEST = 10.0
"""Bound of the factor, either way (assumption)."""

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Prior:
    """The rate of one fault mode of one part kind: assumed, and as the cases leave it.

    ``plant`` is empty for all plants together.  ``rate``, ``low`` and ``high`` are in the unit of
    ``assumed`` (a weight among the faults of a loop); ``confirmed`` failures in ``years`` part
    years, where ``expected`` would be if the assumed rates were right.
    """

    plant: str
    kind: str
    mode: str
    group: str
    assumed: float
    rate: float
    low: float
    high: float
    confirmed: int
    expected: float
    years: float


@dataclass(frozen=True, slots=True)
class Priors:
    """All rates, and how calls end.

    ``strength`` is that of the assumed rates by group of faults, in failures.  ``unplaced`` are
    confirmed failures that move no rate: kind and fault, as no part of a sheet fails, and how many.
    ``unresolved`` calls ended neither with a cause of a known kind nor with no fault found.
    """

    lines: tuple[Prior, ...]
    strength: Mapping[str, float]
    failures: int
    shares: tuple[ShareLine, ...] = ()
    unplaced: tuple[tuple[str, int], ...] = ()
    unresolved: int = 0

    def of(self, plant: str) -> tuple[Prior, ...]:
        """The rates of one plant; empty for all plants together."""
        return tuple(line for line in self.lines if line.plant == plant)

    def shares_of(self, plant: str) -> tuple[ShareLine, ...]:
        """How calls of one plant end; empty for all plants together."""
        return tuple(line for line in self.shares if line.plant == plant)

    def calls(self, plant: str) -> int:
        """How many calls the shares of a plant rest on."""
        return max((line.calls for line in self.shares_of(plant) if not line.loop_type), default=0)


NOTHING = Priors((), {}, 0)
"""Nothing was learned."""


def priors(records: Records, confidence: float = 0.90) -> Priors:
    """Rates and shares learned from the tables that ``counted`` lays out of a review.

    One level where there is one plant; else all plants together, and each shrunk towards that.
    """
    counts, years = _counts(records), _years(records)
    plants = sorted({plant for plant, _ in years})
    pooled_counts, pooled_years = _sum(counts), _sum_years(years)
    lines: list[Prior] = []
    strengths: dict[str, float] = {}
    factors: dict[Key, float] = {}
    for group, modes in _groups().items():
        found, strength = _level("", group, modes, pooled_counts, pooled_years, {}, confidence)
        lines += found
        strengths[group] = strength
        factors |= {(line.kind, line.mode): line.rate / line.assumed for line in found}
    for plant in plants:
        own_counts = {key: n for (where, key), n in counts.items() if where == plant}
        own_years = {kind: n for (where, kind), n in years.items() if where == plant}
        if len(plants) == 1:
            lines += [_renamed(line, plant) for line in lines]
            break
        for group, modes in _groups().items():
            lines += _level(plant, group, modes, own_counts, own_years, factors, confidence)[0]
    failures = sum(pooled_counts.values())
    unplaced = sorted(
        (f"{kind}: {fault or 'fault not told'}", n)
        for (kind, fault), n in pooled_counts.items()
        if (kind, fault) not in factors
    )
    ends = shares(records, confidence)
    left = unresolved(records, ends)
    return Priors(tuple(lines), strengths, failures, ends, tuple(unplaced), left)


def _level(
    plant: str, group: str, modes: Mapping[Key, float], counts: Mapping[Key, int],
    years: Mapping[str, float], factors: Mapping[Key, float], confidence: float,
) -> tuple[list[Prior], float]:  # fmt: skip
    """Rates of one group at one level; ``factors`` are those of the level above, 1 at the top."""
    weight = {
        key: rate * factors.get(key, 1.0) * years[key[0]]
        for key, rate in modes.items()
        if years.get(key[0])
    }
    total = sum(counts.get(key, 0) for key in weight)
    scale = total / sum(weight.values()) if weight else 0.0
    seen = [(counts.get(key, 0), scale * weight[key]) for key in weight]
    strength = weakest_strength(seen)
    lines = []
    for key, (n, expected) in zip(weight, seen, strict=True):
        centre = modes[key] * factors.get(key, 1.0)
        factor, low, high = shrunk(n, expected, strength, confidence)
        reach = [_bounded(centre * value / modes[key]) for value in (factor, low, high)]
        rate, lowest, highest = (modes[key] * value for value in reach)
        part_years = years[key[0]]
        lines.append(
            Prior(
                plant, *key, group, modes[key], rate, lowest, highest, n, expected, part_years
            )
        )  # fmt: skip
    return lines, strength


def shrunk(
    confirmed: int, expected: float, strength: float, confidence: float
) -> tuple[float, float, float]:
    """The factor on an assumed rate, and its interval (Gamma quantiles).

    One failure more than expected does not count: it may be the odd one.
    """
    from scipy.special import gammaincinv

    counted = min(confirmed, max(expected, confirmed - 1.0))
    shape, rate = strength + counted, strength + expected
    tail = (1 - confidence) / 2
    low, high = (float(gammaincinv(shape, chance)) / rate for chance in (tail, 1 - tail))
    return shape / rate, low, high


def weakest_strength(seen: Sequence[tuple[int, float]]) -> float:
    """The lower 95 % likelihood limit of the strength: few counts are not taken for agreement."""
    likeliest = likeliest_strength(seen)
    floor = _likelihood(likeliest, seen) - DROP
    low, high = log(LEAST), log(likeliest)
    if _likelihood(LEAST, seen) >= floor:
        return LEAST
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if _likelihood(exp(middle), seen) >= floor else (middle, high)
    return exp(high)


def likeliest_strength(seen: Sequence[tuple[int, float]]) -> float:
    """The strength under which (confirmed, expected) of all faults together are likeliest.

    Found by golden section on its logarithm, between ``LEAST`` and ``MOST``.
    """
    low, high = log(LEAST), log(MOST)
    golden = 0.6180339887498949
    for _ in range(60):
        left, right = high - golden * (high - low), low + golden * (high - low)
        if _likelihood(exp(left), seen) > _likelihood(exp(right), seen):
            high = right
        else:
            low = left
    return exp((low + high) / 2)


def _likelihood(strength: float, seen: Sequence[tuple[int, float]]) -> float:
    """Logarithm of the negative binomial chance of all counts, a constant apart."""
    return sum(
        lgamma(strength + n) - lgamma(strength)
        + strength * log(strength / (strength + expected))
        - n * log(strength + expected)
        for n, expected in seen
    )  # fmt: skip


def _bounded(factor: float) -> float:
    return min(max(factor, 1 / FURTHEST), FURTHEST)


def _groups() -> dict[str, dict[Key, float]]:
    """Assumed rates by group of faults: (kind, mode) -> rate."""
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    found: dict[str, dict[Key, float]] = {}
    for name, kind in sorted(Kind.registry.items()):
        for mode in kind.modes:
            found.setdefault(mode.group, {})[name, mode.name] = mode.rate
    return found


def _counts(records: Records) -> dict[tuple[str, Key], int]:
    """Confirmed failures of loops in service, by plant and (kind, mode)."""
    rows = records.engine.execute(
        "select f.plant, f.kind, f.fault, count(*) from failures f join units u "
        "using (plant, tag) where f.confirmed and f.kind is not null "
        "and f.day >= u.start and f.day < u.start + u.span group by all"
    ).fetchall()
    return {(plant, (kind, fault)): n for plant, kind, fault, n in rows}


def _years(records: Records) -> dict[tuple[str, str], float]:
    """Part years in service by plant and kind."""
    rows = records.engine.execute(
        "select plant, kind, sum(parts * span) / 365.25 from unit_kinds join units "
        "using (plant, tag) group by all"
    ).fetchall()
    return {(plant, kind): float(years) for plant, kind, years in rows}


def _sum(counts: Mapping[tuple[str, Key], int]) -> dict[Key, int]:
    found: dict[Key, int] = {}
    for (_, key), n in counts.items():
        found[key] = found.get(key, 0) + n
    return found


def _sum_years(years: Mapping[tuple[str, str], float]) -> dict[str, float]:
    found: dict[str, float] = {}
    for (_, kind), n in years.items():
        found[kind] = found.get(kind, 0.0) + n
    return found


def _renamed(line: Prior, plant: str) -> Prior:
    from dataclasses import replace

    return replace(line, plant=plant)
