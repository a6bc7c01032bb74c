"""Events as records, one JSON object each, and back.

A record holds ``schema``, ``number`` (1 is the first), ``event`` (the word of the class), ``at``
(local time with its offset from UTC), then the fields of the event.  Quantities are in SI, times
in minutes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import datetime
from functools import cache
from typing import Any, ClassVar, get_type_hints

from diagnose.casework.checks import CHECKS, CaseError, moment, say, table, whole
from diagnose.errors import did_you_mean
from diagnose.loops.names import shown

SCHEMA = 1
"""Version of the records; a case of a newer one is refused."""

HEAD = ("schema", "number", "event", "at")

KEYS = {"number": "reading"}
"""Fields whose key in a record is another one, because the head has that name."""

_FIELDS = {key: name for name, key in KEYS.items()}


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
    return {**head, **{KEYS.get(name, name): value for name, value in _content(event).items()}}


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
def types_of(word: str) -> dict[str, Any]:
    """The types of an event's fields."""
    kind = Event.registry[word]
    hints = get_type_hints(kind)
    return {item.name: hints[item.name] for item in fields(kind)}


def _made(kind: type[Event], content: Mapping[str, Any]) -> Event:
    """An event from plain values, each checked for its type; fields with a default may lack."""
    hints = types_of(kind.word)
    for key in content:
        if key not in hints:
            raise CaseError(
                f"the event '{kind.word}' has no field '{shown(key)}'{did_you_mean(key, hints)}"
            )
    missing = [name for name in _wanted(kind.word) if name not in content]
    if missing:
        raise CaseError(f"the event '{kind.word}' lacks its field '{missing[0]}'")
    return kind(**{key: CHECKS[hints[key]](value, key) for key, value in content.items()})


@cache
def _wanted(word: str) -> tuple[str, ...]:
    """The fields that an event cannot be without."""
    return tuple(item.name for item in fields(Event.registry[word]) if not can_lack(item))


def can_lack(item: Any) -> bool:
    """Whether a field of an event has a default."""
    return item.default is not MISSING or item.default_factory is not MISSING
