"""From a setting to the loop as it really is: the fault drawn or set, the process, the complaint.

The same setting gives the same loop, on every machine: all draws come from its seed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.errors import DiagnoseError
from diagnose.inference.complaints import complaints
from diagnose.inference.engine import Engine
from diagnose.inference.fault_text import Fault, fault_of, find_fault
from diagnose.inference.hypotheses import Hypothesis
from diagnose.inference.measurement import COMPLAINTS, contexts_of
from diagnose.inference.moving import drift
from diagnose.inference.symptoms import SOUND
from diagnose.training.draws import complaint_chances
from diagnose.training.scene import Scene, Spells
from diagnose.training.setting import DrillError, Setting

NOTICED = {1: (0.5, 1.01), 2: (0.05, 1.01), 3: (0.05, 0.5)}
"""Chance of any complaint at each difficulty: plain faults are always noticed."""

TRIES = 400
"""Draws before the difficulty is let go, so that a loop without such faults can be drilled too."""


@dataclass(frozen=True)
class Hidden:
    """What the trainee does not see; ``keys`` are the true faults (part, mode) as shown."""

    faults: tuple[Fault, ...]
    process: float
    complaint: str
    blown: bool

    @property
    def keys(self) -> tuple[tuple[str | None, str], ...]:
        """The true faults; a sound loop has one key of its own."""
        return tuple((f.part, f.mode.name) for f in self.faults) or ((None, "none"),)


def hide(setting: Setting, engine: Engine) -> Hidden:
    """The hidden side of a drill; DrillError where the setting does not fit the loop."""
    rng = np.random.default_rng([setting.seed, 5])
    loop = engine.loop
    known = contexts_of(loop)
    for fact in setting.contexts:
        if fact not in known:
            raise DrillError(f"context: '{fact[:40]}' is none of {', '.join(known)}")
    if setting.complaint and setting.complaint not in COMPLAINTS:
        raise DrillError(f"complaint: '{setting.complaint[:40]}' is none of {list(COMPLAINTS)}")
    process = float(rng.integers(2)) if loop.states else round(float(rng.uniform(0.1, 0.9)), 3)
    if setting.process is not None:
        process = setting.process
    blown = setting.fuse == "blown" or (setting.difficulty == 3 and bool(rng.random() < 0.25))
    if setting.faults:
        faults = tuple(_given(text, engine) for text in setting.faults)
        complaint = setting.complaint or _usual(engine, faults, process)
        return Hidden(faults, process, complaint, blown)
    count = {"none": 0, "two": 2, "one": 1}.get(setting.draw, 1)
    faults, complaint = _drawn(setting, engine, rng, process, count)
    return Hidden(faults, process, setting.complaint or complaint, blown)


def scene_of(setting: Setting, hidden: Hidden, engine: Engine) -> Scene:
    """The loop as it really is."""
    spells = Spells(setting.seed) if setting.intermittent else None
    # Beside readings of a real loop, tolerances of another one would contradict them.
    nominal = bool(setting.logged)
    truth = hidden.faults, hidden.process
    moves = drift(setting.contexts, engine.loop)
    return Scene(engine.observer, *truth, setting.seed, spells, nominal, moves)


def _given(text: str, engine: Engine) -> Fault:
    try:
        return find_fault(text, engine.loop)
    except DiagnoseError as error:
        raise DrillError(f"fault: {error}") from error


def _drawn(
    setting: Setting, engine: Engine, rng: np.random.Generator, process: float, count: int
) -> tuple[tuple[Fault, ...], str]:
    """Faults from the priors and a complaint that they raise."""
    able = [h for h in engine.hypotheses if h.mode is not None or setting.draw == "any"]
    weight = np.array([h.prior for h in able])
    for tries in range(10 * TRIES if count else 0):
        h = able[int(rng.choice(len(able), p=weight / weight.sum()))]
        x = float(rng.random())
        if h.mode is None:
            break
        chances = complaint_chances(engine, h.number, x, process)
        total = sum(chances.values())
        low, high = NOTICED[setting.difficulty] if tries < TRIES else NOTICED[2]
        if not low < total <= high:
            continue
        word = _picked(chances, rng)
        if count == 1:
            return (fault_at(h, x, engine),), word
        return (fault_at(h, x, engine), _second(able, h, engine, rng)), word
    known = complaints(engine.loop)
    if count and setting.draw != "any":
        raise DrillError(f"no fault of {engine.loop.tag} raises a complaint: it has no display")
    return (), _picked({name: SOUND[name] for name in known}, rng)


def _second(
    able: list[Hypothesis], first: Hypothesis, engine: Engine, rng: np.random.Generator
) -> Fault:
    """Another fault, at another part."""
    others = [h for h in able if h.mode is not None and h.part != first.part]
    weight = np.array([h.prior for h in others])
    h = others[int(rng.choice(len(others), p=weight / weight.sum()))]
    return fault_at(h, float(rng.random()), engine)


def fault_at(h: Hypothesis, x: float, engine: Engine) -> Fault:
    """A hypothesis at a severity coordinate as a fault."""
    assert h.part is not None and h.mode is not None
    return fault_of(engine.loop.part(h.part), h.mode, float(h.severity(x)))


def _picked(chances: dict[str, float], rng: np.random.Generator) -> str:
    names = list(chances)
    weight = np.array([chances[name] for name in names])
    return names[int(rng.choice(len(names), p=weight / weight.sum()))]


def _usual(engine: Engine, faults: tuple[Fault, ...], process: float) -> str:
    """The complaint that a set fault is most likely to raise; of none, what is said most often."""
    chances: dict[str, float] = dict.fromkeys(complaints(engine.loop), 0.0)
    for fault in faults:
        h = engine.hypothesis((fault.part, fault.mode.name))
        x = coordinate(h, fault.severity)
        for name, chance in complaint_chances(engine, h.number, x, process).items():
            chances[name] += chance
    best = max(chances, key=lambda name: chances[name])
    return best if chances[best] > 0 else max(chances, key=lambda name: SOUND[name])


def coordinate(h: Hypothesis, severity: float) -> float:
    """Where on its scale of severity a fault lies, 0 to 1."""
    if h.mode is None or h.mode.severity is None:
        return 0.5
    ends = (float(h.severity(0.0)), float(h.severity(1.0)))
    scale = h.mode.severity
    low, high, at = np.log([*ends, severity]) if scale.logarithmic else (*ends, severity)
    return float(np.clip((at - low) / (high - low), 0, 1))
