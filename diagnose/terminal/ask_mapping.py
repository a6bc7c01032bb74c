"""The columns of an index asked for once; the answers are the mapping file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from diagnose.errors import DiagnoseError, did_you_mean
from diagnose.library import type_names
from diagnose.loops.index.cells import cleaned
from diagnose.loops.index.fields import TABLES, field_of
from diagnose.loops.index.headings import find_columns, guess
from diagnose.loops.index.mapping import Mapped
from diagnose.loops.index.rows import entries
from diagnose.loops.index.tables import Grid, TableError
from diagnose.loops.names import shown
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.ask import Ask, say
from diagnose.terminal.ask_type import chosen_type, offered

MOST_WORDS = 60
"""Words for loop types that are asked after."""


def guessed(grids: Mapping[str, Grid]) -> Mapped:
    """What the tables seem to mean, unasked; UsageError where nothing looks like a tag."""
    columns = {table: guess(grid, table) for table, grid in grids.items()}
    for table, found in columns.items():
        vital = "cable" if table == "cables" else "tag"
        if vital not in found:
            raise UsageError(
                f"{grids[table].name}: no column looks like the {field_of(table, vital).title}; "
                f"say which it is in a mapping file"
            )
    return Mapped(columns)


def ask_mapping(grids: Mapping[str, Grid], folder: Path, ask: Ask) -> Mapped:
    """The mapping as the user confirms it, column by column and word by word."""
    columns = {table: _ask_columns(table, grid, ask) for table, grid in grids.items()}
    return Mapped(
        columns, _ask_types(words_of(grids["index"], columns["index"]), folder / "models", ask)
    )


def _ask_columns(table: str, grid: Grid, ask: Ask) -> dict[str, str]:
    columns = guess(grid, table)
    say(f"{grid.name}: what its columns seem to mean.")
    while True:
        _tell(table, grid, columns)
        answer = ask("Enter if it is right, else MEANING = HEADING (- for none), or ?: ")
        if answer == "?":
            for field in TABLES[table]:
                say(f"  {field.name:<15} {field.title}")
        elif answer:
            _change(table, grid, columns, answer)
        elif ("cable" if table == "cables" else "tag") in columns:
            return columns
        else:
            say(f"The column of the {TABLES[table][0].title} is needed.")


def _tell(table: str, grid: Grid, columns: Mapping[str, str]) -> None:
    try:
        found = find_columns(grid, table, columns)
    except TableError as error:
        say(error.reason)
        return
    below = grid.rows[found.row + 1] if found.row + 1 < len(grid.rows) else ()
    for name, heading in columns.items():
        sample = cleaned(below[found.at[name]]) if below else ""
        say(f"  {name:<15} = {shown(heading):<28} {shown(sample, 28)}".rstrip())


def _change(table: str, grid: Grid, columns: dict[str, str], answer: str) -> None:
    name, sign, heading = (word.strip() for word in answer.partition("="))
    known = [field.name for field in TABLES[table]]
    if not sign or name not in known:
        say(f"'{shown(name)}' is no meaning{did_you_mean(name, known)}; write MEANING = HEADING")
        return
    if heading in ("-", ""):
        columns.pop(name, None)
        return
    try:
        find_columns(grid, table, {**columns, name: heading})
    except TableError as error:
        say(error.reason)
        return
    columns[name] = heading


def words_of(grid: Grid, columns: Mapping[str, str]) -> list[str]:
    """The words in the column of loop types, the most frequent first."""
    if "type" not in columns:
        return []
    rows = [entry for entry in entries(grid, "index", find_columns(grid, "index", columns))
            if entry.good]  # fmt: skip
    words = [entry.cells["type"] for entry in rows if entry.cells["type"]]
    return sorted(dict.fromkeys(words), key=lambda word: -words.count(word))


def _ask_types(words: Iterable[str], own: Path, ask: Ask) -> dict[str, str]:
    types = type_names(own)
    unknown = [word for word in words if word.casefold() not in types][:MOST_WORDS]
    meant = offered(types, own) if unknown else {}
    found: dict[str, str] = {}
    for word in unknown:
        while text := ask(f"Which of them is '{shown(word)}'? (Enter for none) "):
            try:
                found[word] = chosen_type(text, meant)
                break
            except DiagnoseError as error:
                say(str(error))
    return found
