"""``review``: what many cases teach."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from diagnose.loops.names import shown
from diagnose.loops.plant import Plant
from diagnose.review.comparison import Comparison, compared
from diagnose.review.export import export
from diagnose.review.page.written import write_page
from diagnose.review.pareto import BY
from diagnose.review.records import Records
from diagnose.review.review import review
from diagnose.review.rows import Filters
from diagnose.review.tables import Review
from diagnose.terminal.arguments import UsageError, whole
from diagnose.terminal.find_cases import date_of, filters_of, records_of, settings_of
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.render_comparison import comparison_lines
from diagnose.terminal.render_review import lines
from diagnose.terminal.wording import count


def review_cases(arguments: Namespace) -> Outcome:
    """Review the cases of some sources; ``--export`` writes their rows, ``--html`` the report."""
    if arguments.by not in BY:
        raise UsageError(f"--by: '{arguments.by[:40]}' is none of {', '.join(BY)}")
    filters, settings = filters_of(arguments), settings_of(arguments)
    records, people, plants = records_of(arguments)
    rows = export(records, arguments.export, filters) if arguments.export else 0
    found = review(records, people, filters, settings)
    if arguments.against_advice is not None:
        found = _against_advice(found, records, filters, plants, arguments.against_advice)
    other = None
    if arguments.compare is not None:
        if filters.since is None or filters.until is None:
            raise UsageError("--compare needs --since and --until, the period to set against it")
        first, last = (date_of("--compare", word) for word in arguments.compare)
        if last < first:
            raise UsageError(f"--compare: {last} is before {first}")
        other = compared(found, first, last, records, people)
    told = {**review_json(found), **comparison_json(other)}

    def on_screen(look: Look) -> Iterator[str]:
        yield from lines(found, arguments.by, look, other)
        if other is not None:
            yield from comparison_lines(found, other, look)
        if arguments.export:
            yield from ("", f"Written: {shown(arguments.export, 200)}, {count(rows, 'row')}")

    if not arguments.html:
        return Outcome(told, on_screen)
    named = ", ".join(plant.name for plant in plants) or "cases"
    write_page(records, found, named, arguments.html, other)
    return Outcome(
        {**told, "html": arguments.html},
        lambda look: (*on_screen(look), "", f"Report: {shown(arguments.html)}"),
    )


def _against_advice(
    found: Review, records: Records, filters: Filters, plants: Sequence[Plant], most: str
) -> Review:
    """The review with what the advice needs for the commonest faults, some seconds for each."""
    from diagnose.training.needed import faults_found, needed, set_against

    many = whole("--against-advice", most, 1, 10_000)
    if not plants:
        raise UsageError("--against-advice needs plant folders: name them, or --plant FOLDER")
    by_name = {plant.name: plant for plant in plants}
    faults = faults_found(records, filters, many)
    needs, notes = needed(faults, lambda plant, tag: by_name[plant].load(tag))
    return set_against(found, needs, notes)


def review_json(found: Review) -> dict[str, Any]:
    """A review as JSON holds it."""
    told: dict[str, Any] = _plain(asdict(found))
    return {"schema": SCHEMA, **told}


def comparison_json(other: Comparison | None) -> dict[str, Any]:
    """What changed against another period, where one was asked for."""
    if other is None:
        return {}
    before = other.before
    found = {
        "since": before.filters.since, "until": before.filters.until,
        "endings": asdict(before.endings), "work": [asdict(item) for item in before.work],
        "changes": [asdict(item) for item in other.changes], "notes": other.notes,
    }  # fmt: skip
    return {"compared": _plain(found)}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, date | datetime) else value
