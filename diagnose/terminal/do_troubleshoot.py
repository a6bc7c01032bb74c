"""``troubleshoot``: the session with a technician; every line goes into a case."""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path
from time import time
from typing import TYPE_CHECKING, TextIO

from diagnose.casework.checks import CaseError, UnwritableError
from diagnose.casework.events import HANDED_OVER
from diagnose.casework.hunt import Hunt
from diagnose.casework.log import CaseFile, case_files
from diagnose.casework.packs import changed_at, located
from diagnose.errors import DiagnoseError
from diagnose.loops.plant import Plant
from diagnose.loops.site_rates import site_rates
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.as_json import Json, ranking_json
from diagnose.terminal.choose_loop import choose_loop
from diagnose.terminal.converse import listen
from diagnose.terminal.find_evidence import standing
from diagnose.terminal.find_loop import find_tag, meter_of, plant_of
from diagnose.terminal.outcome import DONE, SCHEMA, Outcome
from diagnose.terminal.screen import look
from diagnose.terminal.session import Session
from diagnose.terminal.session_input import PlainLines, prepare
from diagnose.terminal.session_talk import WITHOUT
from diagnose.terminal.wording import count

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine


def troubleshoot(arguments: Namespace) -> Outcome:
    """Open or resume a case and talk; with ``--json`` the talk goes to standard error."""
    listen()
    prepare()
    out = sys.stderr if arguments.json else sys.stdout
    file, new, place = _case(arguments, out)
    with file:
        hunt = Hunt(file, file.loop, lambda: _engine(file), place)
        if arguments.place:
            hunt.stand(place)
        for warning in file.warnings:
            print(f"Case file: {warning}.", file=out)
        Session(hunt, look(), new).run(arguments.plain, out)
        data = _json(hunt) if arguments.json else {}
    return Outcome(data, lambda _: (), DONE)


def _engine(file: CaseFile) -> Engine:
    # The engine is imported late: the first question is asked at once.
    from diagnose.inference.engine import Engine

    return Engine(file.loop, file.meter, file.rates or None)


def _json(hunt: Hunt) -> Json:
    """What a script wants to know of the session."""
    from diagnose.inference.cautions import CAUTIONS

    case = hunt.case
    cautions = {key: caution.text for key, caution in CAUTIONS.items()}
    return {
        "schema": SCHEMA,
        "tag": case.tag,
        "case": str(hunt.file.path),
        "status": case.status,
        "evidence": list(case.evidence),
        "open_items": [str(item) for item in case.open_items],
        "ranking": ranking_json(hunt.believed(), cautions),
    }


# -- which case -----------------------------------------------------------------------------------


def _case(arguments: Namespace, out: TextIO) -> tuple[CaseFile, bool, str]:
    """The case to work on, open for writing; whether it is new; where the technician stands.

    Every word is looked at before a case is opened, so that a wrong one leaves none behind.
    """
    plant = plant_of(arguments)
    if arguments.resume is not None:
        return _resumed(_named(arguments.resume, plant), arguments)
    loop = choose_loop(" ".join(arguments.loop), plant, out)
    open_ones = [] if arguments.new else _open_cases(plant, loop.tag)
    if open_ones and _wanted(open_ones, loop.tag, out):
        return _resumed(open_ones[0], arguments)
    meter, place = meter_of(plant, arguments.meter), standing(arguments.place, loop)
    site = site_rates(plant.folder)
    try:
        file = CaseFile.create(plant.case_folder, site.applied(loop), meter, site.of(loop))
    except UnwritableError as error:
        raise CaseError(f"{error}; {WITHOUT.format(tag=loop.tag)}") from error
    return file, True, place


def _resumed(path: Path, arguments: Namespace) -> tuple[CaseFile, bool, str]:
    file = CaseFile.open(path)
    try:
        return file, False, standing(arguments.place, file.loop)
    except DiagnoseError:
        file.close()
        raise


def _named(word: str, plant: Plant) -> Path:
    """The file of a case: by path, by name, or the latest open one of a tag."""
    if path := located(Path(word)):
        return path
    files = case_files(*plant.case_folders)
    found = [
        path for path in files if word.casefold() in (path.name.casefold(), path.stem.casefold())
    ]
    found = found or _open_cases(plant, find_tag(word, plant, begun=False) or word)
    if not found:
        known = ", ".join(path.stem for path in files[-5:]) or "none yet"
        raise CaseError(f"there is no case '{word[:80]}'; cases: {known}")
    return found[0]


def _open_cases(plant: Plant, tag: str) -> list[Path]:
    """Cases of a tag that can be gone on with, the latest first; unreadable ones are no choice."""
    found = [
        path
        for path in case_files(*plant.case_folders)
        if path.name.casefold().startswith(f"{tag.casefold()}_") and _goes_on(path)
    ]
    return sorted(found, key=changed_at, reverse=True)


def _goes_on(path: Path) -> bool:
    try:
        case = CaseFile.open(path, write=False).case
    except CaseError:
        return False
    return case.is_open or case.ending == HANDED_OVER


OLD = 7 * 24 * 3600.0
"""Seconds after which a case that was handed over is no longer what a new call is about
(assumption): whoever took it over has gone on with it by then, or on paper."""

_GOES_ON = "Enter goes on with it, n opens a new one"

_ANSWERS = {"y": True, "yes": True, "n": False, "no": False, "new": False}


def _wanted(paths: list[Path], tag: str, out: TextIO) -> bool:
    """Ask whether to go on with the first of the open cases; UsageError if neither is wanted."""
    case = CaseFile.open(paths[0], write=False).case
    many = count(len(case.in_force), "reading")
    print(f"{tag} has a case that is {case.status}: {paths[0].stem}, {many}.", file=out)
    if case.open_items:  # whoever takes over must know of them, whichever case is gone on with
        items = "; ".join(map(str, case.open_items))
        print(f"Altered and not yet put back: {items}.", file=out)
    if others := [path.stem for path in paths[1:]]:
        named = ", ".join(others[:3]) + " ..." * (len(others) > 3)
        print(f"So are, by --resume: {named}.", file=out)
    old = case.ending == HANDED_OVER and time() - changed_at(paths[0]) > OLD
    usual = "Enter opens a new one, y goes on with it" if old else _GOES_ON
    answers = {**_ANSWERS, "": not old}
    while True:
        try:
            line = PlainLines(out).ask(f"{usual}, quit leaves: ")
        except EOFError:
            line = "quit"  # the end of the input is nobody's answer
        word = line.strip().casefold()
        if word in ("quit", "q", "exit"):
            raise UsageError(f"left, and no case was opened or changed: {tag}")
        if word in answers:
            return answers[word]
