"""Where the columns of a table are: its row of headings, found below titles and above the data."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.errors import did_you_mean
from diagnose.loops.index.cells import cleaned, known_unit
from diagnose.loops.index.fields import TABLES, Field, field_of
from diagnose.loops.index.tables import Grid, TableError
from diagnose.loops.names import shown

DEEPEST = 40
"""Rows from the top in which headings are looked for."""

NEAR = 88
"""Likeness, per cent, from which on a heading is taken for one that plants use."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Where each meaning stands: ``row`` of the headings, columns by field, units from headings."""

    row: int
    at: Mapping[str, int]
    labels: Mapping[str, str]
    units: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Label:
    """A heading: its own text, and with the text of the group that it stands under."""

    own: str
    full: str


def labels_of(grid: Grid, row: int) -> list[Label]:
    """The headings of a row; the row above gives the groups, merged cells and all."""
    own = [cleaned(cell) for cell in grid.rows[row]]
    groups = _groups(grid.rows[row - 1]) if row else [""] * len(own)
    return [_label(text, group) for text, group in zip(own, groups, strict=True)]


def _label(own: str, group: str) -> Label:
    if not group or group == own:
        return Label(own, own)
    return Label(own or group, f"{group} / {own}" if own else group)


def _groups(cells: Sequence[str]) -> list[str]:
    """A row over the headings: each text reaches to the next one, as in a merged cell.

    A title, one text or the same one everywhere, groups nothing.
    """
    texts = [cleaned(cell) for cell in cells]
    if len(set(filter(None, texts))) < 2:
        return [""] * len(texts)
    found, last = [], ""
    for text in texts:
        last = text or last
        found.append(last)
    return found


def plain_heading(text: str) -> str:
    """A heading without case, signs and the unit behind it."""
    return " ".join(
        re.findall(r"[^\W_]+", re.sub(r"[(\[][^()\[\]]*[)\]]\s*\Z", "", text).casefold())
    )


def find_columns(grid: Grid, table: str, wanted: Mapping[str, str]) -> Columns:
    """The columns with the headings ``wanted``: field -> heading.

    Raises
    ------
    TableError
        No row holds them; those that are not found are named, with what is there.
    """
    best: tuple[int, dict[str, int]] = (0, {})
    for row in range(min(DEEPEST, len(grid.rows))):
        at = dict(_matched(labels_of(grid, row), wanted))
        if len(at) > len(best[1]):
            best = row, at
    row, at = best
    missing = [heading for name, heading in wanted.items() if name not in at]
    if missing:
        raise TableError(grid.path, _missing(missing[0], grid, row))
    labels = labels_of(grid, row)
    units = {name: _unit(labels[column].own, field_of(table, name)) for name, column in at.items()}
    texts = {name: labels[column].full for name, column in at.items()}
    return Columns(row, at, texts, {name: unit for name, unit in units.items() if unit})


def _matched(labels: Sequence[Label], wanted: Mapping[str, str]) -> Iterator[tuple[str, int]]:
    """Field and column of each heading that stands there once."""
    full = [plain_heading(label.full) for label in labels]
    own = [plain_heading(label.own) for label in labels]
    for name, heading in wanted.items():
        text = plain_heading(heading)
        once = next((texts for texts in (full, own) if texts.count(text) == 1), None)
        if once is not None:
            yield name, once.index(text)


def _missing(heading: str, grid: Grid, row: int) -> str:
    texts = [label.full for label in labels_of(grid, row) if label.full] if grid.rows else []
    double = sum(plain_heading(label.own) == plain_heading(heading)
                 for label in labels_of(grid, row)) if grid.rows else 0  # fmt: skip
    if double > 1:
        full = [t for t in texts if plain_heading(t).endswith(plain_heading(heading))]
        return f"the heading '{shown(heading)}' is there {double} times; write {' or '.join(full)}"
    return f"it has no column headed '{shown(heading)}'{did_you_mean(heading, texts)}"


def _unit(label: str, field: Field) -> str:
    """The unit that a heading names, such as m of ``Length (m)``, if it is one of the field."""
    found = re.search(r"[(\[]([^()\[\]]*)[)\]]\s*\Z", label)
    unit = cleaned(found[1]).replace("\u00b2", "2") if found else ""
    return unit if field.unit and known_unit(unit, field.unit) else ""


def guess(grid: Grid, table: str) -> dict[str, str]:
    """What the headings of a table seem to mean: field -> heading, in the order of the fields."""
    rows = range(min(DEEPEST, len(grid.rows)))
    guesses = [_guess_row(labels_of(grid, row), TABLES[table]) for row in rows]
    best = max(guesses, key=lambda found: sum(score for _, score in found.values()), default={})
    return {field.name: best[field.name][0] for field in TABLES[table] if field.name in best}


def _guess_row(labels: Sequence[Label], fields: Sequence[Field]) -> dict[str, tuple[str, float]]:
    """Field -> heading and likeness; each field and each column once, the likest first."""
    scored = [
        (_likeness(label, field), field.name, column)
        for column, label in enumerate(labels) if label.full
        for field in fields
    ]  # fmt: skip
    found: dict[str, tuple[str, float]] = {}
    taken: set[int] = set()
    owns = [plain_heading(label.own) for label in labels]
    for score, name, column in sorted(scored, key=lambda item: (-item[0], item[2])):
        if score < NEAR or name in found or column in taken:
            continue
        once = owns.count(owns[column]) == 1
        found[name] = (labels[column].own if once else labels[column].full, score)
        taken.add(column)
    return found


def _likeness(label: Label, field: Field) -> float:
    """How like a heading is to those of a field: the fuller match weighs more."""
    from rapidfuzz import fuzz

    full, own = plain_heading(label.full), plain_heading(label.own)
    if full in field.heads:
        return 110.0 + (full != own)
    if own in field.heads:
        return 100.0
    return max((fuzz.ratio(own, head) for head in field.heads if len(head) > 3), default=0.0)
