"""Events for tests, with numbers and times, and cases made of them."""

from dataclasses import fields
from datetime import datetime, timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from diagnose.casework import events as e
from diagnose.casework.case import Case, fold
from diagnose.loops.record import loop_to_record
from small_loop import LOOP

START = datetime(2024, 3, 12, 2, 40, tzinfo=timezone(timedelta(hours=1)))
OPENED = e.Opened("LT-214", loop_to_record(LOOP), "1.2", "two-wire-input")


def stamp(number: int, event: e.Event, at: datetime | None = None) -> e.Stamped:
    return e.Stamped(number, at or START + timedelta(minutes=number), event)


def stamped(*events: e.Event) -> list[e.Stamped]:
    return [stamp(number, event) for number, event in enumerate((OPENED, *events), 1)]


def case_of(*events: e.Event) -> Case:
    return fold(stamped(*events))


def reading(text: str, minutes: float = 1.0) -> e.ReadingTaken:
    return e.ReadingTaken(text, "cabinet", minutes, False)


# Texts as people type or paste them: any script, control characters too.
words = st.text(min_size=1, max_size=20).map(lambda text: text.strip() or "x")
numbers = st.floats(allow_nan=False, allow_infinity=False, width=32)
names = st.text("aA1+-.:é ", min_size=1, max_size=8)
parts = st.none() | names
tables = st.dictionaries(names, names | numbers | st.booleans(), max_size=3)
pairs = st.lists(st.tuples(names, names), max_size=2).map(tuple)

FIELDS: dict[str, st.SearchStrategy[Any]] = {
    "advised": st.booleans(),
    "passed": st.booleans(),
    "number": st.integers(1, 40),
    "minutes": st.floats(0, 600),
    "gain_bits": numbers,
    "low": st.none() | numbers,
    "high": st.none() | numbers,
    "unexplained": numbers,
    "part": parts,
    "ending": st.sampled_from(e.ENDINGS),
    "sheet": tables,
    "meter": tables,
    "versions": tables,
    "distrusted": st.lists(st.integers(1, 40), max_size=3).map(tuple),
    "rates": st.lists(st.tuples(names, names, numbers), max_size=3).map(tuple),
    "top": st.lists(st.tuples(parts, names, pairs, numbers), max_size=3).map(tuple),
}


def events_of(kind: type[e.Event]) -> st.SearchStrategy[e.Event]:
    """Any event of a class; fields are drawn by their names, the others are texts."""
    drawn = {item.name: FIELDS.get(item.name, words) for item in fields(kind)}
    # A look is at a part; a remedy or a cause may be of the sound loop.
    return st.builds(kind, **(drawn | {"part": names} if kind is e.FoundGood else drawn))


any_event = st.sampled_from(sorted(e.Event.registry.values(), key=lambda kind: kind.word)).flatmap(
    events_of
)
later = any_event.filter(lambda event: not isinstance(event, e.Opened))
