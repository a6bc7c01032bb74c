"""Everything that is checked of one sheet: its text, its circuit, what it can carry, what reaches.

What a check finds comes back as data that can travel between processes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from diagnose.circuit.budget import WARM, Budget, budgets
from diagnose.circuit.entity_sums import EntitySum, entity_sums, safe_wiring
from diagnose.circuit.graph import CircuitError
from diagnose.circuit.store import topology
from diagnose.errors import SheetError
from diagnose.inference.ambiguity import Group, ambiguity
from diagnose.inference.candidates import candidates
from diagnose.inference.engine import Engine
from diagnose.library import models
from diagnose.loops.across import Brief, brief_of
from diagnose.loops.entity import CAUTION
from diagnose.loops.findings import NOTE, PROBLEM, WARNING, Finding
from diagnose.loops.loop import EARTH, Loop
from diagnose.loops.plant import PLANT_FILE
from diagnose.loops.sheet import load_sheet, load_type_file
from diagnose.quantities import format_quantity


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be checked beyond the text and the circuit; ``warm`` as in ``budgets``.

    ``groups``: the faults that no reading within reach tells apart, which takes an engine.
    """

    warm: float = WARM
    groups: bool = False


@dataclass(frozen=True, slots=True)
class Checked:
    """What became of one file: the tag or name that it describes, unless it cannot be used."""

    file: str
    name: str | None
    findings: tuple[Finding, ...]
    parts: int = 0
    points: int = 0
    budgets: tuple[Budget, ...] = ()
    sums: tuple[EntitySum, ...] = ()
    brief: Brief | None = None
    groups: tuple[Group, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether the file can be used."""
        return not any(found.level == PROBLEM for found in self.findings)


def check_sheet(path: Path, wanted: Wanted) -> Checked:
    """One loop sheet or loop type: text and names, circuit, budget, entity sum, reach."""
    file = str(path)
    try:
        loop = _load(path)
        topology(loop)
    except SheetError as error:
        return refused(file, error)
    except CircuitError as error:
        found = (Finding(PROBLEM, file, "circuit", reason) for reason in error.reasons)
        return Checked(file, None, tuple(found))
    volts, sums = budgets(loop, wanted.warm), entity_sums(loop)
    findings = (
        *_misnamed(loop, path),
        *budget_findings(volts, file, wanted.warm),
        *_safety(loop, sums, file),
        *_out_of_reach(loop, file),
    )
    brief = brief_of(loop)
    groups = ambiguity(Engine(loop)) if wanted.groups else ()
    return Checked(
        file, loop.tag, findings, len(loop.parts), len(loop.points), volts, sums, brief, groups
    )


def refused(file: str, error: SheetError) -> Checked:
    """A file that cannot be used, with its problems."""
    return Checked(file, None, tuple(Finding(PROBLEM, *problem) for problem in error.problems))


def _load(path: Path) -> Loop:
    """A sheet, or a loop type where it lies among those of a plant or the shipped ones."""
    folder = path.resolve().parent
    own = folder.name == "models" and (folder.parent / PLANT_FILE).is_file()
    return load_type_file(path) if own or folder == models().resolve() else load_sheet(path)


def _misnamed(loop: Loop, path: Path) -> Iterator[Finding]:
    """A sheet of a plant that no tag would find."""
    in_plant = path.parent.name == "sheets" and (path.parent.parent / PLANT_FILE).is_file()
    if in_plant and path.stem.casefold() != loop.tag.casefold():
        text = f"'{loop.tag}' stands here; name the file after its tag, {loop.tag}.toml"
        yield Finding(PROBLEM, str(path), "loop: tag", text)


def budget_findings(found: Iterable[Budget], file: str, warm: float) -> Iterator[Finding]:
    """A warning for each part that cannot set all its currents; notes on those that it can."""
    for part, some in groupby(found, key=lambda item: item.part):
        items, key = list(some), f"budget of {part}"
        for item in items:
            if item.holds:
                spare = _volts(item.worst, item)
                text = f"{_at(item)} it has {spare} to spare in the worst case"
                yield Finding(NOTE, file, key, text)
        short = [item for item in items if not item.holds]
        if short:
            needed = format_quantity(short[0].needed, "V")
            yield Finding(WARNING, file, key, f"it needs {needed}; {_shortage(short, warm)}")


def _shortage(short: Sequence[Budget], warm: float) -> str:
    """What lacks at the lowest current of some; and where it lacks even with nominal values."""
    worst = next((item for item in short if item.nominal >= 0), None)
    never = next((item for item in short if item.nominal < 0), None)
    texts = []
    if worst:
        texts.append(
            f"{_at(worst)} it has {_volts(worst.nominal, worst)} to spare, but lacks "
            f"{_volts(-worst.worst, worst)} with all tolerances against it and cables at "
            f"{warm:g} degC"
        )
    if never:
        texts.append(f"{_at(never)} it lacks {_volts(-never.nominal, never)} in any case")
    return "; ".join(texts)


def _at(item: Budget) -> str:
    return f"at {format_quantity(item.current, 'A')} ({item.meaning})"


def _volts(volts: float, item: Budget) -> str:
    """Volts, and the ohms that would take them up."""
    ohms = format_quantity(volts / item.current, "ohm", 3) if item.current else "any resistance"
    return f"{format_quantity(volts, 'V', 3)} ({ohms})"


def _safety(loop: Loop, sums: Iterable[EntitySum], file: str) -> Iterator[Finding]:
    """Lines of the entity sum that do not hold, what it lacks, and who decides."""
    told = False
    for one in sums:
        told, key = True, f"entity sum of {one.source}"
        for line in one.lines:
            have, most = (
                format_quantity(value, line.compared.unit)
                for value in (line.compared.have, line.compared.most)
            )
            at = line.device or f"devices and {one.length:g} m of cable"
            holds = line.compared.holds
            text = f"{line.compared.quantity}: {at}: {have} of {most} at most"
            yield Finding(NOTE if holds else WARNING, file, key, text)
        for text in one.missing:
            yield Finding(NOTE, file, key, text)
        if one.lumped:
            yield Finding(NOTE, file, key, LUMPED)
        yield Finding(NOTE, file, key, CAUTION)
    if not told and safe_wiring(loop):
        yield Finding(NOTE, file, "entity sum", UNMARKED)


LUMPED = (
    "its devices have more than 1 % of both Co and Lo of their own: standards then halve Co and Lo "
    "(from memory)"
)
UNMARKED = (
    "the loop has intrinsically safe wiring and its sheet no markings (Uo, Io, Po, Co, Lo of the "
    "source; Ui, Ii, Pi, Ci, Li of devices): nothing is compared"
)


def _out_of_reach(loop: Loop, file: str) -> Iterator[Finding]:
    """Points and places of the sheet that no reading of the loop uses."""
    known = candidates(loop)
    used = {name for item in known for name in item.measurement.points}
    for point in loop.points:
        if point.name not in used and point.name != EARTH:
            text = "no reading can be taken here: its place has no second point to measure against"
            yield Finding(WARNING, file, f"point {point.name}", text)
    places = {item.place for item in known} | {part.place for part in loop.parts}
    for place in loop.places:
        if place.name not in places:
            text = "nothing of the loop is here: no part, and nothing that could be read"
            yield Finding(WARNING, file, f"place {place.name}", text)


def check_some(paths: Iterable[Path], wanted: Wanted) -> list[Checked]:
    """Some sheets, one after the other: what one process does."""
    return [check_sheet(path, wanted) for path in paths]
