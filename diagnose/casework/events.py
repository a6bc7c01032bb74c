"""What can happen in a hunt: one frozen class an event, and its record in a case file.

A record is one JSON object: ``schema``, ``number`` (1 is the first), ``event`` (the word of the
class), ``at`` (local time with its offset from UTC), then the fields of the event.  Quantities are
in SI, times in minutes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from datetime import datetime
from functools import cache
from typing import Any, ClassVar, get_type_hints

from diagnose.casework.checks import CHECKS, CaseError, Top, moment, say, table, whole
from diagnose.errors import did_you_mean
from diagnose.loops.names import shown

__all__ = ["ENDINGS", "SCHEMA", "CaseError", "Event", "Stamped", "Top"]

SCHEMA = 1
"""Version of the records; a case of a newer one is refused."""

CONFIRMED, SOUND, UNFOUND, HANDED_OVER = ENDINGS = (
    "cause confirmed",
    "no fault found",
    "cause not found",
    "handed over",
)
"""How a case can end.  What was handed over may be gone on with; the others take notes only."""


@dataclass(frozen=True)
class Event:
    """Something that happened.  A subclass with ``word=`` is an event of its own."""

    word: ClassVar[str] = ""
    registry: ClassVar[dict[str, type[Event]]] = {}

    def __init_subclass__(cls, word: str, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        cls.word = word
        Event.registry[word] = cls


@dataclass(frozen=True, slots=True)
class Stamped:
    """An event with its number in the case and the moment it was written down."""

    number: int
    at: datetime
    event: Event


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

    ``versions`` tells what it was computed with; ``casework.digest`` makes it.
    """

    top: Top
    unexplained: float
    versions: Mapping[str, Any]


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


HEAD = ("schema", "number", "event", "at")

_KEYS = {"number": "reading"}
"""Fields whose key in a record is another one, because the head has that name."""

_FIELDS = {key: name for name, key in _KEYS.items()}


def to_record(event: Event, number: int, at: datetime) -> dict[str, Any]:
    """The JSON object of an event, fields checked and made fit to be written.

    Raises
    ------
    CaseError
        A field holds what no case file may hold.
    """
    clean = {key: say(value) for key, value in _content(event).items()}
    event = _made(type(event), clean)
    head = {"schema": SCHEMA, "number": number, "event": event.word, "at": at.isoformat()}
    return {**head, **{_KEYS.get(name, name): value for name, value in _content(event).items()}}


def from_record(record: Mapping[str, Any]) -> Event:
    """The event of a JSON object; CaseError with one sentence if it is none."""
    return stamped(record).event


def stamped(record: object) -> Stamped:
    """The event of a JSON object with its number and time.

    Raises
    ------
    CaseError
        It is no record, of a newer schema, or a word, field or value is wrong.
    """
    record = table(record, "a record")
    check_schema(record)
    word = record.get("event")
    kind = Event.registry.get(word) if isinstance(word, str) else None
    if kind is None:
        near = did_you_mean(str(word)[:60], Event.registry)
        raise CaseError(f"there is no event '{shown(word)}'{near}")
    number = whole(record.get("number"), "number")
    at = moment(record.get("at"))
    fields_ = {_FIELDS.get(key, key): item for key, item in record.items() if key not in HEAD}
    return Stamped(number, at, _made(kind, fields_))


def check_schema(record: Mapping[str, Any]) -> None:
    """Refuse a record without a schema, or of one that is not known here yet."""
    schema = whole(record.get("schema"), "schema")
    if schema > SCHEMA:
        raise NewerSchemaError(
            f"it was written by a newer diagnose (schema {schema}; this one reads {SCHEMA}): "
            "bring diagnose up to date"
        )


class NewerSchemaError(CaseError):
    """A case that only a newer version understands."""


def _content(event: Event) -> dict[str, Any]:
    return {item.name: getattr(event, item.name) for item in fields(event)}


@cache
def _hints(word: str) -> dict[str, Any]:
    """The types of an event's fields."""
    kind = Event.registry[word]
    hints = get_type_hints(kind)
    return {item.name: hints[item.name] for item in fields(kind)}


def _made(kind: type[Event], content: Mapping[str, Any]) -> Event:
    """An event from plain values, each checked for its type; fields with a default may lack."""
    hints = _hints(kind.word)
    for key in content:
        if key not in hints:
            raise CaseError(
                f"the event '{kind.word}' has no field '{shown(key)}'{did_you_mean(key, hints)}"
            )
    wanted = [item.name for item in fields(kind) if not _optional(item)]
    missing = [name for name in wanted if name not in content]
    if missing:
        raise CaseError(f"the event '{kind.word}' lacks its field '{missing[0]}'")
    return kind(**{key: CHECKS[hints[key]](value, key) for key, value in content.items()})


def _optional(item: Any) -> bool:
    return item.default is not MISSING or item.default_factory is not MISSING
