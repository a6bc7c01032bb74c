"""``orders``: older work orders, or counts of failures, from CSV files."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

from diagnose.review.count_table import CountColumn, read_counts
from diagnose.review.export import export
from diagnose.review.order_map import OrderMap, read_map
from diagnose.review.records import Records
from diagnose.review.work_orders import Orders, read_orders
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.find_loop import plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, SCHEMA, Look, Outcome
from diagnose.terminal.table import grid
from diagnose.terminal.wording import count, paragraph

CONFIDENCE = 0.90
STRANGERS = 8
"""Tags without a sheet that are named; --json names all."""

SHOWN = 50
"""Rejected lines that are listed; --json lists all."""


def orders(arguments: Namespace) -> Outcome:
    """Import work orders, or judge a table of counts."""
    how = read_map(Path(arguments.map)) if arguments.map else OrderMap()
    if arguments.counts:
        if arguments.write:
            raise UsageError("--write belongs to work orders: counts have no rows")
        return _counts(read_counts(Path(arguments.file), how.separator), arguments.years)
    plant = plant_of(arguments)
    found = read_orders(Path(arguments.file), how, plant.name, plant.tags())
    if arguments.write:
        export(Records.of_rows(found.rows), arguments.write)
    data = {
        "schema": SCHEMA,
        "rows": len(found.rows),
        "rejects": [asdict(item) for item in found.rejects],
        "unmapped": [
            {"column": name, "code": code, "lines": n} for (name, code), n in found.unmapped.items()
        ],
        "strangers": [{"tag": tag, "lines": n} for tag, n in found.strangers.items()],
        "written": arguments.write,
    }
    return Outcome(
        data, lambda look: _lines(found, arguments.write, look),
        NEGATIVE if found.rejects else DONE,
    )  # fmt: skip


def _lines(found: Orders, written: str | None, look: Look) -> Iterator[str]:
    taken = f"{len(found.rows)} taken, {len(found.rejects)} rejected"
    yield look.strong(f"{count(found.lines, 'work order')}: {taken}")
    rows = [(str(item.line), item.column, item.reason) for item in found.rejects[:SHOWN]]
    if rows:
        yield from grid(("line", "column", "why it is rejected"), rows, look, frozenset({0}))
    if len(found.rejects) > SHOWN:
        yield look.faint(f"and {len(found.rejects) - SHOWN} more; --json lists them")
    for (name, code), n in found.unmapped.items():
        yield from paragraph(
            f"{name}: the map has no '{code}' ({count(n, 'line')}); kept as it is", look, "note  "
        )
    if found.strangers:
        most = sorted(found.strangers, key=lambda tag: -found.strangers[tag])[:STRANGERS]
        named = ", ".join(f"{tag} ({count(found.strangers[tag], 'line')})" for tag in most)
        more = f" and {left} more" if (left := len(found.strangers) - STRANGERS) > 0 else ""
        yield from paragraph(
            f"the plant has no sheet of {named}{more}: these are in no rate", look, "note  "
        )
    if written:
        yield f"Written: {written}"


def _counts(columns: Sequence[CountColumn], years_text: str) -> Outcome:
    try:
        years = float(years_text)
    except ValueError:
        years = 0.0
    if not 0 < years <= 200:
        raise UsageError(f"--years: '{years_text[:20]}' is no number of years up to 200")
    problems = [column.problem() for column in columns if not column.adds_up]
    data = {
        "schema": SCHEMA,
        "years": years,
        "columns": [
            {
                "name": column.name,
                "units": column.units,
                "added": column.added,
                "printed": column.printed,
                "rate": asdict(column.rate(years, CONFIDENCE)),
                "problem": column.problem(),
            }
            for column in columns
        ],
    }
    return Outcome(
        data, lambda look: _count_lines(columns, years, problems, look),
        NEGATIVE if problems else DONE,
    )  # fmt: skip


def _count_lines(
    columns: Sequence[CountColumn], years: float, problems: Sequence[str], look: Look
) -> Iterator[str]:
    rows = []
    for column in columns:
        rate = column.rate(years, CONFIDENCE)
        value, low, high = (100 * (x or 0.0) for x in (rate.value, rate.low, rate.high))
        rows.append(
            (column.name, str(column.units), str(column.added), str(column.printed or "-"),
             f"{value:.1f} %", f"{low:.1f} to {high:.1f} %")
        )  # fmt: skip
    head = ("of", "units", "added", "printed", "a year", f"{100 * CONFIDENCE:.0f} % interval")
    yield from grid(head, rows, look, frozenset(range(1, 6)))
    for problem in problems:
        yield from paragraph(look.warning(problem), look)
