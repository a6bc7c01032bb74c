"""A logged case as a drill: what was read then answers, else the confirmed fault does."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.casework.case import Case
from diagnose.casework.events import SOUND
from diagnose.errors import DiagnoseError
from diagnose.inference.candidates import HOME
from diagnose.inference.complaints import complaints
from diagnose.inference.conditions import exact
from diagnose.inference.engine import Engine
from diagnose.inference.fault_text import find_fault
from diagnose.inference.measurement import Complaint, Context, Reading
from diagnose.inference.readings import parse_line
from diagnose.training.drill import Drill
from diagnose.training.lookout import Example, Lookout
from diagnose.training.setting import DrillError, Setting
from diagnose.training.trainees import advised


def setting_of(case: Case, engine: Engine, name: str) -> Setting:
    """The replay of a case; DrillError where its cause is not known."""
    cause = case.cause
    if cause is None and case.ending != SOUND:
        raise DrillError(f"{name}: no cause was confirmed, so nothing could answer; choose another")
    key = (cause.part, cause.fault) if cause else (None, "none")
    lines = [parse_line(text, engine.loop) for text in case.evidence]
    logged = tuple(item.text for item in lines if isinstance(item, Reading))
    look = Lookout(engine).look(case.evidence, HOME)
    example = next((e for e in look.examples if e.keys == (key,)), None)
    faults = (_fault(key, example, engine),) if key[0] is not None else ()
    process = example.process if example else 0.5
    said = next((item.name for item in lines if isinstance(item, Complaint)), "")
    return Setting(
        loop=engine.loop.tag,
        faults=faults,
        draw="none",
        seed=1,
        process=round(min(max(process, -0.1), 1.1), 4),
        complaint=said if said in complaints(engine.loop) else "",
        contexts=tuple(item.fact for item in lines if isinstance(item, Context)),
        name=name,
        title=f"replay of {name}",
        logged=logged,
    )


def _fault(key: tuple[str | None, str], example: Example | None, engine: Engine) -> str:
    """The confirmed fault with the size that its readings tell, as text."""
    plain = f"{key[0]}:{key[1]}"
    scale = find_fault(plain, engine.loop).mode.size
    if example is None or scale is None:
        return plain
    text = f"{plain}={exact(example.size, scale.unit)}"
    try:
        find_fault(text, engine.loop)
    except DiagnoseError:  # just beyond an end of the range, by rounding
        return plain
    return text


@dataclass(frozen=True)
class Path:
    """One way through a case: whose, how many readings, minutes, and what was read."""

    who: str
    minutes: float
    readings: tuple[str, ...]
    probability: float


def compared(drill: Drill, case: Case) -> tuple[Path, Path, Path]:
    """The trainee's path, the logged one and the advised one.

    ``probability`` is that of the true explanation after the readings of the path.
    """
    true = drill.hidden.keys
    told = tuple(item.text for item in case.in_force)
    opening = drill.opening
    adviser = Drill(drill.setting, drill.engine)
    advised(adviser, None)

    def sure(lines: tuple[str, ...]) -> float:
        look = drill.lookout.look(lines, drill.place)
        own = {look.groups.get((key,)) for key in true}
        return sum(p for keys, p in look.probability.items() if look.groups[keys] in own)

    return (
        _path("you", drill, sure(drill.evidence)),
        Path("as logged", case.minutes, told, sure((*opening, *told))),
        _path("the advice", adviser, sure(adviser.evidence)),
    )


def _path(who: str, drill: Drill, probability: float) -> Path:
    minutes = sum(step.minutes for step in drill.steps if step.sort == "measured")
    lines = tuple(step.line for step in drill.readings if step.number not in drill.withdrawn)
    return Path(who, minutes, lines, probability)
