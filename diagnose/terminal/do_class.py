"""``lessons``, ``results`` and ``anonymise``: the trainer's desk."""

from __future__ import annotations

from argparse import Namespace
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path

from diagnose.errors import DiagnoseError
from diagnose.inference.engine import Engine
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import read_table
from diagnose.loops.site_rates import site_rates
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.do_drill import folder_of, put
from diagnose.terminal.find_loop import meter_of, plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, SCHEMA, Look, Outcome
from diagnose.terminal.table import grid, grids
from diagnose.terminal.wording import count, paragraph
from diagnose.training.by_trainee import COLUMNS as TRAINEES
from diagnose.training.by_trainee import by_trainee, nameless
from diagnose.training.handout import handout
from diagnose.training.lessons import Lessons, check, lesson_file, read_lessons
from diagnose.training.pages import PAGE, Block, head, html, points, table, text
from diagnose.training.record import Kept, played, read, records
from diagnose.training.results import (
    COLUMNS,
    Result,
    changed,
    csv_text,
    missed,
    mistaken,
    page,
    repeated,
    result_of,
)
from diagnose.training.solving import Solved, solve


def lessons(arguments: Namespace) -> Outcome:
    """The lessons of a file, in their order; with ``--solve`` whether the advice solves each."""
    plant = plant_of(arguments)
    found = read_lessons(lesson_file(plant, arguments.file))
    check(found, plant)
    if arguments.pack:
        return _handed_out(found, Path(arguments.pack))
    if not arguments.solve:
        data = {"schema": SCHEMA, "title": found.title, "order": found.order,
                "lessons": [_lesson_json(found, n) for n in range(len(found.drills))]}  # fmt: skip
        return Outcome(data, lambda look: _lesson_lines(found, look), DONE)
    meter = meter_of(plant)
    site = site_rates(plant.folder)
    solved = []
    for setting in found.drills:
        loop = site.applied(found.loop(setting, plant))
        solved.append(solve(setting, Engine(loop, meter, site.of(loop) or None), meter))
    data = {"schema": SCHEMA, "title": found.title,
            "lessons": [{"name": s.name, "solved": s.solved, "score": s.score,
                         "minutes": s.minutes, "verdict": s.verdict} for s in solved]}  # fmt: skip
    code = DONE if all(s.solved for s in solved) else NEGATIVE
    return Outcome(data, lambda look: _solved_lines(solved, look), code)


def _handed_out(found: Lessons, target: Path) -> Outcome:
    """The lessons written anew, their answers packed; what is there is never written over."""
    if target.exists():
        raise UsageError(f"'{shown(target, 200)}' is there already; name a new file")
    put(target, handout(read_table(found.path)))
    data = {"schema": SCHEMA, "file": str(target), "lessons": len(found.drills)}
    said = (
        f"{count(len(found.drills), 'lesson')} written to {target}, answers packed but not "
        "encrypted, and so are names and titles: trainees begin one by its number. Stories stay as "
        "they are. A sheet that one names goes beside it."
    )
    return Outcome(data, lambda look: paragraph(said, look), DONE)


def _lesson_json(found: Lessons, number: int) -> dict[str, object]:
    """What a trainee may know of a lesson: not the fault."""
    s = found.drills[number]
    name, title = ("", "") if found.packed else (s.name, s.title)
    return {"number": number + 1, "name": name, "title": title, "loop": s.loop,
            "difficulty": s.difficulty, "minutes": s.minutes, "advice": s.visible,
            "pass": s.pass_mark}  # fmt: skip


def _lesson_lines(found: Lessons, look: Look) -> Iterator[str]:
    yield from map(look.strong, paragraph(found.title, look))
    rows = [
        (str(n), s.name, s.loop, str(s.difficulty), f"{s.minutes:.0f}", f"{s.pass_mark:.0f}",
         s.visible, s.title)
        for n, s in enumerate(found.drills, 1)
    ]  # fmt: skip
    names = ("no.", "name", "loop", "diff.", "minutes", "pass", "advice", "title")
    alike = [n for n in range(3, 7) if len({row[n] for row in rows}) == 1]
    told = [n for n in range(len(names)) if not found.packed or n not in (1, 7)]
    kept = [n for n in told if n not in alike]
    right = frozenset(k for k, n in enumerate(kept) if n in (0, 3, 4, 5))
    yield from grid([names[n] for n in kept], [[row[n] for n in kept] for row in rows], look, right)
    if rows and alike:
        said = ", ".join(f"{names[n]} {rows[0][n]}" for n in alike)
        yield from paragraph(f"In all of them: {said}.", look)
    order = "in this order" if found.order == "fixed" else "in any order"
    yield f"{count(len(found.drills), 'lesson')}, {order}. Begin one: diagnose drill --lesson 1"


def _solved_lines(solved: Sequence[Solved], look: Look) -> Iterator[str]:
    rows = [
        (s.name, "yes" if s.solved else "NO", f"{s.score:.0f}", f"{s.minutes:.0f}", s.verdict)
        for s in solved
    ]
    yield from grid(("lesson", "solved", "score", "min", "verdict"), rows, look, frozenset({2, 3}))
    good = sum(s.solved for s in solved)
    yield f"The advice solves {good} of {count(len(solved), 'lesson')} within its limits."


def results(arguments: Namespace) -> Outcome:
    """The results of a class, from the drills that were kept."""
    plant = plant_of(arguments)
    folders = [Path(word) for word in arguments.folders] or [folder_of(plant, None)]
    for folder in folders:
        if not folder.is_dir():
            raise UsageError(f"there is no folder '{str(folder)[:200]}'")
    # A folder that is named twice, or by two names, holds each drill once.
    found, bad = _results(records([*dict.fromkeys(folder.resolve() for folder in folders)]))
    if not found and not bad:
        raise UsageError("there is no drill in " + ", ".join(str(folder) for folder in folders))
    found = nameless(found) if arguments.nameless else found
    if arguments.csv:
        put(Path(arguments.csv), csv_text(found), f"{COLUMNS[0]},{COLUMNS[1]}")
    name = arguments.title or plant.name
    if arguments.html:
        put(Path(arguments.html), html(_class_page(found, name), f"Results {name}"), PAGE)
    data = {
        "schema": SCHEMA,
        "results": [dict(zip(COLUMNS, r.cells, strict=True)) for r in found],
        "trainees": [asdict(line) for line in by_trainee(found)],
        "missed": [{"fault": c.name, "times": c.times, "of": c.of} for c in missed(found)],
        "mistakes": [{"mistake": c.name, "times": c.times, "of": c.of} for c in mistaken(found)],
        "warnings": [odd for odd in (changed(found), repeated(found)) if odd],
        "problems": bad,
    }
    return Outcome(data, lambda look: _result_lines(found, bad, look), DONE)


def _class_page(found: Sequence[Result], name: str) -> Iterator[Block]:
    """The page of a class: its trainees side by side, who needs what, then all drills."""
    return page(found, name, list(_side_by_side(found)))


def _side_by_side(found: Sequence[Result]) -> Iterator[Block]:
    yield head("Trainees side by side")
    yield text("Drills by how they ended; means of score, minutes and readings of the closed ones.")
    lines = by_trainee(found)
    yield table(TRAINEES, [line.cells for line in lines])
    needs = [f"{line.trainee}: {', '.join(line.needs)}." for line in lines if line.needs]
    if needs:
        yield head("What to work on")
        yield points(needs)


def _results(paths: Sequence[Path]) -> tuple[list[Result], list[str]]:
    """Results of all files, one engine a loop; files that are no drill are told, not dropped."""
    found, bad, engines = [], [], dict[str, Engine]()
    names = Counter(path.name for path in paths)
    for path in paths:
        try:
            kept = read(path)
            result = _result(kept, engines)
            if not kept.trainee and names[path.name] > 1:
                # Named after its file, it would be taken for that of another folder.
                result = replace(result, trainee=f"{shown(path.parent.name)}/{result.trainee}")
            found.append(result)
        except DiagnoseError as error:
            bad.append(str(error))
    return found, bad


def _result(kept: Kept, engines: dict[str, Engine]) -> Result:
    key = f"{kept.loop.digest} {kept.meter} {kept.rates}"
    if key not in engines:
        engines[key] = kept.engine()
    return result_of(kept, played(kept, engines[key]))


def _result_lines(found: Sequence[Result], bad: Sequence[str], look: Look) -> Iterator[str]:
    names = ("trainee", "drill", "fault", "score", "passed", "min", "mistakes")
    rows = []
    for r in found:
        cells = dict(zip(COLUMNS, replace(r, lesson=r.about).cells, strict=True))
        told = ("trainee", "lesson", "fault", "score", "passed", "minutes", "mistakes")
        rows.append(tuple(cells[name] for name in told))
    yield from grid(names, rows, look, frozenset({3, 5}))
    lines = by_trainee(found)
    if len(lines) < len(found):  # else the table above has it all
        yield ""
        right_side = frozenset(range(1, len(TRAINEES)))
        yield from grids(TRAINEES, [line.cells for line in lines], look, right_side)
    for line in lines:
        if line.needs:
            yield from paragraph(
                ", ".join(line.needs), look, f"{line.trainee} should work on: ", "  "
            )
    for title, common in (("missed", missed(found)), ("mistakes", mistaken(found))):
        if common:
            text = "; ".join(f"{c.name} ({c.times} of {c.of})" for c in common[:6])
            yield from paragraph(text, look, f"{title}: ")
    for odd in filter(None, (changed(found), repeated(found))):
        yield from paragraph(odd, look, "warning  ")
    for problem in bad:
        yield from paragraph(problem, look, "problem  ")


def anonymise(arguments: Namespace) -> Outcome:
    """A case without its plant, written to a file of its own."""
    from diagnose.casework.log import CaseFile
    from diagnose.terminal.do_cases import find_case
    from diagnose.training.anonymous import text_of

    path = find_case(arguments.case, plant_of(arguments))
    file = CaseFile.open(path, write=False)
    target = Path(arguments.file)
    if target.exists():
        raise UsageError(f"'{str(target)[:200]}' is there already; name a new file")
    _ = file.loop  # names are taken out by the copy of the sheet: a damaged one is refused
    put(target, text_of(file.events))
    data = {"schema": SCHEMA, "case": str(path), "file": str(target), "records": len(file.events)}
    many = count(len(file.events), "record")
    text = f"{many} written to {target}. Read it through before you share it."
    return Outcome(data, lambda look: paragraph(text, look), DONE)
