"""``drill``, ``replay`` and ``debrief``: a hunt on a simulated loop, and what it taught."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from diagnose.inference.engine import Engine
from diagnose.inference.meters import GENERIC, Meter
from diagnose.library import write_whole
from diagnose.loops.loop import Loop
from diagnose.loops.names import shown
from diagnose.loops.plant import Plant
from diagnose.loops.site_rates import site_rates
from diagnose.terminal.arguments import UsageError, whole
from diagnose.terminal.converse import converse, listen
from diagnose.terminal.drill_view import DrillView
from diagnose.terminal.find_changes import at
from diagnose.terminal.find_loop import find_loop, meter_of, plant_of
from diagnose.terminal.outcome import DONE, SCHEMA, Look, Outcome
from diagnose.terminal.screen import look
from diagnose.terminal.session_input import prepare
from diagnose.terminal.wording import count, minutes, paragraph, percent
from diagnose.training.debrief import Debrief, debrief_of
from diagnose.training.debrief_words import page, result_lines
from diagnose.training.drill import Drill
from diagnose.training.lessons import lesson_file, read_lessons
from diagnose.training.pages import PAGE, html, markdown
from diagnose.training.record import SUFFIX, Recorder, checked, closed, played, read
from diagnose.training.replays import compared, setting_of
from diagnose.training.setting import Setting

MOST = 999_999_999
"""Largest whole number that is taken; what makes sense of it the setting says."""


def drill(arguments: Namespace) -> Outcome:
    """Hunt a hidden fault with the virtual meter; score and debrief at the end."""
    listen()
    plant = plant_of(arguments)
    if arguments.resume:
        kept = read(_file_of(arguments.resume, arguments))
        made = played(kept)
        if made.closed:
            told = shown(kept.path, 200)
            raise UsageError(f"{told} is closed already; diagnose debrief {told} tells it again")
        recorder = Recorder(made, kept.path, kept.seal)
        return _talk(recorder, kept.trainee, arguments)
    setting, loop = _setting(arguments, plant)
    return _started(setting, loop, meter_of(plant), plant, arguments)


def _started(
    setting: Setting, loop: Loop, meter: Meter, plant: Plant, arguments: Namespace
) -> Outcome:
    trainee = checked(arguments.trainee or "")
    _busy("Setting up the loop ...")
    site = site_rates(plant.folder)
    made = Drill(setting, Engine(site.applied(loop), meter, site.of(loop) or None), meter)
    recorder = Recorder.create(folder_of(plant, arguments.keep), made, trainee, meter)
    return _talk(recorder, trainee, arguments)


def _busy(words: str) -> None:
    """What takes some seconds, told to whoever sits before a terminal."""
    if sys.stderr.isatty():
        print(words, file=sys.stderr, flush=True)


def folder_of(plant: Plant, word: str | None) -> Path:
    """Where drills are kept: where it is said, else beside the cases of the plant."""
    return Path(word) if word else plant.case_folder.parent / "drills"


def _file_of(word: str, arguments: Namespace) -> Path:
    """The file of a drill: as it is named, or by its bare name here or where the plant keeps them.

    UsageError where there is none.
    """
    path = Path(word)
    if path.exists():
        return path
    folder = folder_of(plant_of(arguments), None)
    name = f"{path.name.removesuffix(SUFFIX)}{SUFFIX}"
    near = [path.with_name(name), *([folder / name] if path.name == word else [])]
    for there in near:
        if there.is_file():
            return there
    raise UsageError(
        f"there is no drill '{shown(word, 200)}', neither as a file nor in {shown(folder, 200)}; "
        f"name its file, such as LT-214_01{SUFFIX}"
    )


def _setting(arguments: Namespace, plant: Plant) -> tuple[Setting, Loop]:
    """The drill that is asked for: a lesson, or a loop with options."""
    if arguments.lesson is not None:
        lessons = read_lessons(lesson_file(plant, arguments.lessons))
        setting = lessons.drill(arguments.lesson)
        first = lessons.before(setting)
        folder = folder_of(plant, arguments.keep)
        if first is not None and not closed(folder, checked(arguments.trainee or ""), first.name):
            number = 1 + lessons.drills.index(first)
            raise UsageError(f"these lessons go in their order: close lesson {number} first")
        return setting, lessons.loop(setting, plant)
    if arguments.loop is None:
        raise UsageError("name a loop, or a lesson: drill LOOP, or drill --lesson NUMBER")
    loop = find_loop(arguments.loop, plant)
    process = at(arguments.at, loop) if arguments.at else None
    setting = Setting(
        loop=loop.tag,
        faults=tuple(arguments.fault),
        draw=arguments.draw,
        seed=whole("--seed", arguments.seed, 0, MOST),
        difficulty=whole("--difficulty", arguments.difficulty, 0, MOST),
        intermittent=arguments.intermittent,
        minutes=float(whole("--minutes", arguments.minutes, 0, MOST)),
        visible=arguments.advice,
        process=process,
        complaint=arguments.complaint or "",
        contexts=tuple(arguments.context),
    )
    return setting, loop


# -- the talk --------------------------------------------------------------------------------------


def _talk(recorder: Recorder, trainee: str, arguments: Namespace) -> Outcome:
    """Talk; then say how it went.  With ``--json`` the talk goes to standard error."""
    prepare()
    out = sys.stderr if arguments.json else sys.stdout
    try:
        view = DrillView(recorder, look())
        converse(view, lambda: view, arguments.plain, out)
    finally:
        recorder.close()
    done = recorder.drill
    data: dict[str, Any] = {
        "schema": SCHEMA, "tag": done.loop.tag, "record": str(recorder.path),
        "closed": done.closed, "evidence": list(done.evidence), "open": list(done.items),
    }  # fmt: skip
    if not done.closed:
        return Outcome(data, lambda screen: _left(recorder.path, screen), DONE)
    if out.isatty():
        print("Working out what each step was worth ...", file=out, flush=True)
    debrief = debrief_of(done)
    data |= {"verdict": [list(key) for key in done.verdict],
             "hidden": [list(key) for key in done.hidden.keys], **score_json(debrief)}  # fmt: skip
    pages = written(debrief, trainee, recorder.path.with_name(_stem(recorder.path)))
    data["pages"] = [str(path) for path in pages]
    return Outcome(data, lambda screen: _told(debrief, pages, screen), DONE)


def _stem(path: Path) -> str:
    return path.name.removesuffix(SUFFIX)


def _left(path: Path, screen: Look) -> Iterator[str]:
    yield from paragraph(f"The drill stays open: diagnose drill --resume {path}", screen)


def _told(debrief: Debrief, pages: list[Path], screen: Look) -> Iterator[str]:
    yield ""
    for line in result_lines(debrief):
        yield from paragraph(line, screen, "", "  ")
    for path in pages:
        yield from paragraph(f"Debrief: {path}", screen)


def score_json(debrief: Debrief) -> dict[str, Any]:
    """The score as JSON holds it."""
    score = debrief.score
    mark = debrief.drill.setting.pass_mark
    return {
        "score": {**asdict(score), "total": score.total},
        "passed": score.total >= mark,
    }


def written(debrief: Debrief, trainee: str, stem: Path) -> list[Path]:
    """The debrief as two pages: Markdown and HTML."""
    blocks = list(page(debrief, trainee))
    name = f"Debrief {debrief.drill.loop.tag}"
    pages = [(Path(f"{stem}.md"), markdown(blocks)), (Path(f"{stem}.html"), html(blocks, name))]
    for path, text in pages:
        put(path, text)
    return [path for path, _ in pages]


def put(path: Path, text: str, mark: str = "") -> None:
    """Write a page; UsageError with one line where that fails.

    What is there is only written over if it begins with ``mark``, as its like does.
    """
    try:
        there = path.read_bytes() if mark and path.is_file() else b""
        if there and not there.startswith(mark.encode()):
            told = f"'{shown(path, 200)}' is there and is nothing of this kind; name another file"
            raise UsageError(told)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text.encode())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise UsageError(f"'{shown(path, 200)}' cannot be written: {reason}") from error


# -- debrief and replay ----------------------------------------------------------------------------


def debrief(arguments: Namespace) -> Outcome:
    """The debrief of a drill that was kept: on the screen, or as a page."""
    kept = read(_file_of(arguments.record, arguments))
    made = played(kept)
    if not made.closed:
        raise UsageError(
            f"{shown(kept.path, 200)} is not closed, and its debrief tells what is wrong: go on "
            "with it (drill --resume FILE) and close it; verdict not found gives it up"
        )
    found = debrief_of(made)
    blocks = list(page(found, kept.trainee))
    if arguments.html:
        put(Path(arguments.html), html(blocks, f"Debrief {found.drill.loop.tag}"), PAGE)
    text = markdown(blocks)
    data = {"schema": SCHEMA, "tag": found.drill.loop.tag, "markdown": text, **score_json(found)}
    written_to = ["", f"Page: {shown(arguments.html, 200)}"] if arguments.html else []
    return Outcome(data, lambda _: [*text.splitlines(), *written_to], DONE)


def replay(arguments: Namespace) -> Outcome:
    """Walk a logged case again; then compare the paths."""
    from diagnose.casework.log import CaseFile
    from diagnose.terminal.do_cases import find_case

    listen()
    plant = plant_of(arguments)
    path = find_case(arguments.case, plant)
    file = CaseFile.open(path, write=False)
    _busy("Setting up the loop ...")
    engine = Engine(file.loop, file.meter or GENERIC)
    setting = setting_of(file.case, engine, path.stem)
    trainee = checked(arguments.trainee or "")
    made = Drill(setting, engine)
    recorder = Recorder.create(folder_of(plant, arguments.keep), made, trainee, file.meter)
    outcome = _talk(recorder, trainee, arguments)
    if not made.closed:
        return outcome
    _busy("Walking the case by the advice, to compare ...")
    paths = compared(made, file.case)
    data = {**outcome.data, "paths": [asdict(item) for item in paths]}

    def lines(screen: Look) -> Iterator[str]:
        yield from outcome.lines(screen)
        yield ""
        for item in paths:
            took = f"{count(len(item.readings), 'reading')}, {minutes(item.minutes)}"
            head = (
                f"{item.who}: {took if item.minutes else 'nothing read'}, "
                f"{percent(item.probability)} on the true group"
            )
            yield from map(screen.strong, paragraph(head, screen))
            for number, line in enumerate(item.readings, 1):
                yield from paragraph(line, screen, f"  {number:>2}  ")

    return Outcome(data, lines, DONE)
