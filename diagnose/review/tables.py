"""The tables of a review, one frozen class a line; ``review.review`` fills them.

Every line names its cases (file names without suffix), ``MOST_NAMED`` of them at most, so that each
number can be traced.  Times are in minutes, rates per year of 365.25 days, shares from 0 to 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from diagnose.review.rows import Filters, Window

MOST_NAMED = 100
"""Names of cases kept in one line."""

FEW = 5
"""Failures below which a rate is flagged as resting on few (common practice, no source)."""

TRENDLESS = "no trend shown"
RISING, FALLING, TOO_FEW = "rising", "falling", "too few to tell"

Names = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Settings:
    """What a review takes for granted.

    ``confidence`` is that of all intervals, two-sided; a call-out within
    ``repeat_days`` of the last on its tag is the same failure; ``notable`` is the largest chance
    (corrected for how many were looked at) at which a bad actor or a cluster is listed.
    """

    confidence: float = 0.90
    repeat_days: int = 30
    notable: float = 0.05

    @property
    def sure(self) -> str:
        """The confidence in per cent, with the digits that it was given with.

        >>> Settings(0.995).sure
        '99.5 %'
        """
        return f"{100 * self.confidence:.10g} %"


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with its interval; None where there is nothing to estimate it from."""

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Share:
    """``of`` some, ``count`` did; ``value`` is the share, with its exact (binomial) interval."""

    count: int
    of: int
    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Endings:
    """How many cases stand how; each is counted once.

    ``suspected`` are those that are open or handed over without a confirmed cause.  Files that
    cannot be read are in no other number; ``unread`` names them, and ``reasons`` says of each in
    turn why its file could not be opened, where that is so.
    """

    cases: int = 0
    confirmed: int = 0
    suspected: int = 0
    no_fault_found: int = 0
    not_found: int = 0
    unreadable: int = 0
    unread: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ParetoLine:
    """One name with its cases; what is confirmed, suspected and unfound stand apart.

    ``share`` and ``running`` (the sum of shares so far) are of the confirmed ones.
    """

    name: str
    confirmed: int
    suspected: int
    no_fault_found: int
    not_found: int
    share: float
    running: float
    cases: Names = ()


@dataclass(frozen=True, slots=True)
class Trend:
    """Whether failures come faster or slower with time, before a constant rate is believed.

    ``laplace`` is standard normal and ``laplace_chance`` two-sided; ``shape`` is the exponent of
    the power law with its interval (1: constant, above 1: ever faster), ``shape_chance`` two-sided.
    ``verdict`` is one of ``rising``, ``falling``, ``no trend shown``, ``too few to tell``.
    """

    events: int
    laplace: float | None
    laplace_chance: float | None
    shape: Estimate
    shape_chance: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Rate:
    """Confirmed failures per year in service of one loop type, loop, part kind or cause.

    ``level`` says which; ``years`` is the time in service of all its ``units`` (loops or parts).
    The interval is the exact chi-square one for time-censored data; with no failure, ``low`` is 0
    and ``high`` the one-sided bound.  ``few`` flags counts below ``FEW``.
    """

    level: str
    name: str
    units: int
    failures: int
    years: float
    rate: Estimate
    few: bool
    trend: Trend
    cases: Names = ()


@dataclass(frozen=True, slots=True)
class Repeat:
    """Call-outs on one tag joined to one failure: each within N days of the one before."""

    plant: str
    tag: str
    first: date
    last: date
    calls: int
    cases: Names


@dataclass(frozen=True, slots=True)
class BadActor:
    """A loop that fails more often than its like, more than chance would make it.

    ``expected`` is what its time in service would give at the rate of the other loops of its type;
    ``chance`` that of so many or more, ``corrected`` the same for how many loops were looked at.
    """

    plant: str
    tag: str
    loop_type: str
    failures: int
    years: float
    expected: float
    chance: float
    corrected: float
    cases: Names = ()


@dataclass(frozen=True, slots=True)
class Cluster:
    """Call-outs that have something in common, more often than chance would have it.

    ``sort`` is ``junction box`` (or another place), ``supply`` (or what is shared), ``day``, or
    ``day and ...``; ``name`` which one.
    """

    plant: str
    sort: str
    name: str
    tags: tuple[str, ...]
    calls: int
    expected: float
    chance: float
    corrected: float
    cases: Names = ()


@dataclass(frozen=True, slots=True)
class Work:
    """What the hunts of one group cost; ``group`` is a loop type, or ``all``.

    ``to_cause`` and ``readings`` are of the ``confirmed`` hunts, those that confirmed a cause: the
    median and the quartiles.  ``told_nothing`` is, of the readings with a ranking before and after
    them, those by which no probability moved by 1 %; ``unadvised`` is, of all readings, those that
    the tool had not asked for.  ``minutes_advised`` and ``readings_advised`` are what
    the advice needs for the same faults on a simulated loop, None where that was not asked for.
    """

    group: str
    cases: int
    to_cause: Estimate
    readings: Estimate
    told_nothing: Share
    unadvised: Share
    mended: Share
    interruptions: float
    minutes_advised: float | None = None
    readings_advised: float | None = None
    confirmed: int = 0


@dataclass(frozen=True, slots=True)
class Idle:
    """What was read on one loop without moving any probability by 1 %, and how often that was so.

    ``told_nothing`` is of the times at which it was read with a ranking before and after; ``hunts``
    are those in which it told nothing.
    """

    tag: str
    reading: str
    told_nothing: Share
    hunts: int
    cases: Names


@dataclass(frozen=True, slots=True)
class Neglect:
    """Cautions that nobody answered before the step, or items never put back; ``what`` and who."""

    what: str
    key: str
    count: int
    cases: Names


@dataclass(frozen=True, slots=True)
class ReliabilityClass:
    """Hunts whose leading group had a probability in [low, high), and how often it was right."""

    low: float
    high: float
    hunts: int
    said: float
    right: Share


@dataclass(frozen=True, slots=True)
class EngineRecord:
    """How well rankings agreed with the causes confirmed afterwards.

    ``level`` is ``all``, ``loop type`` or ``version``.  ``first``, ``first_three``: the cause had
    this place in the last ranking before it was confirmed (members of one group share a place).
    ``unmodelled``: of all closed hunts, those that ended with "none of the modelled" in the lead.
    ``distrust``: of the readings held worthless, those that were corrected or withdrawn later.
    """

    level: str
    name: str
    hunts: int
    first: Share
    first_three: Share
    brier: Estimate
    unmodelled: Share
    distrust: Share
    classes: tuple[ReliabilityClass, ...] = ()
    cases: Names = ()


@dataclass(frozen=True, slots=True)
class Review:
    """The whole answer.  ``paretos`` has the keys of ``pareto.BY``."""

    settings: Settings
    filters: Filters
    window: Window
    endings: Endings
    paretos: Mapping[str, tuple[ParetoLine, ...]]
    rates: tuple[Rate, ...]
    repeats: tuple[Repeat, ...]
    bad_actors: tuple[BadActor, ...]
    clusters: tuple[Cluster, ...]
    work: tuple[Work, ...]
    neglects: tuple[Neglect, ...]
    records: tuple[EngineRecord, ...]
    notes: tuple[str, ...] = field(default=())
    idle: tuple[Idle, ...] = ()
