"""Which files ``check`` looks at, and who checks each: sheets in parallel, the rest at once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from concurrent.futures import as_completed
from pathlib import Path

from diagnose.casework.checks import CaseError
from diagnose.casework.log import case_files
from diagnose.casework.packs import PACK, SUFFIX, located
from diagnose.casework.reader import read_case
from diagnose.errors import SheetError
from diagnose.inference.checking import Checked, Wanted, check_sheet, check_some, refused
from diagnose.loops.findings import PROBLEM, WARNING, Finding
from diagnose.loops.plant import PLANT_FILE, open_plant
from diagnose.loops.record import loop_from_record
from diagnose.terminal.arguments import UsageError
from diagnose.training.lessons import FILE as LESSON_FILE
from diagnose.training.lessons import FOLDER as LESSONS
from diagnose.training.lessons import check, read_lessons
from diagnose.training.trials import executor

FEW = 6
"""Sheets that are not worth starting further processes for."""

_TOGETHER = 20
"""Sheets that one process is given at a time."""

_LOOKED_AT = 100_000
"""Bytes at the beginning of a file that are looked at for what it is."""


def files_of(named: Sequence[Path]) -> list[Path]:
    """Files as named; of a plant folder its plant file, types, sheets, lessons and cases.

    Raises UsageError for what is not there, or holds nothing that can be checked.
    """
    files = [path for name in named for path in (_of_folder(name) if name.is_dir() else (name,))]
    missing = [str(path) for path in files if not located(path)]
    if missing:
        raise UsageError("\n".join(f"there is no file '{name[:200]}'" for name in missing))
    return list(dict.fromkeys(files))


def _of_folder(folder: Path) -> list[Path]:
    plant = folder / PLANT_FILE
    if plant.is_file():
        rooms = (
            ("models", "*.toml"), ("sheets", "*.toml"), (LESSONS, "*.toml"),
        )  # fmt: skip
        found = [path for room, form in rooms for path in _within(folder / room, form)]
        return [plant, *found, *case_files(folder / "cases")]
    found = [*_within(folder, "*.toml"), *case_files(folder)]
    if not found:
        raise UsageError(f"there is no sheet in the folder '{str(folder)[:200]}'")
    return found


def _within(folder: Path, form: str) -> list[Path]:
    return sorted(folder.glob(form))


def check_files(files: Sequence[Path], wanted: Wanted, workers: int) -> Iterator[Checked]:
    """What became of each file, in the order in which they are done."""
    sheets = []
    for path in files:
        if path.name == PLANT_FILE:
            yield _plant(path)
        elif path.suffix in (SUFFIX, PACK):
            yield _case(path)
        elif path.name == LESSON_FILE or _sets_drills(path):
            yield _lessons(path)
        else:
            sheets.append(path)
    if len(sheets) < FEW or workers == 1:
        yield from (check_sheet(path, wanted) for path in sheets)
        return
    some = [sheets[n : n + _TOGETHER] for n in range(0, len(sheets), _TOGETHER)]
    with executor(min(workers, len(some))) as pool:
        for future in as_completed(pool.submit(check_some, each, wanted) for each in some):
            yield from future.result()


_DRILL = re.compile(rb"^[ \t]*\[\[[ \t]*drill[ \t]*\]\]", re.MULTILINE)


def _sets_drills(path: Path) -> bool:
    """Whether a file holds drills, whatever it is called: no sheet does."""
    try:
        with path.open("rb") as file:
            return _DRILL.search(file.read(_LOOKED_AT)) is not None
    except OSError:
        return False  # told where it is read


def _plant(path: Path) -> Checked:
    try:
        return Checked(str(path), open_plant(path.parent).name, ())
    except SheetError as error:
        return refused(str(path), error)


def _lessons(path: Path) -> Checked:
    """A lesson file, and every drill of it on its loop where it lies in a plant."""
    plant = path.parent.parent
    try:
        found = read_lessons(path)
        check(found, open_plant(plant if (plant / PLANT_FILE).is_file() else None))
    except SheetError as error:
        return refused(str(path), error)
    return Checked(str(path), found.title, ())


def _case(path: Path) -> Checked:
    """A case: what is lost of it is a problem, what is odd a warning."""
    file = str(path)
    try:
        read = read_case(path)
        loop_from_record(read.case.sheet or {})
    except CaseError as error:
        text = str(error).removeprefix(f"{file}: ").removeprefix(f"{file} ")
        return Checked(file, None, (Finding(PROBLEM, file, "case", text),))
    except SheetError as error:
        found = (Finding(PROBLEM, file, key, text) for _, key, text in error.problems)
        return Checked(file, None, tuple(found))
    odd = [text for text in read.warnings if text not in read.damage]
    findings = [Finding(PROBLEM, file, "case", text) for text in read.damage]
    findings += [Finding(WARNING, file, "case", text) for text in odd]
    return Checked(file, read.case.tag if not read.damage else None, tuple(findings))
