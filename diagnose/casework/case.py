"""A case: what the events of one hunt add up to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from diagnose.casework.checks import CaseError, Rates
from diagnose.casework.events import (
    AdviceGiven,
    CauseConfirmed,
    Declined,
    FoundGood,
    Noted,
    ProofTaken,
    Ranked,
    RemedyTried,
    Stamped,
)
from diagnose.casework.lines import as_said, found_good, not_possible

__all__ = ["LEFT_BEHIND", "Case", "CaseError", "Open", "Taken", "fold"]

LEFT_BEHIND = "read before the repair"
"""Why readings count no more once a repair did not help."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading as it stands now; ``number`` is that of its record, ``typed`` its first text.

    ``withdrawn`` is the reason why it counts no more, None while it does.
    """

    number: int
    at: datetime
    text: str
    typed: str
    place: str
    minutes: float
    advised: bool
    withdrawn: str | None = None


@dataclass(frozen=True, slots=True)
class Open:
    """Something altered for a while and not yet put back."""

    number: int
    at: datetime
    item: str
    text: str

    def __str__(self) -> str:
        return f"{self.item}: {self.text}" if self.text else self.item


@dataclass(frozen=True)
class Case:
    """The state of one hunt, made by folding its events; never changed, only replaced.

    Tuples are in the order of the events.  ``number`` and ``at`` are those of the last event;
    ``repaired_at`` is the number of the last remedy, 0 before any; ``looks`` are those that
    found a part good.
    """

    tag: str = ""
    loop_type: str = ""
    tool: str = ""
    sheet: Mapping[str, Any] | None = None
    meter: Mapping[str, Any] | None = None
    rates: Rates = ()
    opened: datetime | None = None
    number: int = 0
    at: datetime | None = None
    complaints: tuple[str, ...] = ()
    contexts: tuple[str, ...] = ()
    looks: tuple[FoundGood, ...] = ()
    readings: tuple[Taken, ...] = ()
    acknowledged: tuple[str, ...] = ()
    open_items: tuple[Open, ...] = ()
    restored: tuple[Open, ...] = ()
    declined: tuple[Declined, ...] = ()
    advice: tuple[AdviceGiven, ...] = ()
    rankings: tuple[Ranked, ...] = ()
    remedies: tuple[RemedyTried, ...] = ()
    repaired_at: int = 0
    proofs: tuple[ProofTaken, ...] = ()
    confirmed: tuple[CauseConfirmed, ...] = ()
    notes: tuple[Noted, ...] = ()
    ending: str | None = None

    def then(self, event: Stamped) -> Case:
        """The case after one more event.

        Raises
        ------
        CaseError
            The event cannot happen now; the sentence says why and what would help.
        """
        from diagnose.casework.rules import step

        after = step(self, event)
        return after.but(number=event.number, at=event.at)

    def but(self, **changes: Any) -> Case:
        """The case with some fields changed.

        What ``dataclasses.replace`` gives; that passes every field through ``__init__``, twice an
        event, which was a third of what reading a case took.
        """
        new = object.__new__(Case)
        new.__dict__.update(self.__dict__, **changes)
        if len(new.__dict__) != len(self.__dict__):
            raise TypeError(f"a case has no such field: {', '.join(changes)}")
        return new

    @property
    def read_since(self) -> bool:
        """Whether readings that count were taken after the last repair."""
        return 0 < self.repaired_at < max((item.number for item in self.in_force), default=0)

    @property
    def mixed(self) -> bool:
        """Whether readings from before the last repair count beside such from after it."""
        return self.read_since and self.in_force[0].number < self.repaired_at

    @property
    def hunted_on(self) -> bool:
        """Whether readings were left behind with the last repair: it did not help at first."""
        left = (item.number for item in self.readings if item.withdrawn == LEFT_BEHIND)
        return any(number < self.repaired_at for number in left)

    @property
    def in_force(self) -> tuple[Taken, ...]:
        """The readings that count, as corrected; the n-th is reading n of a ranking."""
        return tuple(item for item in self.readings if item.withdrawn is None)

    @property
    def evidence(self) -> tuple[str, ...]:
        """All lines that count now, as ``parse_line`` takes them.

        Complaints, facts, readings, what was found good; then what was declined, as readings
        that are not possible.
        """
        return (
            *(as_said("complaint", text) for text in self.complaints),
            *(as_said("context", text) for text in self.contexts),
            *(item.text for item in self.in_force),
            *self.found_good,
            *dict.fromkeys(not_possible(item.text) for item in self.declined),
        )

    @property
    def found_good(self) -> tuple[str, ...]:
        """The faults that were looked for and are not there, a line each."""
        return tuple(found_good(item.part, item.fault) for item in self.looks)

    @property
    def status(self) -> str:
        """``open``, or how the case ended."""
        return self.ending or "open"

    @property
    def is_open(self) -> bool:
        """Whether the hunt goes on."""
        return self.ending is None

    @property
    def minutes(self) -> float:
        """What the readings cost, withdrawn ones included."""
        return sum(item.minutes for item in self.readings)

    @property
    def cause(self) -> CauseConfirmed | None:
        """The cause that was confirmed last, None while all is suspicion."""
        return self.confirmed[-1] if self.confirmed else None

    @property
    def last_ranking(self) -> Ranked | None:
        """The last ranking that was recorded: what is suspected."""
        return self.rankings[-1] if self.rankings else None

    def reading(self, number: int) -> Taken:
        """The reading with the number of its record; CaseError if there is none."""
        for item in self.readings:
            if item.number == number:
                return item
        known = ", ".join(str(item.number) for item in self.readings) or "none yet"
        raise CaseError(f"there is no reading {number}; readings: {known}")


def fold(events: Iterable[Stamped]) -> Case:
    """The case that events add up to; CaseError at the first that cannot happen."""
    case = Case()
    for event in events:
        case = case.then(event)
    return case
