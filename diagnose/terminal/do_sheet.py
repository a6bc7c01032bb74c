"""``sheet``: starts the sheet of a loop, and shows one as text."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Mapping

from diagnose.errors import DiagnoseError
from diagnose.library import type_names
from diagnose.loops.index.roles import ROLES, Roles
from diagnose.loops.loop import Loop
from diagnose.loops.names import shown
from diagnose.loops.new_sheet import composed, new_sheet
from diagnose.loops.plant import Plant
from diagnose.loops.record import loop_to_record
from diagnose.loops.sheet import load_sheet
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.ask import Ask, asker, say
from diagnose.terminal.ask_type import chosen_type, offered
from diagnose.terminal.find_loop import find_loop, plant_of
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.render_sheet import sheet_lines
from diagnose.terminal.wording import paragraph

QUESTIONS = (
    ("service", "What does it measure or move?"),
    ("range", "Range, such as 0-1800 mm?"),
    ("role", "What depends on it: control, trip, or both?"),
    ("cabinet", "Which cabinet is it wired in?"),
    ("box", "Name of the junction box?"),
    ("box_place", "Where is that?"),
    ("location", "Where is the field device?"),
    ("area", "Hazardous area there: safe, zone 0, 1, 2, 20, 21, 22?"),
    ("cable", "Name of the cable from the cabinet?"),
    ("length", "Its length?"),
    ("branch_length", "Length of the cable to the device?"),
    ("supply", "Name of the supply?"),
)
"""What is asked for a sheet, after tag and loop type; an empty answer leaves it to the type."""

_NEXT = (
    "Next: compare terminals and values with the loop drawing, and put right in {file} what "
    "differs; then diagnose troubleshoot {tag}."
)


def sheet(arguments: Namespace) -> Outcome:
    """Start the sheet of a loop, or show one."""
    jobs = {"new": _new, "show": _show}
    if arguments.action not in jobs:
        raise UsageError(f"'{shown(arguments.action)}' is no job of sheet; it does new and show")
    return jobs[arguments.action](arguments)


def _show(arguments: Namespace) -> Outcome:
    if arguments.loop is None:
        raise UsageError("name a loop: diagnose sheet show LT-214")
    return _shown(find_loop(arguments.loop, plant_of(arguments)), {})


def _new(arguments: Namespace) -> Outcome:
    plant = plant_of(arguments)
    if plant.is_demo:
        raise UsageError(
            "the demo plant is read-only; make one with diagnose plant new FOLDER and name it "
            "with --plant FOLDER"
        )
    answers = _told(arguments)
    if "tag" not in answers or "type" not in answers:
        ask = asker("name TAG and --type TYPE, and what else is known with --set")
        answers = _asked(plant, answers, ask)
    path = new_sheet(plant, answers)
    return _shown(load_sheet(path), {"file": str(path)})


def _told(arguments: Namespace) -> dict[str, str]:
    found = {"tag": arguments.loop, "type": arguments.type, "service": arguments.service,
             "range": arguments.range}  # fmt: skip
    answers = {name: text for name, text in found.items() if text is not None}
    for text in arguments.set:
        name, sign, value = text.partition("=")
        if not sign:
            raise UsageError(f"--set takes FIELD=VALUE, such as length=120m, not '{shown(text)}'")
        answers[name.strip()] = value
    return answers


def _asked(plant: Plant, told: Mapping[str, str], ask: Ask) -> dict[str, str]:
    """Answers to what was not told; one that makes no sense is asked for again."""
    answers = dict(told)
    types = type_names(plant.folder / "models")
    if "tag" not in answers:
        answers["tag"] = _until(ask, "Tag of the loop? ", lambda tag: _try(plant, tag, types[0]))
    if "type" not in answers:
        meant = offered(types, plant.folder / "models")
        text = _until(
            ask, "Which one? ", lambda text: _try(plant, answers["tag"], chosen_type(text, meant))
        )
        answers["type"] = chosen_type(text, meant)
    say("Enter leaves a question to the loop type.")
    roles = ROLES.get(answers["type"], Roles())
    for name, question in QUESTIONS:
        if name in answers or not _of_use(name, roles):
            continue
        answers[name] = _until(
            ask, f"{question} ",
            lambda text, name=name: composed(plant, {**answers, name: text}),
        )  # fmt: skip
    return {name: text for name, text in answers.items() if text}


def _until(ask: Ask, question: str, attempt: object) -> str:
    while True:
        text = ask(question)
        try:
            attempt(text)  # type: ignore[operator]
        except DiagnoseError as error:
            say(str(error).splitlines()[0])
        else:
            return text


def _try(plant: Plant, tag: str, loop_type: str) -> None:
    composed(plant, {"tag": tag, "type": loop_type})
    if plant.sheet(tag) is not None:
        raise UsageError(f"{tag} has a sheet already")


def _of_use(name: str, roles: Roles) -> bool:
    """Whether a loop type has any use for an answer."""
    if name == "range":
        return roles.ranged
    if name == "box_place":
        return "box" in roles.names
    if name in ("service", "role", "cabinet"):
        return True
    return name in {*roles.names, *roles.values} or (
        name in ("location", "area") and bool(roles.place)
    )


def _shown(loop: Loop, more: Mapping[str, str]) -> Outcome:
    data = {"schema": SCHEMA, **more, "source": loop.source, "sheet": loop_to_record(loop)}

    def lines(look: Look) -> Iterator[str]:
        if "file" in more:
            yield f"made  {more['file']}"
            yield ""
        yield from sheet_lines(loop, look)
        if "file" in more:
            yield ""
            yield from paragraph(_NEXT.format(tag=loop.tag, file=more["file"]), look)

    return Outcome(data, lines)
