"""``check``: whether sheets, loop types, plants and cases can be used, and what is amiss."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

from diagnose.casework.packs import located
from diagnose.errors import QuantityError, did_you_mean
from diagnose.inference.checking import Checked, Wanted
from diagnose.library import demo_plant, models
from diagnose.loops.across import across
from diagnose.loops.findings import LEVELS, NOTE, PROBLEM, WARNING, Finding
from diagnose.loops.names import shown
from diagnose.loops.plant import PLANT_FILE
from diagnose.quantities import parse_quantity
from diagnose.terminal.arguments import UsageError, whole
from diagnose.terminal.check_files import check_files, files_of
from diagnose.terminal.find_loop import find_tag, plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, SCHEMA, Look, Outcome
from diagnose.terminal.progress import progress
from diagnose.terminal.render_groups import group_lines
from diagnose.terminal.wording import count, paragraph

NO_TAG = ", and no tag or type is like it; see: diagnose loops"

MANY = 40
"""Files from which on only those are listed where something is amiss."""


def check(arguments: Namespace) -> Outcome:
    """Everything that is amiss with the files named; without names, of the plant.

    The exit code is 1 where there is a problem; with ``--strict`` also where there is a warning.
    """
    named = [_named(word, arguments) for word in arguments.files]
    named = named or [plant_of(arguments).folder]
    files, wanted = files_of(named), _wanted(arguments)
    done = check_files(files, wanted, _workers(arguments.workers))
    found = list(progress(done, len(files), "files"))
    order = {str(path): number for number, path in enumerate(files)}
    found.sort(key=lambda item: order[item.file])
    # A sheet alone cannot be held against others.
    plants = [path.parent for path in files if path.name == PLANT_FILE]
    sheets = [item for item in found if Path(item.file).parent.name == "sheets"]
    briefs = [item.brief for item in sheets if item.brief]
    between = across(briefs, str(plants[0])) if plants else ()
    told = [*(one for item in found for one in item.findings), *between]
    bad = {PROBLEM, WARNING} if arguments.strict else {PROBLEM}
    notes = arguments.notes or len(files) == 1
    return Outcome(
        {"schema": SCHEMA, "files": list(map(_json, found)), "between": _findings(between)},
        lambda look: _lines(found, told, notes, look),
        NEGATIVE if any(one.level in bad for one in told) else DONE,
    )


def _named(word: str, arguments: Namespace) -> Path:
    """A file or folder; where there is none, the sheet of a tag, or the file of a loop type."""
    path = Path(word)
    if not path.exists() and not path.suffix and path.name == word:
        plant = plant_of(arguments)
        tag = find_tag(word, plant, begun=False)
        if tag:
            return plant.folder / "sheets" / f"{tag}.toml"
        folders = (models(), plant.folder / "models")
        types = {file.stem: file for folder in folders for file in folder.glob("*.toml")}
        if word in types:
            return types[word]
        if not located(path):
            near = did_you_mean(word, (*plant.tags(), *types)) or NO_TAG
            raise UsageError(f"there is no file '{shown(word, 200)}'{near}")
    return path


def _short(file: str) -> str:
    """A path as seen from here; of the demo plant or a loop type as seen from its folder."""
    for base in (Path.cwd(), demo_plant(), models().parent):
        if Path(file).is_relative_to(base):
            return str(Path(file).relative_to(base))
    return file


def _wanted(arguments: Namespace) -> Wanted:
    try:
        warm = parse_quantity(arguments.cables, "degC")
    except QuantityError as error:
        raise UsageError(f"--cables: {error}") from error
    if not -60 <= warm <= 200:
        raise UsageError(f"--cables: '{arguments.cables[:20]}' is not between -60 and 200 degC")
    return Wanted(warm, arguments.groups)


def _workers(text: str | None) -> int:
    if text is None:
        return os.cpu_count() or 1
    return whole("--workers", text, 1, 256)


def _json(item: Checked) -> dict[str, object]:
    """One file; ``problems`` keep their own list, as scripts that only ask for them know it."""
    problems = [
        {"file": one.file, "key": one.key, "problem": one.text}
        for one in item.findings
        if one.level == PROBLEM
    ]
    others = [one for one in item.findings if one.level != PROBLEM]
    return {
        "file": item.file,
        "sound": item.sound,
        "tag": item.name,
        "problems": problems,
        "findings": _findings(others),
        "budgets": [{**asdict(one), "holds": one.holds, "room": one.room} for one in item.budgets],
        "groups": [asdict(one) for one in item.groups],
        "entity_sums": [{**asdict(one), "holds": one.holds} for one in item.sums],
    }


def _findings(found: Sequence[Finding]) -> list[dict[str, str]]:
    return [asdict(one) for one in found]


def _lines(
    found: Sequence[Checked], told: Sequence[Finding], notes: bool, look: Look
) -> Iterator[str]:
    for item in found:
        if item.name is not None and item.sound and len(found) <= MANY:
            size = [count(item.parts, "part"), count(item.points, "point")] if item.parts else []
            yield from paragraph(
                f"{_short(item.file)}: {', '.join([item.name, *size])}", look, "sound    "
            )
        yield from _told(item.findings, notes, look)
        yield from group_lines(item, _short(item.file), look)
    own = {id(one) for item in found for one in item.findings}
    yield from _told([one for one in told if id(one) not in own], notes, look)
    number = {level: sum(one.level == level for one in told) for level in LEVELS}
    more = [count(number[WARNING], "warning")] if number[WARNING] else []
    if number[NOTE] and not notes:
        more.append(f"{count(number[NOTE], 'note')} (--notes shows them)")
    problems = count(number[PROBLEM], "problem") if number[PROBLEM] else "no problem"
    yield f"{count(len(found), 'file')}, {', '.join([problems, *more])}."


def _told(found: Sequence[Finding], notes: bool, look: Look) -> Iterator[str]:
    for one in found:
        if one.level != NOTE or notes:
            text = f"{_short(one.file)}: {one.key}: {one.text}"
            yield from paragraph(text, look, f"{one.level:<9}")
