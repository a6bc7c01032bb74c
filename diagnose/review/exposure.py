"""What could have failed, and for how long: the loops of a plant, their parts, days in service."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, fields
from datetime import date

from diagnose.errors import DiagnoseError
from diagnose.loops.in_service import ALL
from diagnose.loops.loop import Loop, Shares
from diagnose.loops.plant import Plant
from diagnose.review.records import Records
from diagnose.review.rows import Filters, Window
from diagnose.review.which import loop_names

FIRST_DAY = date(1900, 1, 1)
"""Stands for a first day in service that nobody wrote down: the window then begins it."""

YEAR = 365
"""Days of a log below which its first failure, which opens it, weighs much in a rate."""

FOREVER = date(9999, 12, 31)

Shared = tuple[str, str]
"""What loops have in common: its sort (``place``, ``shared``) and its name."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One loop in service from ``since`` to ``until`` (None: not known, and still).

    ``parts`` are (name, kind), ``shared`` what it has in common with others, ``assumed`` how its
    sheet assumes that calls end (None: there is no sheet).
    """

    plant: str
    tag: str
    loop_type: str
    since: date | None = None
    until: date | None = None
    parts: tuple[tuple[str, str], ...] = ()
    shared: tuple[Shared, ...] = ()
    assumed: Shares | None = None


@dataclass(frozen=True, slots=True)
class Population:
    """All loops of some plants; ``notes`` are sentences on what is not known of them."""

    units: tuple[Unit, ...] = ()
    notes: tuple[str, ...] = ()


def population(plants: Iterable[Plant]) -> Population:
    """The loops that some plants have sheets of; a sheet with a mistake is left out and noted."""
    units, notes = [], []
    for plant in plants:
        loops = []
        for tag in plant.tags():
            try:
                loops.append(plant.load(tag))
            except DiagnoseError as error:
                first = str(error).split("\n")[0]
                notes.append(f"{tag} is not counted, its sheet has a mistake: {first}")
        units += [_unit(plant, loop, _common(loops)) for loop in loops]
        unknown = [loop.tag for loop in loops if not {loop.tag, ALL} & set(plant.in_service)]
        if unknown:
            notes.append(
                f"{plant.name}: no day in service is known of {len(unknown)} of {len(loops)} loops;"
                " they are counted from the first day of the review (plant.toml, [in-service])"
            )
    once = {(unit.plant, unit.tag): unit for unit in units}  # a copy of a plant adds no loop
    return Population(tuple(once.values()), tuple(notes))


def _unit(plant: Plant, loop: Loop, common: dict[tuple[str, str], str]) -> Unit:
    since, until = plant.in_service.get(loop.tag, plant.in_service.get(ALL, (None, None)))
    shared = {("place", place.title or place.name) for place in loop.places}
    shared |= {("shared", name) for (tag, _), name in common.items() if tag == loop.tag}
    parts = tuple((part.name, part.kind.name) for part in loop.parts)
    return Unit(
        plant.name, loop.tag, loop.type, since, until, parts, tuple(sorted(shared)), loop.shares
    )


def _common(loops: Sequence[Loop]) -> dict[tuple[str, str], str]:
    """(tag, title of a neighbour) -> the name of what all who are joined by that title share."""
    group: dict[tuple[str, str], tuple[str, str]] = {}

    def root(key: tuple[str, str]) -> tuple[str, str]:
        while group.setdefault(key, key) != key:
            key = group[key]
        return key

    for loop in loops:
        for near in loop.neighbours:
            title = near.title or " ".join(sorted(near.through))
            a, b = sorted((root((loop.tag, title)), root((near.tag, title))))
            group[b] = a
    return {key: f"{key[1]} as {root(key)[0]}" for key in list(group)}


def of_cases(records: Records, filters: Filters | None = None) -> Population:
    """The loops that have a case, where no plant is known; those that never failed are missing."""
    rows = records.ask(
        "select plant, tag, max(loop_type) from chosen where tag <> '' group by all order by all",
        filters,
    )
    note = (
        "no plant file was given: only loops that have a case are counted, so rates come out high"
    )
    return Population(tuple(Unit(*row) for row in rows), (note,))


def window(records: Records, filters: Filters) -> Window:
    """The days of the review: as filtered, else from the first case to the last.

    A plant is older than its case log: days in service before the first case do not count.  The
    log of a plant is one: what is asked of it (a tag, a part) does not move its first day.
    """
    log = Filters(filters.since, filters.until, filters.plants)
    found = records.ask("select min(day), max(day) from chosen", log)[0]
    first, last = filters.since or found[0], filters.until or found[1]
    known = first is not None and last is not None
    if first is None or last is None:  # no case, and not both days given
        first = last = first or last or FIRST_DAY
    notes = [
        f"{word} {day}, the day of the {which} case,"
        for word, day, which, given, seen in (
            ("from", first, "first", filters.since, found[0]),
            ("until", last, "last", filters.until, found[1]),
        )
        if given is None and seen is not None
    ]
    told = "counted " + " ".join(notes).removesuffix(",") if notes else ""
    if found[0] is not None and filters.since is None and (last - first).days < YEAR:
        told += "; a log that begins with a failure and is short makes rates come out high: --since"
    days = (
        found[0] if filters.since is None else None,
        found[1] if filters.until is None else None,
    )
    of_cases = tuple(day for day in days if day is not None)
    return Window(first, max(first, last), told, known, of_cases)


_TABLES = {
    "units": "loop_type VARCHAR, start DATE, span INTEGER, loop VARCHAR",
    "unit_kinds": "kind VARCHAR, parts INTEGER",
    "unit_shared": "sort VARCHAR, name VARCHAR",
    "unit_assumed": ", ".join(f"{item.name} DOUBLE" for item in fields(Shares)),
}
"""What is laid out of each loop, and its columns beside plant and tag."""


def lay_out(records: Records, people: Population, days: Window) -> None:
    """Put the loops into tables of the engine: ``units``, and ``unit_…`` for what each has.

    ``start`` and ``span`` are the first day within the window and the number of days, ``loop`` is
    the tag, with its plant where several have it.
    """
    rows: dict[str, list[tuple[object, ...]]] = {table: [] for table in _TABLES}
    named = loop_names((unit.plant, unit.tag) for unit in people.units)
    for unit in people.units:
        start, span = in_service(unit, days)
        if span > 0:
            key = unit.plant, unit.tag
            rows["units"].append((*key, unit.loop_type, start, span, named[key]))
            names = [kind for _, kind in unit.parts]
            rows["unit_kinds"] += [(*key, kind, names.count(kind)) for kind in sorted(set(names))]
            rows["unit_shared"] += [(*key, *item) for item in unit.shared]
            rows["unit_assumed"] += [(*key, *astuple(unit.assumed))] if unit.assumed else []
    for table, columns in _TABLES.items():
        records.engine.execute(
            f"create or replace temp table {table} (plant VARCHAR, tag VARCHAR, {columns})"
        )
        _insert(records, table, rows[table])


def in_service(unit: Unit, days: Window) -> tuple[date, int]:
    """The first day of a loop within the window, and the number of days; none below 1."""
    start = max(unit.since or FIRST_DAY, days.first)
    end = min(unit.until or FOREVER, days.last)
    return start, (end - start).days + 1


def _insert(records: Records, table: str, rows: Sequence[tuple[object, ...]]) -> None:
    """Append rows by columns: a row at a time would take minutes for a large company."""
    import numpy as np

    if rows:
        columns = {
            f"c{n}": np.array(column, dtype=_dtype(column[0]))
            for n, column in enumerate(zip(*rows, strict=True))
        }
        records.engine.register("fresh_rows", columns)
        records.engine.execute(f"insert into {table} from fresh_rows")
        records.engine.unregister("fresh_rows")


def _dtype(value: object) -> str:
    if isinstance(value, date):
        return "datetime64[s]"
    return {int: "int64", float: "float64"}.get(type(value), "object")
