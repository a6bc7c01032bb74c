"""``cases pack`` and ``cases unpack``: closed cases, a month in one file, and back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from diagnose.casework.log import local_time
from diagnose.casework.packing import Packed, pack_folder, unpack_folder, unpack_one
from diagnose.casework.packs import in_pack
from diagnose.loops.names import shown
from diagnose.loops.plant import Plant
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.wording import count, paragraph

Find = Callable[[str | None, Plant], Path]


def pack(name: str | None, plant: Plant) -> Outcome:
    """Pack the closed cases of a folder: all months that are over."""
    folder = _folder(name, plant)
    done = pack_folder(folder, local_time().date())
    data = {
        "schema": SCHEMA,
        "folder": str(folder),
        "packs": [{"file": str(path), "cases": cases} for path, cases in done.packs.items()],
        "packed": done.taken,
        "this_month": done.later,
        "left": [{"file": str(path), "reason": text} for path, text in done.kept.items()],
    }
    return Outcome(data, lambda look: _lines(done, look))


def _lines(done: Packed, look: Look) -> Iterator[str]:
    for path, cases in done.packs.items():
        yield from paragraph(f"{path.name}: {count(cases, 'case')}", look, "written  ")
    for path, reason in done.kept.items():
        yield from paragraph(f"{shown(path.stem)}: {reason}", look, "left     ")
    if done.later:
        told = f"{count(done.later, 'closed case')} of this month, until it is over"
        yield from paragraph(told, look, "left     ")
    yield f"{count(done.taken, 'case')} packed, {len(done.kept) + done.later} left in own files."


def unpack(name: str | None, plant: Plant, find: Find) -> Outcome:
    """Bring one case, or all of a folder, back into files of their own."""
    if name is not None and not Path(name).is_dir():
        path = find(name, plant)
        if not in_pack(path):
            raise UsageError(f"{shown(path.stem)} is not packed: it has a file of its own")
        target = unpack_one(path)
        return Outcome(
            {"schema": SCHEMA, "folder": str(target.parent), "unpacked": 1},
            lambda look: paragraph(f"Written: {target}", look),
        )
    folder = _folder(name, plant)
    number = unpack_folder(folder)
    return Outcome(
        {"schema": SCHEMA, "folder": str(folder), "unpacked": number},
        lambda _: [f"{count(number, 'case')} unpacked."],
    )


def _folder(name: str | None, plant: Plant) -> Path:
    """The folder of cases that is meant: of a plant folder, its ``cases``."""
    folder = Path(name) if name is not None else plant.case_folder
    if not folder.is_dir():
        raise UsageError(f"there is no folder '{shown(folder, 200)}'")
    inner = folder / "cases"
    return inner if inner.is_dir() else folder
