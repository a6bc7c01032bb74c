"""The page as a file: which cases it lists, and writing it whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path

from diagnose.library import write_whole
from diagnose.loops.names import shown
from diagnose.review.comparison import Comparison
from diagnose.review.page.whole import page
from diagnose.review.priors import NOTHING, priors
from diagnose.review.records import Records
from diagnose.review.refused import ReviewError
from diagnose.review.rows import CaseRow
from diagnose.review.tables import Review

MOST_LISTED = 2000
"""Cases that are all listed; of more only those that a number names."""

ENDINGS = (".html", ".htm")


def write_page(
    records: Records,
    review: Review,
    plant: str,
    path: Path | str,
    other: Comparison | None = None,
) -> int:
    """Write the report on a review of these records; how many cases it lists.

    ``other`` is another period to set beside it.

    Raises
    ------
    ReviewError
        The name does not end in .html, or the file cannot be written; what was there stays.
    """
    path = Path(path)
    if path.suffix.casefold() not in ENDINGS:
        raise ReviewError(f"{shown(path, 200)}: a report is HTML; let its name end in .html")
    rows = listed(records, review)
    chosen = review.filters.by_ending  # such cases tell nothing of how often faults are
    learned = NOTHING if chosen else priors(records, review.settings.confidence)
    text = page(review, learned, rows, plant, other)
    try:
        write_whole(path, text.encode())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise ReviewError(f"{shown(path, 200)} cannot be written: {reason}") from error
    return len(rows)


def listed(records: Records, review: Review) -> tuple[CaseRow, ...]:
    """All cases of a review; of very many, those that its tables name."""
    if review.endings.cases <= MOST_LISTED:
        return records.rows(review.filters)
    return records.rows(review.filters, sorted(set(_named(review))))


def _named(item: object) -> Iterator[str]:
    """Whatever stands under ``cases`` in a table, or in a table of a table."""
    if isinstance(item, tuple):
        for each in item:
            yield from _named(each)
    elif isinstance(item, dict):
        for each in item.values():
            yield from _named(each)
    elif is_dataclass(item) and not isinstance(item, type):
        for part in fields(item):
            value = getattr(item, part.name)
            if part.name == "cases" and isinstance(value, tuple):
                yield from value
            else:
                yield from _named(value)
