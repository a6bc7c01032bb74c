"""Three years of calls to the demo plant: when, on which loop, and what hides behind each.

Invented, and seeded.  Most calls have a fault drawn from the priors; written down by hand are a
junction box that lets water in again and again, a column tapping that plugs, a head that shakes its
terminals loose, a feed that takes five loops with it on one day, and a storm over one junction box.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

HERE = ZoneInfo("Europe/Berlin")
"""An offset from UTC that changes in summer; the plant itself is nowhere."""

FIRST, DAYS = date(2023, 1, 2), 3 * 365
SEED = 2023

NATURAL = {
    "LT-214": 3, "LT-216": 5, "LAHH-214": 5, "LIC-214": 1, "LSL-216": 6, "LV-214": 7,
    "PT-305": 9, "PT-306": 7, "PT-322": 7, "PT-119": 6, "PDT-330": 6, "FT-118": 8, "FT-124": 6,
    "FV-118": 7, "TT-131": 3, "TT-132": 2, "TT-133": 2, "TE-140": 9, "XV-221": 6, "XV-222": 6,
    "ZS-221": 7,
}  # fmt: skip
"""Calls of each loop in the three years, beside those written down below."""

TAKEN = {
    ("LT-214", date(2024, 3, 12)), ("LT-214", date(2024, 5, 21)), ("LT-214", date(2024, 6, 2)),
    ("LT-216", date(2024, 7, 9)), ("LT-216", date(2024, 11, 18)),
}  # fmt: skip
"""Days of the hunts that are told in `demo_cases`."""

Fault = tuple[str | None, str]


@dataclass(frozen=True, slots=True)
class Call:
    """One call; ``fault`` None is drawn, ``fate`` is how the hunt is cut short, if it is."""

    tag: str
    at: datetime
    seed: int
    fault: Fault | None = None
    complaint: str = ""
    facts: tuple[str, ...] = ()
    fate: str = ""
    repaired: bool = True
    note: str = ""


WET = "Water in JB11 again: drops on the lid, terminals green."
_WRITTEN = (
    # A wet junction box on LT-216: dried five times, then renewed.
    ("LT-216", "2023-02-14T03:50", ("I.JB11", "leakage"), "reads high", ("rain",), "gone", ""),
    ("LT-216", "2023-02-22T14:20", ("I.JB11", "leakage"), "reads high", ("rain",), "", WET),
    ("LT-216", "2023-10-19T22:40", ("I.JB11", "leakage"), "erratic", ("rain",), "", WET),
    ("LT-216", "2023-11-03T08:15", ("I.JB11", "leakage"), "reads high", ("rain",), "unproved", WET),
    ("LT-216", "2024-01-09T01:30", ("I.JB11", "leakage"), "reads high", ("rain",), "", WET),
    ("LT-216", "2024-02-25T16:05", ("I.JB11", "leakage"), "reads high", ("rain",), "", WET),
    ("LT-216", "2024-03-04T05:10", ("I.JB11", "leakage"), "reads high", ("rain",), "",
     "Box renewed with one that has its entries below; cores landed on new terminals."),
    # The tapping of the stripping column plugs until its steam trace is mended.
    ("PDT-330", "2025-01-13T07:30", ("T1", "blocked"), "frozen", ("frost",), "", ""),
    ("PDT-330", "2025-01-21T02:20", ("T1", "blocked"), "frozen", ("frost",), "", ""),
    ("PDT-330", "2025-02-06T11:45", ("T1", "blocked"), "frozen", ("frost",), "", ""),
    ("PDT-330", "2025-02-11T19:00", ("T1", "blocked"), "frozen", ("frost",), "",
     "Steam trace of the lower leg was off at its valve. Opened and locked."),
    # One supply, two loops, one morning.
    ("LT-214", "2025-06-18T05:40", ("G1", "sagging"), "clips", ("shared supply",), "", ""),
    ("LT-216", "2025-06-18T06:25", ("G1", "sagging"), "clips", ("shared supply",), "", ""),
    # A storm over the wash section: both loops through JB23.
    ("FT-118", "2024-08-07T18:30", ("I.JB23", "leakage"), "reads low", ("rain",), "", ""),
    ("PT-119", "2024-08-07T20:10", ("I.JB23", "leakage"), "reads high", ("rain",), "", ""),
    # Still open when the three years end.
    ("PT-306", "2025-12-29T23:10", None, "", (), "open", ""),
    ("XV-222", "2025-12-30T09:40", None, "", (), "open", ""),
    ("TE-140", "2025-12-30T15:20", None, "", (), "open", ""),
    ("FV-118", "2025-12-31T04:00", None, "", (), "open", ""),
    # The same morning, on the same feed of cabinet 2.
    ("PT-322", "2025-06-18T05:55", ("G1", "sagging"), "clips", ("shared supply",), "", ""),
    ("PT-119", "2025-06-18T06:05", ("G1", "sagging"), "clips", ("shared supply",), "", ""),
    ("PDT-330", "2025-06-18T06:40", ("G1", "sagging"), "clips", ("shared supply",), "",
     "Feed of cabinet 2 was down to 20 V under load: one half of the pair had failed unseen."),
    # A head that shakes: its terminals work loose every few months.
    ("TT-133", "2023-03-09T10:20", ("W33A.TE-133", "open"), "reads zero", (), "", ""),
    ("TT-133", "2023-06-27T01:15", ("W33C.TE-133", "open"), "reads zero", (), "", ""),
    ("TT-133", "2023-10-11T15:40", ("W33B.TE-133", "open"), "erratic", (), "", ""),
    ("TT-133", "2024-01-30T06:50", ("W33A.TE-133", "open"), "reads zero", (), "", ""),
    ("TT-133", "2024-05-14T22:30", ("W33D.TE-133", "open"), "reads zero", (), "", ""),
    ("TT-133", "2024-08-22T11:05", ("W33C.TE-133", "open"), "erratic", (), "", ""),
    ("TT-133", "2024-12-03T03:35", ("W33A.TE-133", "open"), "reads zero", (), "", ""),
    ("TT-133", "2025-03-18T13:10", ("W33B.TE-133", "open"), "reads zero", (), "", ""),
    ("TT-133", "2025-07-08T09:25", ("W33C.TE-133", "open"), "reads zero", (), "",
     "Head moved from the pump's line to the wall; spring terminals in place of screws."),
)  # fmt: skip


def calls() -> dict[str, list[Call]]:
    """All calls by tag, each tag's in the order of time."""
    found: dict[str, list[Call]] = {tag: [] for tag in NATURAL}
    for number, (tag, at, fault, complaint, facts, fate, note) in enumerate(_WRITTEN):
        when = datetime.fromisoformat(at).replace(tzinfo=HERE)
        call = Call(tag, when, 7000 + number, fault, complaint, facts, fate, True, note)
        found[tag].append(call)
    for number, tag in enumerate(NATURAL):
        found[tag] += _drawn(tag, number, {call.at.date() for call in found[tag]})
    return {tag: sorted(some, key=lambda call: call.at) for tag, some in found.items()}


def _drawn(tag: str, number: int, written: set[date]) -> Iterator[Call]:
    rng = np.random.default_rng([SEED, number])
    taken = written | {day for name, day in TAKEN if name == tag}
    count = 0
    while count < NATURAL[tag]:
        day = FIRST + timedelta(days=int(rng.integers(DAYS - 10)))
        if any(abs((day - other).days) < 4 for other in taken):
            continue
        taken.add(day)
        fate = str(rng.choice(["", "handed over", "gone", "unproved"], p=[0.78, 0.1, 0.06, 0.06]))
        yield Call(tag, _hour(day, rng), 1000 * number + count, fate=fate)
        count += 1


def _hour(day: date, rng: np.random.Generator) -> datetime:
    """By day twice as often as by night: that is when things are looked at and touched."""
    hour = int(rng.integers(6, 18)) if rng.random() < 0.6 else int(rng.integers(18, 30)) % 24
    return datetime(day.year, day.month, day.day, hour, 5 * int(rng.integers(12)), tzinfo=HERE)


def again(call: Call, fault: Fault, complaint: str, rng: np.random.Generator) -> Call | None:
    """The same fault calls once more within three weeks, if it was not put right; or not."""
    if rng.random() > 0.75 or call.fate == "open":
        return None
    at = call.at + timedelta(days=int(rng.integers(2, 20)), hours=int(rng.integers(24)))
    if at.date() >= date(2025, 12, 28) or (call.tag, at.date()) in TAKEN:
        return None
    return Call(call.tag, at, call.seed + 400, fault, complaint)
