"""A sheet begun by hand: from a few answers to a commented file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.library import type_names, write_new
from diagnose.loops.index.cells import EITHER, cleaned
from diagnose.loops.index.compose import sheet_text
from diagnose.loops.index.fields import TABLES
from diagnose.loops.index.handwork import unsafe
from diagnose.loops.index.rows import DEFAULT, READ_AS
from diagnose.loops.index.wanted import RowError, make_room, want
from diagnose.loops.names import TAG, name_fault
from diagnose.loops.plant import Plant
from diagnose.loops.sheet import loop_of, names_of_type

_HEAD = """\
# A loop sheet.  What it leaves out is as the loop type has it; diagnose sheet show {tag} tells
# what that is, diagnose check whether all is well.

"""


class AnswerError(DiagnoseError):
    """An answer that makes no sheet; names what was asked."""

    def __init__(self, field: str, reason: str) -> None:
        self.field, self.reason = field, reason
        super().__init__(f"{field}: {reason}" if field else reason)


def new_sheet(plant: Plant, answers: Mapping[str, str]) -> Path:
    """Write the sheet of a loop that has none.

    ``answers`` are by the fields of an instrument index (``tag``, ``type``, ``service``,
    ``range``, ``length`` …); ``tag`` and ``type`` have to be there.

    Raises
    ------
    UnknownNameError
        There is no such field or loop type.
    AnswerError
        An answer makes no sense, the sheet is there already, or it cannot be written.
    SheetError
        The sheet as a whole makes no loop.
    """
    tag, text = composed(plant, answers)
    path = plant.folder / "sheets" / f"{tag}.toml"
    if any(name.casefold() == tag.casefold() for name in plant.tags()):
        raise AnswerError("tag", f"{tag} has a sheet already; nothing was changed")
    try:
        path.parent.mkdir(exist_ok=True)
        write_new(path, text.encode())
    except OSError as error:
        raise AnswerError("", f"{path} cannot be written: {error.strerror or error}") from error
    return path


def composed(plant: Plant, answers: Mapping[str, str]) -> tuple[str, str]:
    """The tag and the text of a sheet, checked as every sheet is; nothing is written."""
    fields = [field.name for field in TABLES["index"]]
    for name in answers:
        if name not in fields:
            raise UnknownNameError("field of a sheet", name, fields)
    cells = {name: cleaned(text) for name, text in answers.items()}
    tag, loop_type = _tag(cells), cells.get("type", "")
    types = type_names(plant.folder / "models")
    if loop_type not in types:
        raise UnknownNameError("loop type", loop_type, types)
    try:
        wanted = want(cells, loop_type, EITHER, {}, _refuse)
    except RowError as error:
        raise AnswerError(error.field, error.reason) from error
    parts, nodes = names_of_type(loop_type, plant.folder)
    make_room(wanted, (*parts, *nodes), _refuse)
    text = _HEAD.format(tag=tag) + sheet_text(wanted)
    loop_of(tomllib.loads(text), plant.folder / "sheets" / f"{tag}.toml")
    return tag, text


def _tag(cells: Mapping[str, str]) -> str:
    tag = cells.get("tag", "")
    fault = name_fault(TAG, tag) or unsafe(tag)
    if fault:
        raise AnswerError("tag", fault)
    return tag


def _refuse(field: str, kind: str, text: str) -> None:
    """Somebody is there to put it right, so nothing is taken for it."""
    if kind not in (DEFAULT, READ_AS):
        raise AnswerError(field, text.partition("; the ")[0])
