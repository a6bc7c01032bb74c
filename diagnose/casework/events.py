"""What can happen in a hunt: one frozen class an event.  How each is written: ``record``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from diagnose.casework.checks import CaseError, Top
from diagnose.casework.record import (
    SCHEMA,
    Event,
    NewerSchemaError,
    Stamped,
    from_record,
    stamped,
    to_record,
)

__all__ = [
    "ENDINGS",
    "SCHEMA",
    "CaseError",
    "Event",
    "NewerSchemaError",
    "Stamped",
    "Top",
    "from_record",
    "stamped",
    "to_record",
]

CONFIRMED, SOUND, UNFOUND, HANDED_OVER = ENDINGS = (
    "cause confirmed",
    "no fault found",
    "cause not found",
    "handed over",
)
"""How a case can end.  What was handed over may be gone on with; the others take notes only."""


@dataclass(frozen=True)
class Opened(Event, word="opened"):
    """The first event: the loop as it is known now, so that the case needs no plant later.

    ``sheet`` is the record of the loop (``loops.record``), ``tool`` the version of this package.
    ``meter`` and ``rates`` (part, mode, rate) are what the engine is given beside it.
    """

    tag: str
    sheet: Mapping[str, Any]
    tool: str
    loop_type: str
    meter: Mapping[str, Any] = field(default_factory=dict)
    rates: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True)
class Complained(Event, word="complained"):
    """What the loop was reported for: ``reads high``, or the line ``complaint reads high``."""

    text: str


@dataclass(frozen=True)
class Context(Event, word="context"):
    """What surrounds the complaint: ``rain``, or the line ``context rain``."""

    text: str


@dataclass(frozen=True)
class FoundGood(Event, word="found good"):
    """A fault that was looked for and is not there; ``seen`` is what was seen instead."""

    part: str
    fault: str
    seen: str = ""


@dataclass(frozen=True)
class Unsaid(Event, word="unsaid"):
    """A complaint, a fact or what was found good was not so after all; ``text`` is what was said.

    What was found good is said as ``good R1 drift``.
    """

    text: str


@dataclass(frozen=True)
class ReadingTaken(Event, word="reading"):
    """A reading as typed; ``minutes`` is what it cost, ``advised`` whether the tool asked for it.

    Its number in the case is the number of its record.
    """

    text: str
    place: str
    minutes: float
    advised: bool


@dataclass(frozen=True)
class ReadingCorrected(Event, word="reading corrected"):
    """What reading ``number`` should have said."""

    number: int
    text: str


@dataclass(frozen=True)
class ReadingWithdrawn(Event, word="reading withdrawn"):
    """Reading ``number`` counts no more."""

    number: int
    reason: str


@dataclass(frozen=True)
class CautionAcknowledged(Event, word="caution acknowledged"):
    """A caution, by its key, was read and answered."""

    key: str


@dataclass(frozen=True)
class AdviceGiven(Event, word="advice given"):
    """The measurement that was advised, what it promised to tell and to cost."""

    text: str
    gain_bits: float
    minutes: float


@dataclass(frozen=True)
class Declined(Event, word="declined"):
    """A measurement that cannot or may not be taken here."""

    text: str
    reason: str


@dataclass(frozen=True)
class Altered(Event, word="altered"):
    """Something was changed for a while: ``item`` is what (``wire lifted``), ``text`` which."""

    item: str
    text: str


@dataclass(frozen=True)
class Restored(Event, word="restored"):
    """What was altered is as it was; ``text`` may be empty where one such item is open."""

    item: str
    text: str


@dataclass(frozen=True)
class Ranked(Event, word="ranked"):
    """A digest of a ranking: the first eight hypotheses as (part, fault, also, probability).

    ``versions`` tells what it was computed with; ``distrusted`` are the records of the readings
    that it held worthless.  ``casework.digest`` makes it.
    """

    top: Top
    unexplained: float
    versions: Mapping[str, Any]
    distrusted: tuple[int, ...] = ()


@dataclass(frozen=True)
class RemedyTried(Event, word="remedy tried"):
    """What was repaired or changed, how it was found and how it was left."""

    part: str | None
    fault: str
    as_found: str
    as_left: str


@dataclass(frozen=True)
class ProofTaken(Event, word="proof taken"):
    """A reading after the repair with the limits it had to keep, SI; None is no limit."""

    text: str
    low: float | None
    high: float | None
    passed: bool


@dataclass(frozen=True)
class CauseConfirmed(Event, word="cause confirmed"):
    """The cause is proved, not only suspected; ``evidence`` says by what."""

    part: str | None
    fault: str
    evidence: str


@dataclass(frozen=True)
class Noted(Event, word="noted"):
    """Anything worth keeping, in free words."""

    text: str


@dataclass(frozen=True)
class Closed(Event, word="closed"):
    """The hunt ends; ``ending`` is one of ``ENDINGS``."""

    ending: str
