"""``check``: whether sheets, loop types and plant files can be used, and what is wrong."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.errors import SheetError
from diagnose.library import models, type_names
from diagnose.loops.loop import Loop
from diagnose.loops.plant import PLANT_FILE, open_plant
from diagnose.loops.sheet import load_sheet, load_type
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.find_loop import plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, SCHEMA, Look, Outcome
from diagnose.terminal.wording import count, paragraph


@dataclass(frozen=True, slots=True)
class Problem:
    """One problem of a file: where it stands and a sentence."""

    file: str
    key: str
    text: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What became of one file: the tag or plant that it describes, or its problems."""

    file: str
    name: str | None
    problems: tuple[Problem, ...]
    size: str = ""


def check(arguments: Namespace) -> Outcome:
    """Every problem of the sheets and loop types named; without names, of the plant.

    The exit code is 1 where there is one.
    """
    named = [Path(name) for name in arguments.files] or [plant_of(arguments).folder]
    files = [path for name in named for path in (_of_folder(name) if name.is_dir() else (name,))]
    missing = [str(path) for path in files if not path.is_file()]
    if missing:
        raise UsageError("\n".join(f"there is no file '{name[:200]}'" for name in missing))
    found = [check_file(path) for path in files]
    bad = any(item.problems for item in found)
    data = {"schema": SCHEMA, "files": [_checked_json(item) for item in found]}
    return Outcome(data, lambda look: _check_lines(found, look), NEGATIVE if bad else DONE)


def _of_folder(folder: Path) -> list[Path]:
    """The plant file and the sheets of a plant folder, or the sheets that lie in any other."""
    plant = folder / PLANT_FILE
    sheets = sorted((folder / "sheets" if plant.is_file() else folder).glob("*.toml"))
    found = [plant, *sheets] if plant.is_file() else sheets
    if not found:
        raise UsageError(f"there is no sheet in the folder '{str(folder)[:200]}'")
    return found


def check_file(path: Path) -> Checked:
    """One file: its text and names first, then whether its circuit makes sense."""
    from diagnose.circuit.graph import CircuitError
    from diagnose.circuit.graph import check as check_circuit

    try:
        if path.name == PLANT_FILE:
            return Checked(str(path), open_plant(path.parent).name, ())
        loop = _load(path)
        check_circuit(loop)
    except SheetError as error:
        return Checked(str(path), None, tuple(Problem(*one) for one in error.problems))
    except CircuitError as error:
        reasons = (Problem(str(path), "circuit", reason) for reason in error.reasons)
        return Checked(str(path), None, tuple(reasons))
    size = f"{count(len(loop.parts), 'part')}, {count(len(loop.points), 'point')}"
    return Checked(str(path), loop.tag, (), size)


def _load(path: Path) -> Loop:
    shipped = path.resolve().parent == models().resolve() and path.stem in type_names()
    return load_type(path.stem) if shipped else load_sheet(path)


def _checked_json(item: Checked) -> dict[str, object]:
    problems = [{"file": one.file, "key": one.key, "problem": one.text} for one in item.problems]
    return {"file": item.file, "sound": not item.problems, "tag": item.name, "problems": problems}


def _check_lines(found: Sequence[Checked], look: Look) -> Iterator[str]:
    for item in found:
        if item.name is not None:
            text = ", ".join(filter(None, (item.name, item.size)))
            yield from paragraph(f"{item.file}: {text}", look, "sound    ")
        for one in item.problems:
            yield from paragraph(f"{one.file}: {one.key}: {one.text}", look, "problem  ")
    total = sum(len(item.problems) for item in found)
    yield f"{count(len(found), 'file')}, {count(total, 'problem') if total else 'no problem'}."
