"""Every explanation that the loop's parts allow, with its prior and its size."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import exp, log, pi, sqrt
from typing import Any

from diagnose.circuit.wiring import Wiring
from diagnose.inference.measurement import Condition, Jumper
from diagnose.loops.kind import Action, Change, FaultMode
from diagnose.loops.loop import Loop, Part

SOUND = "none"
UNMODELLED = "none of the modelled"
MOST_FAVOUR = 20.0
"""Bound on what all context facts together may multiply a rate by (assumption)."""


@dataclass(frozen=True)
class Hypothesis:
    """One explanation: a part with a fault mode, or the sound loop.

    ``prior`` is its probability before any reading.  A severity is addressed by ``x`` in [0, 1],
    uniform a priori.
    """

    number: int
    part: str | None
    mode: FaultMode | None
    prior: float
    place: str

    @property
    def key(self) -> tuple[str | None, str]:
        """(part, fault) as shown and stored."""
        return self.part, self.mode.name if self.mode else SOUND

    @property
    def also(self) -> tuple[tuple[str, str], ...]:
        """Further faults (part, fault) of this explanation."""
        return ()

    def moves(
        self, wiring: Wiring, x: Any, healed: Container[str | None] = (), nudge: float = 0.0
    ) -> list[tuple[int, Any]]:
        """(parameter number, value) that the fault moves at ``x``, unless its part is healed."""
        if self.mode is None or self.part is None or self.part in healed:
            return []
        return list(moves(wiring, wiring.parts[self.part], self.mode.changes, self.severity(x)))

    @property
    def sized(self) -> bool:
        """Whether the fault has a continuous severity."""
        return self.mode is not None and self.mode.severity is not None

    def severity(self, x: Any) -> Any:
        """Severity at ``x`` in [0, 1] (scalar or array); 0 for a fault without size."""
        scale = self.mode.severity if self.mode else None
        if scale is None:
            return x * 0.0
        if scale.logarithmic:
            return scale.low * (scale.high / scale.low) ** x
        return scale.low + (scale.high - scale.low) * x

    def width(self) -> float:
        """Length of the severity range: nepers, or 12 for a linear one."""
        scale = self.mode.severity if self.mode else None
        if scale is None:
            return 0.0
        return log(scale.high / scale.low) if scale.logarithmic else 12.0


@dataclass(frozen=True)
class Pair(Hypothesis):
    """Two faults at once: ``first`` near ``x_first``, and the one named by part and mode.

    The severity of the first is carried like a tolerance: Gaussian around ``x_first`` with the
    height of the uniform prior, which the evidence integrates exactly where levels are straight.
    """

    first: Hypothesis
    x_first: float

    SPREAD = 1 / sqrt(2 * pi)

    @property
    def also(self) -> tuple[tuple[str, str], ...]:
        """The first fault."""
        assert self.first.part is not None and self.first.mode is not None
        return ((self.first.part, self.first.mode.name),)

    def moves(
        self, wiring: Wiring, x: Any, healed: Container[str | None] = (), nudge: float = 0.0
    ) -> list[tuple[int, Any]]:
        """What both faults move; ``nudge`` shifts the severity of the first."""
        at = self.x_first + nudge if self.first.sized else 0.5
        return self.first.moves(wiring, at, healed) + super().moves(wiring, x, healed)


def moves(
    wiring: Wiring, part: Part, changes: Iterable[Change], s: Any
) -> Iterator[tuple[int, Any]]:
    """(parameter number, value) for changes of a part at severity ``s`` (scalar or array)."""
    for change in changes:
        target, source = part, change.parameter
        if change.of == "*":
            yield from _everywhere(wiring, change, s)
            continue
        if change.of.startswith("="):
            source = change.of[1:]
        elif change.of:
            target = wiring.parts[part.references[change.of]]
        nominal = wiring.nominal[wiring.index[target.name, source]]
        yield wiring.index[target.name, change.parameter], change.value(nominal, s)


def _everywhere(wiring: Wiring, change: Change, s: Any) -> Iterator[tuple[int, Any]]:
    for (_, name), number in wiring.index.items():
        if name == change.parameter:
            yield number, change.value(wiring.nominal[number], s)


def hypotheses(
    loop: Loop, facts: Iterable[str] = (), rates: Mapping[tuple[str, str], float] | None = None
) -> tuple[Hypothesis, ...]:
    """All hypotheses of a loop, priors adding up to 1 minus the share of the unmodelled.

    ``facts`` are context facts (``work``, ``rain`` …) that multiply the rates of the modes that
    they favour; ``rates`` replaces rates of (part, mode) by a site's own.
    """
    told = tuple(facts)
    found = [
        (part, mode, _weight(mode, told, (rates or {}).get((part.name, mode.name))))
        for part in loop.parts
        for mode in part.kind.modes
    ]
    share = {
        "electrical": loop.shares.electrical,
        "process connection": loop.shares.process_connection,
    }
    plain = dict.fromkeys(share, 0.0)
    favoured = dict(plain)
    for _, mode, (rate, weight) in found:
        plain[mode.group] += rate
        favoured[mode.group] += weight
    # A context fact moves probability between groups too: an hour after work on the loop, an
    # electrical cause is likelier than the share of ordinary nights says.
    mass = {g: share[g] * (favoured[g] / plain[g] if plain[g] else 0.0) for g in share}
    total = (loop.shares.sound + sum(mass.values())) / (1 - loop.shares.unmodelled)
    result = [Hypothesis(0, None, None, loop.shares.sound / total, "")]
    for part, mode, (_, weight) in found:
        prior = mass[mode.group] * weight / favoured[mode.group] / total
        result.append(Hypothesis(len(result), part.name, mode, prior, part.place))
    return tuple(result)


def _weight(mode: FaultMode, facts: tuple[str, ...], rate: float | None) -> tuple[float, float]:
    base = mode.rate if rate is None else rate
    favour = exp(sum(log(mode.favoured.get(fact, 1.0)) for fact in facts))
    return base, base * min(favour, MOST_FAVOUR)


def action_of(loop: Loop, part: str, name: str) -> Action:
    """The action of a part by name; KeyError if it has none such."""
    return {action.name: action for action in loop.part(part).kind.actions}[name]


def condition_moves(wiring: Wiring, condition: Condition) -> tuple[dict[int, float], set[str]]:
    """Parameters that a condition sets, and the parts whose faults it takes out of the circuit."""
    moved: dict[int, float] = {}
    healed: set[str] = set()
    for item in condition:
        if isinstance(item, Jumper):
            continue
        action = action_of(wiring.loop, item.part, item.action)
        value = item.value if item.value is not None else action.usual or 0.0
        moved.update(moves(wiring, wiring.parts[item.part], action.changes, value))
        if action.heals:
            healed.add(item.part)
    return moved, healed
