"""A loop under a hypothesis and a condition: the values of all parameters, in rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from diagnose.inference.measurement import Applied, Condition, Reading
from diagnose.loops.kind import Change, Severity
from diagnose.loops.loop import Loop, Part

Row = Any
Values = dict[str, dict[str, Row]]
LARGEST_OHM = 60e6
STEADY = ((-0.1, 0.0, 0.02), (0.0, 1.0, 0.96), (1.0, 1.1, 0.02))
"""Prior of a process value: shares that are uniform on each stretch."""
TWO_STATES = ((-0.1, 0.0, 0.48), (0.0, 1.0, 0.04), (1.0, 1.1, 0.48))
"""The same where the process has two states and is hardly ever between."""


def process_prior(loop: Loop) -> tuple[tuple[float, float, float], ...]:
    """(low, high, share) of the stretches of the process value."""
    return TWO_STATES if loop.states else STEADY


def as_stated(loop: Loop, readings: Sequence[Reading]) -> Loop:
    """The loop with operating states, such as a controller's output, where a display tells them."""
    told = {
        r.measurement.points[0]: r.value
        for r in readings
        if r.measurement.function == "shows" and r.sort == "value" and not r.measurement.condition
    }
    parts = tuple(
        replace(p, values={**p.values, p.kind.stated: min(max(told[p.name], 0.0), 1.0)})
        if p.kind.stated and p.name in told
        else p
        for p in loop.parts
    )
    return replace(loop, parts=parts)


@dataclass(frozen=True)
class Move:
    """One parameter moved by a fault of the part ``of``: its new value, from the severity."""

    part: str
    name: str
    value: Callable[[Any], Any]
    of: str


@dataclass(frozen=True)
class Hypothesis:
    """No fault, or one mode of one part, with its prior probability."""

    part: str | None
    mode: str
    prior: float
    moves: tuple[Move, ...] = ()
    severity: Severity | None = None

    def size(self, u: Row) -> Row:
        """Severity at the coordinate ``u`` in [0, 1] in which its prior is uniform."""
        s = self.severity
        if s is None:
            return u
        if s.logarithmic:
            return s.low * (s.high / s.low) ** u
        return s.low + (s.high - s.low) * u


def aims(loop: Loop, part: Part, change: Change) -> list[tuple[str, float]]:
    """The parts whose parameter a change moves, and the nominal that each value starts from."""
    values = nominal(loop)
    if change.of == "*":
        return [(p, q[change.parameter]) for p, q in values.items() if change.parameter in q]
    if change.of.startswith("="):
        return [(part.name, values[part.name][change.of[1:]])]
    target = loop.part(part.references[change.of]) if change.of else part
    return [(target.name, values[target.name].get(change.parameter, 0.0))]


def moves_of(loop: Loop, part: Part, changes: Sequence[Change]) -> tuple[Move, ...]:
    """The changes of a mode or action, aimed and closed over their nominal values."""
    return tuple(
        Move(name, change.parameter, lambda s, c=change, n=start: c.value(n, s), part.name)
        for change in changes
        for name, start in aims(loop, part, change)
    )


def hypotheses(loop: Loop) -> list[Hypothesis]:
    """``none`` and every part and mode, with prior shares split by rate within a group.

    The share of a group in which the loop has no fault goes to the others in proportion.
    """
    modes = [(part, mode) for part in loop.parts for mode in part.kind.modes]
    shares = {
        "process connection": loop.shares.process_connection,
        "electrical": loop.shares.electrical,
    }
    total = {g: sum(m.rate for _, m in modes if m.group == g) for g in shares}
    modelled = loop.shares.sound + sum(share for g, share in shares.items() if total[g])
    scale = (1 - loop.shares.unmodelled) / modelled
    faults = [
        Hypothesis(
            part.name,
            mode.name,
            scale * shares[mode.group] * mode.rate / total[mode.group],
            moves_of(loop, part, mode.changes),
            mode.severity,
        )
        for part, mode in modes
    ]
    return [Hypothesis(None, "none", scale * loop.shares.sound), *faults]


@dataclass
class State:
    """Values of all parameters for rows of (hypothesis, severity), and which ones were moved."""

    values: Values
    moved: dict[tuple[str, str], Row] = field(default_factory=dict)

    def put(self, part: str, name: str, value: Row) -> None:
        """Moves a parameter in all rows."""
        self.values[part][name] = value
        self.moved[part, name] = True


def nominal(loop: Loop) -> Values:
    """Sheet values, with defaults for the parameters that only faults move."""
    return {
        part.name: {
            **{p.name: p.default for p in part.kind.parameters if p.default is not None},
            **part.values,
        }
        for part in loop.parts
    }


def state(
    loop: Loop,
    cases: Sequence[Hypothesis],
    which: np.ndarray,
    u: np.ndarray,
    condition: Condition,
    base: Values | None = None,
) -> State:
    """Parameter values of rows: hypothesis ``cases[which]`` at ``u``, then the condition.

    ``which`` and ``u`` are (rows,), or (rows, faults) where several faults come together.
    """
    values = {part: dict(q) for part, q in (base or nominal(loop)).items()}
    out = State(values)
    applied = [item for item in condition if isinstance(item, Applied)]
    healed = {a.part for a in applied if _action(loop, a).heals}
    for one, size_of in zip(_columns(which), _columns(u), strict=True):
        for k in np.unique(one):
            rows = one == k
            size = cases[k].size(size_of[rows])
            for move in cases[k].moves:
                if move.of not in healed:
                    _put_rows(out, move, rows, size)
    for item in applied:
        action = _action(loop, item)
        size = (action.usual or 0.0) if item.value is None else item.value
        for move in moves_of(loop, loop.part(item.part), action.changes):
            out.put(move.part, move.name, move.value(size))
    return out


def _columns(values: np.ndarray) -> np.ndarray:
    return values.reshape(len(values), -1).T


def _action(loop: Loop, item: Applied) -> Any:
    return {a.name: a for a in loop.part(item.part).kind.actions}[item.action]


def _put_rows(out: State, move: Move, rows: np.ndarray, size: Row) -> None:
    key = (move.part, move.name)
    if key not in out.moved:
        start = out.values[move.part].get(move.name, 0.0)
        out.values[move.part][move.name] = np.full(rows.shape, start, dtype=float)
        out.moved[key] = np.zeros(rows.shape, dtype=bool)
    out.values[move.part][move.name][rows] = move.value(size)
    out.moved[key][rows] = True
