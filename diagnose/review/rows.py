"""One row a case, and which rows a review looks at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from datetime import date, datetime
from typing import Any, ClassVar

from diagnose.loops.names import shown

CASE, WORK_ORDER = "case", "work order"

CONFIRMED = "cause confirmed"
OPEN = "open"


@dataclass(frozen=True, slots=True)
class CaseRow:
    """What a review knows of one case; the columns of the table ``cases``, in this order.

    ``name`` is the name of the file, ``day`` the local day and ``opened`` the moment (UTC) of its
    first record; ``status`` is ``open`` or how it ended.  ``part``, ``fault``, ``kind`` and
    ``place`` are the confirmed cause, None while all is suspicion; the ``suspect_…`` columns are
    what led the last ranking.

    ``chance``, ``rank``, ``lead`` and ``brier`` judge the last ranking before the cause was
    confirmed: the probability that the cause had, its place (members of one group, within 1 %,
    share it), the probability of the group that led, and the quadratic score (0 perfect, 1 surely
    wrong).
    ``unmodelled`` is the probability of none of the modelled faults in the last ranking.

    ``minutes`` is what the readings cost, ``elapsed`` the minutes from opening to the confirmed
    cause (to the end where there is none).  ``told_nothing`` counts readings after which no
    probability had moved by 1 %, ``judged`` those with a ranking before and after them, of which
    that can be said; ``idle`` and ``tried`` name what was read by them; ``advised`` readings that
    were asked for; ``interruptions`` things done that whoever uses the signal notices.
    ``unacknowledged`` are keys of cautions that a step needed and nobody had answered;
    ``open_items`` what was never put back.
    ``distrusted_right`` and ``distrusted_wrong`` count readings that a ranking held worthless, and
    that were corrected or withdrawn later, or never; ``damaged`` lines that are no records.

    ``mode`` (what operations saw), ``mechanism`` (how it failed), ``cause`` (why), ``detection``
    and ``activity`` (how the part was left) keep the fields of ISO 14224 apart, in the terms of
    ``vocabulary``; ``note`` is free text.
    """

    name: str
    source: str = CASE
    plant: str = ""
    tag: str = ""
    loop_type: str = ""
    tool: str = ""
    engine: str = ""
    day: date | None = None
    opened: datetime | None = None
    status: str = OPEN
    part: str | None = None
    fault: str | None = None
    kind: str | None = None
    place: str | None = None
    suspect_part: str | None = None
    suspect_fault: str | None = None
    suspect_kind: str | None = None
    suspect_place: str | None = None
    suspect_chance: float | None = None
    complaint: str = ""
    contexts: tuple[str, ...] = ()
    chance: float | None = None
    rank: int | None = None
    lead: float | None = None
    brier: float | None = None
    unmodelled: float | None = None
    readings: int = 0
    advised: int = 0
    corrected: int = 0
    withdrawn: int = 0
    told_nothing: int = 0
    judged: int | None = None
    idle: tuple[str, ...] = ()
    tried: tuple[str, ...] = ()
    minutes: float = 0.0
    elapsed: float = 0.0
    interruptions: int = 0
    acknowledged: int = 0
    unacknowledged: tuple[str, ...] = ()
    open_items: tuple[str, ...] = ()
    distrusted_right: int = 0
    distrusted_wrong: int = 0
    damaged: int = 0
    mode: str | None = None
    mechanism: str | None = None
    cause: str | None = None
    detection: str | None = None
    activity: str | None = None
    note: str = ""


COLUMNS: tuple[str, ...] = tuple(item.name for item in fields(CaseRow))

_SQL_TYPES = {
    "str": "VARCHAR",
    "date": "DATE",
    "datetime": "TIMESTAMP",
    "float": "DOUBLE",
    "int": "INTEGER",
    "tuple[str, ...]": "VARCHAR[]",
}

SCHEMA: dict[str, str] = {
    item.name: _SQL_TYPES[str(item.type).removesuffix(" | None")] for item in fields(CaseRow)
}
"""SQL type of each column."""

ORIGIN: dict[str, str] = {"file": "VARCHAR", "size": "BIGINT", "changed": "BIGINT"}
"""SQL type of what the table ``cases`` knows besides: the file that a case was read from, its bytes
and its time of change (ns); null for what comes from elsewhere.
"""

LISTS = frozenset(name for name, type_ in SCHEMA.items() if type_.endswith("[]"))
"""Columns that hold several texts."""

_EMPTY = CaseRow("")


def quoted(text: str) -> str:
    """A text as SQL writes it."""
    return "'" + text.replace("'", "''") + "'"


def default(name: str) -> str:
    """The default of a column as SQL writes it; empty where it is null."""
    value = getattr(_EMPTY, name)
    if value is None:
        return ""
    if isinstance(value, tuple):
        return "[]"
    return quoted(value) if isinstance(value, str) else str(value)


@dataclass(frozen=True, slots=True)
class Filters:
    """Which cases a review looks at; what is empty keeps everything.

    ``since`` and ``until`` are the first and the last day.  Texts are compared whole, without
    regard to capitals; ``parts``, ``places`` and ``faults`` mean the confirmed cause, or what is
    suspected where none is.
    """

    since: date | None = None
    until: date | None = None
    plants: Sequence[str] = ()
    tags: Sequence[str] = ()
    types: Sequence[str] = ()
    places: Sequence[str] = ()
    parts: Sequence[str] = ()
    kinds: Sequence[str] = ()
    faults: Sequence[str] = ()
    modes: Sequence[str] = ()
    status: Sequence[str] = ()
    sources: Sequence[str] = ()

    _COLUMNS: ClassVar[dict[str, str]] = {
        "plants": "plant",
        "tags": "tag",
        "types": "loop_type",
        "places": "coalesce(place, suspect_place)",
        "parts": "coalesce(part, suspect_part)",
        "kinds": "coalesce(kind, suspect_kind)",
        "faults": "coalesce(fault, suspect_fault)",
        "modes": "mode",
        "status": "status",
        "sources": "source",
    }

    @property
    def by_ending(self) -> tuple[str, ...]:
        """The filters in use that choose cases by what was found, or what was complained of.

        What is left of the cases then tells nothing of how often faults are.
        """
        told = ("places", "parts", "kinds", "faults", "modes", "status")
        return tuple(name for name in told if getattr(self, name))

    @property
    def chosen(self) -> tuple[str, ...]:
        """The filters but the days, in words; what is told of some cases must not look whole.

        >>> Filters(kinds=["core"], tags=["LT-1", "LT-2"]).chosen
        ('only tags: LT-1, LT-2', 'only kinds: core')
        """
        used = ((name, getattr(self, name)) for name in self._COLUMNS)
        return tuple(
            f"only {name}: {', '.join(map(shown, words))}" for name, words in used if words
        )

    def wanted(self, name: str) -> list[str]:
        """The words of one filter, small; a part kind also as it is kept, without spaces."""
        words = [str(word).casefold() for word in getattr(self, name)]
        return [word.replace(" ", "_") for word in words] if name == "kinds" else words

    @classmethod
    def column(cls, name: str) -> str:
        """What of a row one filter looks at, as an expression of SQL."""
        return cls._COLUMNS[name]

    def where(self) -> tuple[str, list[Any]]:
        """A condition of SQL, and its values; the words of the user are values only."""
        found: list[str] = ["true"]
        values: list[Any] = []
        for sign, day in ((">=", self.since), ("<=", self.until)):
            if day is not None:
                found.append(f"day {sign} ?")
                values.append(day)
        for name, column in self._COLUMNS.items():
            wanted = self.wanted(name)
            if wanted:
                found.append(f"list_contains(?, lower({column}))")
                values.append(wanted)
        return " and ".join(found), values


@dataclass(frozen=True, slots=True)
class Window:
    """The days that a review looks at, both included.

    ``known`` is False where neither a case nor the user names one: nothing was in service then.
    ``of_cases`` are those of them that are the days of the first or the last case, and so chosen by
    what happened.
    """

    first: date
    last: date
    assumed: str = field(default="")
    known: bool = field(default=True)
    of_cases: tuple[date, ...] = field(default=())

    @property
    def years(self) -> float:
        """Its length in years of 365.25 days."""
        return ((self.last - self.first).days + 1) / 365.25
