"""``review``: what many cases teach."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from diagnose.loops.names import shown
from diagnose.loops.plant import Plant
from diagnose.review.export import export
from diagnose.review.page.written import write_page
from diagnose.review.pareto import BY
from diagnose.review.records import Records
from diagnose.review.review import review
from diagnose.review.rows import Filters
from diagnose.review.tables import Review
from diagnose.terminal.arguments import UsageError, whole
from diagnose.terminal.find_cases import filters_of, records_of, settings_of
from diagnose.terminal.outcome import SCHEMA, Outcome
from diagnose.terminal.render_review import lines


def review_cases(arguments: Namespace) -> Outcome:
    """Review the cases of some sources; ``--export`` writes their rows, ``--html`` the report."""
    if arguments.by not in BY:
        raise UsageError(f"--by: '{arguments.by[:40]}' is none of {', '.join(BY)}")
    filters, settings = filters_of(arguments), settings_of(arguments)
    records, people, plants = records_of(arguments)
    if arguments.export:
        export(records, arguments.export, filters)
    found = review(records, people, filters, settings)
    if arguments.against_advice is not None:
        found = _against_advice(found, records, filters, plants, arguments.against_advice)
    if not arguments.html:
        return Outcome(review_json(found), lambda look: lines(found, arguments.by, look))
    named = ", ".join(plant.name for plant in plants) or "cases"
    write_page(records, found, named, arguments.html)
    return Outcome(
        {**review_json(found), "html": arguments.html},
        lambda look: (*lines(found, arguments.by, look), "", f"Report: {shown(arguments.html)}"),
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


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, date | datetime) else value
