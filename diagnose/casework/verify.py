"""Whether a case still says what it said: every line read, every ranking computed anew."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.casework import events as e
from diagnose.casework.case import Case
from diagnose.casework.checks import CaseError
from diagnose.casework.digest import DECIMALS, versions
from diagnose.casework.log import CaseFile
from diagnose.errors import DiagnoseError
from diagnose.inference.readings import parse_line
from diagnose.loops.names import shown

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

CLOSE = 1e-6 + 0.5 * 10.0**-DECIMALS
"""How far a probability may be off: 1e-6, and what was rounded away in the record."""

KEPT = 2
"""Engines that are kept: cases of one loop lie side by side, and a large one takes 400 MB."""

Key = tuple[str | None, str, tuple[tuple[str, str], ...]]
Engines = dict[Any, "Engine"]


def verify(path: Path | str, engines: Engines | None = None) -> list[str]:
    """One sentence for each thing that is lost or not reproduced; empty if all is.

    ``engines`` keeps the last engines for further cases of the same loops.
    """
    try:
        file = CaseFile.open(path, write=False)
    except CaseError as error:
        return [str(error)]
    problems = list(file.damage)
    if any(isinstance(entry.event, e.Ranked) for entry in file.events):
        try:
            problems += _replayed(file, _engine(file, {} if engines is None else engines))
        except DiagnoseError as error:
            problems += [
                f"the loop cannot be made again: {line}" for line in str(error).split("\n")
            ]
    return problems


def _engine(file: CaseFile, engines: Engines) -> Engine:
    from diagnose.inference.engine import Engine

    loop, meter = file.loop, file.meter
    key = (loop.digest, repr(meter), file.case.rates)
    engine = engines.pop(key, None) or Engine(loop, meter, file.rates or None)
    while len(engines) >= KEPT:
        del engines[next(iter(engines))]
    engines[key] = engine
    return engine


def _replayed(file: CaseFile, engine: Engine) -> list[str]:
    problems: list[str] = []
    known: dict[tuple[str, ...], dict[Key, float]] = {}
    case = Case()
    for entry in file.events:
        case = case.then(entry)
        if not isinstance(entry.event, e.Ranked):
            continue
        try:
            if case.evidence not in known:
                known[case.evidence] = _believed(case, engine)
        except DiagnoseError as error:
            problems.append(f"record {entry.number}: its evidence is not understood: {error}")
            continue
        problems += _compared(entry.number, entry.event, known[case.evidence])
    return problems


def _believed(case: Case, engine: Engine) -> dict[Key, float]:
    """Probabilities of all hypotheses under the evidence in force; None stands for the rest."""
    said = [parse_line(line, engine.loop) for line in case.evidence]
    engine = engine.at(said)
    belief, atlas = engine.believe(engine.sort(said))
    found: dict[Key, float] = {
        (h.part, h.key[1], h.also): float(belief.probability[h.number])
        for h in atlas.ground.hypotheses
    }
    return {**found, _REST: float(belief.unmodelled)}


_REST: Key = (None, "unexplained", ())


def _compared(number: int, then: e.Ranked, now: Mapping[Key, float]) -> list[str]:
    recorded = {(part, fault, also): chance for part, fault, also, chance in then.top}
    recorded[_REST] = then.unexplained
    for key, chance in recorded.items():
        found = now.get(key)
        if found is None or abs(found - chance) > CLOSE:
            here = "not in the running" if found is None else f"{found:.6f}"
            was = f"{_name(key)} was {chance:.6f} and is {here} now"
            return [f"record {number}: {was}; {_difference(then.versions)}"]
    return []


def _name(key: Key) -> str:
    part, fault, also = key
    names = (f"{a} {b}" for a, b in ((part or "loop", fault), *also))
    return shown(" with ".join(names), 100)


def _difference(then: Mapping[str, Any]) -> str:
    """Which version was another one when the ranking was recorded."""
    told = [
        f"{name} was {shown(then.get(name))} and is {value}"
        for name, value in versions().items()
        if then.get(name) != value
    ]
    return ", ".join(told) or "no version differs"
