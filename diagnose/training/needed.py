"""What the advice would have needed for the faults that were found, on simulated loops."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from diagnose.errors import DiagnoseError
from diagnose.inference.engine import Engine
from diagnose.loops.loop import Loop
from diagnose.review.records import Records
from diagnose.review.rows import Filters
from diagnose.review.tables import Review
from diagnose.training.hunts import hunt

HUNTS = 3
"""Simulated hunts for each fault: its size, the process and the meter differ between them."""


@dataclass(frozen=True, slots=True)
class Found:
    """A fault that was confirmed ``cases`` times on one loop."""

    plant: str
    tag: str
    loop_type: str
    part: str
    fault: str
    cases: int


@dataclass(frozen=True, slots=True)
class Needed:
    """What the advice needs for such a fault: means of minutes and of readings."""

    found: Found
    minutes: float
    readings: float


def faults_found(records: Records, filters: Filters | None, most: int) -> tuple[Found, ...]:
    """The faults confirmed most often in logged cases, by loop and part."""
    rows = records.ask(
        "select plant, tag, max(loop_type), part, fault, count(*) as n from chosen "
        "where source = 'case' and part is not null and fault is not null "
        f"group by plant, tag, part, fault order by n desc, tag, part, fault limit {int(most)}",
        filters,
    )
    return tuple(Found(*row) for row in rows)


def needed(
    faults: Iterable[Found], loop_of: Callable[[str, str], Loop], seed: int = 1
) -> tuple[tuple[Needed, ...], tuple[str, ...]]:
    """What the advice needs for each fault, and a sentence for each that cannot be simulated.

    ``loop_of`` gives the loop of a plant and a tag; it may raise DiagnoseError.
    """

    @lru_cache(maxsize=4)
    def engine(plant: str, tag: str) -> Engine:
        return Engine(loop_of(plant, tag))

    told, left_out = [], []
    for item in faults:
        try:
            hunts = [
                hunt(
                    engine(item.plant, item.tag), "advice", seed + n, fault=(item.part, item.fault)
                )
                for n in range(HUNTS)
            ]
        except DiagnoseError as error:
            reason = str(error).splitlines()[0]
            left_out.append(f"{item.tag} {item.part} {item.fault} is not simulated: {reason}")
            continue
        minutes = sum(one.minutes for one in hunts) / HUNTS
        told.append(Needed(item, minutes, sum(one.readings for one in hunts) / HUNTS))
    return tuple(told), tuple(left_out)


def set_against(found: Review, needs: Iterable[Needed], notes: Iterable[str] = ()) -> Review:
    """The review with what the advice needs beside what the hunts took, by loop type and in all."""
    some = tuple(needs)
    work = []
    for line in found.work:
        mine = [item for item in some if line.group in ("all", item.found.loop_type)]
        cases = sum(item.found.cases for item in mine)
        if cases:
            minutes = sum(item.minutes * item.found.cases for item in mine) / cases
            readings = sum(item.readings * item.found.cases for item in mine) / cases
            line = replace(line, minutes_advised=minutes, readings_advised=readings)
        work.append(line)
    cases = sum(item.found.cases for item in some)
    note = (
        f"what the advice needs is simulated for {cases} of {found.endings.confirmed} causes; its "
        "minutes are of walking and measuring alone, those to the cause are of the clock, with "
        "waiting, repair and proof: compare the readings"
    )
    return replace(found, work=tuple(work), notes=(*found.notes, note, *notes))
