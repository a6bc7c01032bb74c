"""``cases``: the cases of a plant; one of them to read, to pass on, to check."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.casework.case import Case
from diagnose.casework.checks import CaseError
from diagnose.casework.events import CONFIRMED, to_record
from diagnose.casework.log import CaseFile, case_files
from diagnose.casework.packs import located
from diagnose.casework.telling import cause_name, moment, percent, tell
from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.inference.ranking import Ranking
from diagnose.loops.names import shown
from diagnose.loops.plant import Plant
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.do_handover import export_html
from diagnose.terminal.do_pack import pack, unpack
from diagnose.terminal.find_loop import plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, SCHEMA, Look, Outcome
from diagnose.terminal.table import grid
from diagnose.terminal.wording import count, paragraph

Json = dict[str, Any]


def cases(arguments: Namespace) -> Outcome:
    """List the cases of a plant, show or export one, verify, pack or unpack those of a folder."""
    job = _JOBS.get(arguments.action)
    if job is None:
        raise UnknownNameError("job of cases", arguments.action, _JOBS)
    if arguments.markdown and arguments.action != "export":
        raise UsageError("--markdown belongs to: cases export CASE")
    if arguments.html and arguments.action != "export":
        raise UsageError("--html belongs to: cases export CASE")
    if arguments.html and arguments.markdown:
        raise UsageError("choose one of --html and --markdown")
    if arguments.markdown and arguments.json:
        raise UsageError("choose one of --json and --markdown")
    if arguments.html:
        return export_html(find_case(arguments.case, plant_of(arguments)), arguments.html)
    return job(arguments.case, plant_of(arguments))


# -- list ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Row:
    """One case in the list; ``problem`` says why its file cannot be used.

    ``damaged`` where a record of it is lost.
    """

    path: Path
    tag: str = ""
    opened: str = ""
    status: str = ""
    cause: str = ""
    warnings: tuple[str, ...] = ()
    problem: str = ""
    damaged: bool = False


def _list(folder: str | None, plant: Plant) -> Outcome:
    paths = _of_folder(Path(folder)) if folder else case_files(*plant.case_folders)
    rows = [_row(path) for path in paths]
    data = {"schema": SCHEMA, "folder": str(folder or plant.case_folder), "cases": []}
    data["cases"] = [_row_json(row) for row in rows]
    damaged = any(row.problem or row.damaged for row in rows)
    return Outcome(data, lambda look: _list_lines(rows, plant, look), NEGATIVE if damaged else DONE)


def _row(path: Path) -> Row:
    try:
        file = CaseFile.open(path, write=False)
    except CaseError as error:
        return Row(path, problem=str(error))
    case = file.case
    opened = moment(case.opened) if case.opened else ""
    warnings, damaged = tuple(file.warnings), bool(file.damage)
    return Row(path, case.tag, opened, case.status, _cause(case), warnings, damaged=damaged)


def _cause(case: Case) -> str:
    """The confirmed cause, or what leads the last ranking; the two never look alike."""
    if case.cause:
        return f"{cause_name(case.cause.part, case.cause.fault)}: confirmed"
    last = case.last_ranking
    if not last or not last.top:
        return "not ranked yet"
    part, fault, also, chance = last.top[0]
    if last.unexplained > chance:
        return f"none of the known faults: {percent(last.unexplained)}"
    name = cause_name(part, fault, also) if part else "loop sound"
    return f"{name}: suspected, {percent(chance)}"


def _row_json(row: Row) -> Json:
    if row.problem:
        return {"file": str(row.path), "problem": row.problem}
    told = {"tag": row.tag, "opened": row.opened, "status": row.status, "cause": row.cause}
    return {"file": str(row.path), **told, "warnings": list(row.warnings)}


def _list_lines(rows: Sequence[Row], plant: Plant, look: Look) -> Iterator[str]:
    if not rows:
        yield from paragraph(f"{plant.name} has no cases yet; troubleshoot opens one.", look)
        return
    usable = [row for row in rows if not row.problem]
    told = [("case", "tag", "opened", "status", "cause"), *map(_cells, usable)]
    if all(row.path.stem.startswith(row.tag) for row in usable):  # the name says it
        told = [(name, *rest) for name, _, *rest in told]
    yield from grid(told[0], told[1:], look)
    for row in rows:
        if row.problem:
            yield from paragraph(row.problem, look, "problem  ")
        for warning in row.warnings:
            yield from paragraph(f"{shown(row.path.stem)}: {warning}", look, "warning  ")
    unusable = len(rows) - len(usable)
    also = f", and {count(unusable, 'file')} that cannot be used" if unusable else ""
    yield f"{count(len(usable), 'case')}{also}."


def _cells(row: Row) -> tuple[str, ...]:
    """Name, tag, local time, ending, cause: what the ending says already is not said twice."""
    cause = row.cause.removesuffix(": confirmed")
    cause = cause if row.status == CONFIRMED else row.cause
    return shown(row.path.stem), row.tag, row.opened[:16], row.status, cause


# -- one case --------------------------------------------------------------------------------------


def find_case(name: str | None, plant: Plant) -> Path:
    """The file that a path, a name or a beginning of a name means; UsageError if not one does."""
    if name is None:
        raise UsageError("name a case; see: diagnose cases list")
    if path := located(Path(name)):
        return path
    known = {path.stem: path for path in case_files(*plant.case_folders)}
    wanted = name.casefold().removesuffix(".jsonl")
    found = [stem for stem in known if stem.casefold() == wanted]
    found = found or [stem for stem in known if stem.casefold().startswith(wanted)]
    if not found:
        raise UnknownNameError("case", name, known)
    if len(found) > 1:
        several = " or ".join(map(shown, found[:8]))
        raise UsageError(f"'{shown(name)}' can mean {several}: type more of it")
    return known[found[0]]


def _show(name: str | None, plant: Plant) -> Outcome:
    file = CaseFile.open(find_case(name, plant), write=False)
    return Outcome(case_json(file), lambda look: _show_lines(file, look))


def _show_lines(file: CaseFile, look: Look) -> Iterator[str]:
    case = file.case
    yield look.strong(f"{case.tag}: {case.status}")
    yield from paragraph(shown(file.path, 500), look)
    yield from paragraph(_cause(case), look, "cause: ")
    for item in case.open_items:
        yield from paragraph(look.warning(f"OPEN ITEM  {str(item).upper()}"), look)
    for warning in file.warnings:
        yield from paragraph(warning, look, "warning  ")
    yield ""
    rows = [
        (str(entry.number), moment(entry.at), entry.event.word, tell(entry.event))
        for entry in file.events
    ]
    yield from grid(("no.", "time", "event", "what"), rows, look, frozenset({0}))


def case_json(file: CaseFile) -> Json:
    """A case as one object: its state, and every record that counts."""
    case = file.case
    return {
        "schema": SCHEMA,
        "file": str(file.path),
        "tag": case.tag,
        "loop_type": case.loop_type,
        "status": case.status,
        "cause": _cause(case),
        "confirmed": [{"part": item.part, "fault": item.fault} for item in case.confirmed],
        "open_items": [{"item": item.item, "text": item.text} for item in case.open_items],
        "evidence": list(case.evidence),
        "minutes": case.minutes,
        "warnings": list(file.warnings),
        "records": [to_record(item.event, item.number, item.at) for item in file.events],
    }


def _export(name: str | None, plant: Plant) -> Outcome:
    from diagnose.casework.handover import handover

    file = CaseFile.open(find_case(name, plant), write=False)
    return Outcome(case_json(file), lambda _: handover(file.case, ranking_of(file)).splitlines())


def ranking_of(file: CaseFile) -> Ranking | None:
    """The ranking of a case's evidence now; None where the case cannot be ranked any more."""
    from diagnose.inference.engine import Engine
    from diagnose.inference.readings import parse_line

    try:
        engine = Engine(file.loop, file.meter, file.rates or None)
        said = [parse_line(line, file.loop) for line in file.case.evidence]
        return engine.rank(said)
    except DiagnoseError:
        return None


# -- verify ----------------------------------------------------------------------------------------


def _verify(name: str | None, plant: Plant) -> Outcome:
    from diagnose.casework.verify import Engines, verify

    engines: Engines = {}
    found = {path: verify(path, engines) for path in _to_verify(name, plant)}
    bad = any(found.values())
    data = {
        "schema": SCHEMA,
        "cases": [
            {"file": str(path), "equal": not problems, "problems": problems}
            for path, problems in found.items()
        ],
    }
    return Outcome(data, lambda look: _verify_lines(found, look), NEGATIVE if bad else DONE)


def _to_verify(name: str | None, plant: Plant) -> Sequence[Path]:
    if name is None:
        return case_files(*plant.case_folders)
    return _of_folder(Path(name)) if Path(name).is_dir() else [find_case(name, plant)]


def _of_folder(folder: Path) -> Sequence[Path]:
    """The cases in a folder, or in the ``cases`` of a plant folder."""
    if not folder.is_dir():
        raise UsageError(f"there is no folder '{shown(folder, 200)}'")
    paths = case_files(folder) or case_files(folder / "cases")
    if not paths:
        raise UsageError(f"there is no case in the folder '{shown(folder, 200)}'")
    return paths


def _verify_lines(found: Mapping[Path, Sequence[str]], look: Look) -> Iterator[str]:
    for path, problems in found.items():
        if not problems:
            yield from paragraph(shown(path.stem), look, "equal    ")
        for problem in problems:
            yield from paragraph(f"{shown(path.stem)}: {problem}", look, "differs  ")
    bad = sum(bool(problems) for problems in found.values())
    yield f"{count(len(found), 'case')}, {f'{bad} not as recorded' if bad else 'all as recorded'}."


_JOBS: Mapping[str, Callable[[str | None, Plant], Outcome]] = {
    "list": _list,
    "show": _show,
    "export": _export,
    "verify": _verify,
    "pack": pack,
    "unpack": lambda name, plant: unpack(name, plant, find_case),
}
