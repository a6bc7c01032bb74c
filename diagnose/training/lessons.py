"""The trainer's desk: a file of lessons, which drills it sets in which order, who passes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.errors import DiagnoseError, SheetError, UnknownNameError, did_you_mean
from diagnose.inference.complaints import complaints
from diagnose.inference.fault_text import find_fault
from diagnose.inference.measurement import contexts_of
from diagnose.loops.loop import Loop
from diagnose.loops.plant import Plant
from diagnose.loops.sheet import load_sheet, load_type
from diagnose.loops.sheet_text import Problems, Table, kind_of, read_table
from diagnose.quantities import parse_quantity, whole_number
from diagnose.training.handout import PACKED, opened
from diagnose.training.setting import MINUTES, DrillError, Setting

FOLDER, FILE = "lessons", "lessons.toml"
"""Where the lessons of a plant lie in its folder."""

ORDERS = ("fixed", "any")

TOP_KEYS = ("title", "order", "visible", "pass", "minutes", "difficulty")
DRILL_KEYS = (
    "name", "loop", "sheet", "title", "story", "faults", "draw", "seed", "difficulty",
    "intermittent", "minutes", "visible", "process", "complaint", "context", "lead", "fuse",
    "pass",
)  # fmt: skip


@dataclass(frozen=True)
class Lessons:
    """A lesson file: its drills in their order; ``order`` says whether it must be kept.

    ``packed``: it was handed out, and the names and titles of its drills are not to be told.
    """

    title: str
    order: str
    drills: tuple[Setting, ...]
    path: Path
    packed: bool = False

    def drill(self, name: str) -> Setting:
        """The drill of a name, or of its number from 1 on."""
        number = whole_number(name, 1, len(self.drills))
        if number:
            return self.drills[number - 1]
        if self.packed:
            raise DrillError(
                f"'{name[:40]}' is no lesson; they go by number, 1 to {len(self.drills)}"
            )
        for setting in self.drills:
            if setting.name.casefold() == name.casefold():
                return setting
        names = [setting.name for setting in self.drills]
        near = did_you_mean(name, names)
        near = near if near[-1:] == "?" else ""
        told = f"lessons 1 to {len(names)} are {', '.join(names)}"
        raise UnknownNameError("lesson", name, names if near else (), told)

    def before(self, setting: Setting) -> Setting | None:
        """The drill that must be closed before one, where the order is fixed."""
        place = self.drills.index(setting)
        return self.drills[place - 1] if self.order == "fixed" and place else None

    def loop(self, setting: Setting, plant: Plant) -> Loop:
        """The loop of a drill: a sheet beside the lesson file, a tag, or a loop type."""
        if setting.loop.endswith(".toml"):
            return load_sheet(self.path.parent / setting.loop)
        return plant.load(setting.loop) if setting.loop in plant.tags() else load_type(setting.loop)


def lesson_file(plant: Plant, word: str | None = None) -> Path:
    """The lesson file that a word names, or that of the plant."""
    path = Path(word) if word else plant.folder / FOLDER / FILE
    if path.is_dir():
        path = path / FILE
    if not path.is_file():
        raise DrillError(f"there is no lesson file '{str(path)[:200]}'")
    return path


def read_lessons(path: Path) -> Lessons:
    """The lessons of a file; SheetError with every problem, each with its key and cure."""
    problems = Problems(str(path))
    top = Table(problems, "", read_table(path))
    top.only(("class", "drill"))
    given = top.raw.get("class", {})
    if not isinstance(given, dict):
        top.note("class", f"{kind_of(given)} stands here; begin it with [class]")
        given = {}
    head = Table(problems, "class", given)
    head.only(TOP_KEYS)
    rows = top.raw.get("drill", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows) or not rows:
        top.note("drill", "at least one drill belongs here; begin it with [[drill]]")
        rows = []
    drills: list[Setting] = []
    for number, row in enumerate(rows, 1):
        name = row.get("name") if isinstance(row.get("name"), str) else number
        drills += _drill(_opened(problems, f"drill {name}", row), head)
    names = [setting.name for setting in drills]
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        top.note("drill", f"two drills are called {name}; give each a name of its own")
    order = head.text("order", "any")
    if order not in ORDERS:
        head.note("order", f"it is one of {', '.join(ORDERS)}")
    away = any(PACKED in row for row in rows)
    found = Lessons(head.text("title", path.parent.name), order, tuple(drills), path, away)
    problems.check()
    return found


def check(lessons: Lessons, plant: Plant) -> None:
    """Look at every drill on its loop; SheetError with each that cannot be set there."""
    wrong: list[tuple[str, str, str]] = []
    for number, setting in enumerate(lessons.drills, 1):
        where = f"drill {number if lessons.packed else setting.name}"
        try:
            loop = lessons.loop(setting, plant)
            for text in setting.faults:
                find_fault(text, loop)
            said = complaints(loop)
            if setting.complaint and setting.complaint not in said:
                raise DrillError(f"complaint: write one of {', '.join(said)}")
            for fact in setting.contexts:
                if fact not in contexts_of(loop):
                    raise DrillError(f"context: write one of {', '.join(contexts_of(loop))}")
        except DiagnoseError as error:
            wrong.append((str(lessons.path), where, str(error)))
    if wrong:
        raise SheetError(wrong)


def _opened(problems: Problems, where: str, row: Mapping[str, Any]) -> Table:
    """A drill with what is packed of it in its place."""
    try:
        return Table(problems, where, opened(row))
    except ValueError as error:
        problems.add(f"{where}: {PACKED}", str(error))
        return Table(problems, where, {key: row[key] for key in row if key != PACKED})


def _drill(table: Table, head: Table) -> Iterator[Setting]:
    """The setting of one [[drill]]; nothing where it has a problem."""
    table.only(DRILL_KEYS)
    before = len(table.problems.found)
    visible = table.text("visible", head.text("visible", "request"))
    values = {
        "name": table.text("name", example="moisture"),
        "loop": _loop(table),
        "title": table.text("title", ""),
        "story": table.text("story", ""),
        "faults": table.texts("faults", '["R1:drift=310 ohm"]'),
        "draw": table.text("draw", "one"),
        "seed": _whole(table, "seed", 1, 2**31 - 1),
        "difficulty": _whole(table, "difficulty", _whole(head, "difficulty", 2, 3), 3),
        "intermittent": table.flag("intermittent", False),
        "minutes": table.number("minutes", _of(head, "minutes", MINUTES, 10_000), 10_000, "240"),
        "visible": visible,
        "process": _process(table),
        "complaint": table.text("complaint", ""),
        "contexts": table.texts("context", '["rain"]'),
        "lead": table.text("lead", "V"),
        "fuse": table.text("fuse", "whole"),
        "pass_mark": table.number("pass", _of(head, "pass", 60.0, 100), 100, "60"),
        "lesson": head.text("title", ""),
    }
    if table.raw.get("draw") == "none" and values["faults"]:
        table.note("draw", "where faults are set none is drawn; leave one of the two out")
    try:
        setting = Setting(**values)  # type: ignore[arg-type]
    except DrillError as error:
        key, _, sentence = str(error).partition(": ")
        table.note("visible" if key == "advice" else key, sentence)
    if len(table.problems.found) == before:
        yield setting


def _of(head: Table, key: str, usual: float, most: float) -> float:
    return head.number(key, usual, most, f"{usual:g}")


def _whole(table: Table, key: str, usual: int, most: int) -> int:
    value = table.number(key, usual, most, f"{usual}")
    if value != int(value):
        table.note(key, f"{value:g} is no whole number; write {key} = {usual}")
    return int(value)


def _loop(table: Table) -> str:
    """The loop of a drill; a sheet lies beside the lesson file, nowhere else."""
    if "sheet" not in table.raw:
        return table.text("loop", example="LT-214")
    if "loop" in table.raw:
        table.note("sheet", "a loop is named too; leave one of the two out")
    name = table.text("sheet", example="floating.toml")
    if not name.endswith(".toml") or Path(name).name != name or "\\" in name:
        table.note("sheet", "name a .toml file that lies beside this one, without a folder")
    return name


def _process(table: Table) -> float | None:
    if "process" not in table.raw:
        return None
    try:
        return parse_quantity(table.text("process", example="45 %"), "1", default_prefix="%")
    except DiagnoseError as error:
        table.note("process", str(error))
        return None
