"""A plant folder: ``plant.toml``, loop sheets in ``sheets/``, hunts in ``cases/``."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from diagnose.errors import SheetError, UnknownNameError
from diagnose.library import demo_plant
from diagnose.loops.in_service import in_service
from diagnose.loops.loop import Loop
from diagnose.loops.names import PLACE, TAG, name_fault, shown
from diagnose.loops.sheet import load_sheet
from diagnose.loops.sheet_text import Problems, Table, read_table
from diagnose.loops.values import quantity

PLANT_FILE = "plant.toml"
FUNCTIONS = ("V", "Vlow", "VAC", "mA", "clamp", "ohm")


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Limit of error of one function of a meter: a share of the reading plus counts."""

    share: float
    counts: int


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter of the shop with the functions that it has."""

    name: str
    title: str
    functions: Mapping[str, Accuracy] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Plant:
    """A plant: its name, its folder, the meters that its people carry.

    ``in_service`` tells the first day of a tag in service, and its last (None while it goes on);
    the key ``all`` stands for every tag that is not named.
    """

    name: str
    folder: Path
    unit: str = ""
    meters: Mapping[str, Meter] = field(default_factory=dict)
    in_service: Mapping[str, tuple[date, date | None]] = field(default_factory=dict)

    def tags(self) -> tuple[str, ...]:
        """The tags that have a sheet, sorted."""
        return tuple(sorted(self.sheets()))

    def sheet(self, tag: str) -> Path | None:
        """The file of a tag typed just as it is written; None if there is none.

        It is looked for by its name: a plant of thousands of sheets is not listed for one.
        """
        path = self.folder / "sheets" / f"{tag}.toml"
        return path if not name_fault(TAG, tag) and path.is_file() else None

    def load(self, tag: str) -> Loop:
        """The loop of a tag, in whatever capitals it is typed.

        Raises
        ------
        UnknownNameError
            The plant has no such sheet.
        SheetError
            The sheet has problems, or belongs to another tag.
        """
        path = self.sheet(tag)
        if path is None:
            sheets = self.sheets()
            known = {name.casefold(): name for name in sheets}
            if name_fault(TAG, tag) or tag.casefold() not in known:
                raise UnknownNameError("loop", tag, sheets)
            path = sheets[known[tag.casefold()]]
        loop = load_sheet(path)
        if loop.tag.casefold() != tag.casefold():
            sentence = f"'{loop.tag}' stands here; name the file after its tag, {loop.tag}.toml"
            raise SheetError([(str(path), "loop: tag", sentence)])
        return loop

    @property
    def is_demo(self) -> bool:
        """Whether this is the shipped plant, whose folder is read-only."""
        return self.folder.resolve() == demo_plant().resolve()

    @property
    def case_folder(self) -> Path:
        """Where new cases are written; the demo plant has its own in the user's data folder."""
        if not self.is_demo:
            return self.folder / "cases"
        from platformdirs import user_data_path

        return user_data_path("diagnose", appauthor=False) / self.folder.name / "cases"

    @property
    def case_folders(self) -> tuple[Path, ...]:
        """All folders that may hold cases of this plant; they need not exist."""
        return tuple(dict.fromkeys((self.folder / "cases", self.case_folder)))

    def sheets(self) -> dict[str, Path]:
        """The file of each tag, in the order of the names; a name that is no tag is left out."""
        folder = self.folder / "sheets"
        try:
            names = sorted(os.listdir(folder))
        except OSError:
            return {}
        stems = (name.removesuffix(".toml") for name in names if name.endswith(".toml"))
        return {stem: folder / f"{stem}.toml" for stem in stems if not name_fault(TAG, stem)}


def open_plant(folder: Path | str | None = None) -> Plant:
    """The plant in a folder; without one, in the current folder, else the demo plant.

    Raises
    ------
    SheetError
        The folder is no plant folder, or its plant.toml has problems.
    """
    if folder is None:
        here = Path.cwd()
        folder = here if (here / PLANT_FILE).is_file() else demo_plant()
    folder = Path(folder)
    path = folder / PLANT_FILE
    if not path.is_file():
        sentence = f"there is no {PLANT_FILE} in it; name a plant folder"
        raise SheetError([(shown(folder, 200), "folder", sentence)])
    return _plant(folder, path)


def _plant(folder: Path, path: Path) -> Plant:
    problems = Problems(str(path))
    top = Table(problems, "", read_table(path))
    top.only(("plant", "meter", "in-service"))
    plant = Table(problems, "plant", _table(top, "plant"))
    plant.only(("name", "unit"))
    name = plant.text("name", example="Larkmere resin works")
    fault = name_fault(PLACE, name) if name else ""
    if fault:
        plant.note("name", fault)
    meters = {
        key: _meter(problems, key, Table(problems, f"meter {shown(key)}", value))
        for key, value in _tables(Table(problems, "meter", _table(top, "meter"))).items()
    }
    served = in_service(Table(problems, "in-service", _table(top, "in-service")))
    found = Plant(name, folder, plant.text("unit", ""), meters, served)
    problems.check()
    return found


def _table(table: Table, key: str) -> dict[str, object]:
    value = table.raw.get(key, {})
    if isinstance(value, dict):
        return value
    table.note(key, f"a table belongs here; write it as [{key}]")
    return {}


def _tables(table: Table) -> dict[str, dict[str, object]]:
    return {key: _table(table, key) for key in table.raw}


def _meter(problems: Problems, name: str, table: Table) -> Meter:
    fault = name_fault(PLACE, name)
    if fault:
        table.note("name", fault)
    table.only(("title", *FUNCTIONS))
    functions = {}
    for function in FUNCTIONS:
        if function in table.raw:
            where = f"{table.where}: {function}"
            functions[function] = _accuracy(Table(problems, where, _table(table, function)))
    return Meter(name, table.text("title", name), functions)


def _accuracy(table: Table) -> Accuracy:
    table.only(("percent", "counts"))
    share = quantity(table, "percent", table.text("percent", example="0.1 %"), "1")
    if share is not None and not 0 < share < 1:
        table.note("percent", "it is more than 0 % and less than 100 %")
    counts = table.number("counts", 2, 10_000, "2")
    return Accuracy(share or 0.0, int(counts))
