"""Which way current flows through a part of the sound loop: who names one point means that way."""

from __future__ import annotations

from diagnose.circuit.graph import CircuitError
from diagnose.loops.loop import Loop, Part

NOTHING = 1e-6
"""Amperes below which a direction is none."""

_KNOWN: dict[str, dict[str, float]] = {}
"""Currents of sound loops by digest; a few, for whoever goes through a whole plant."""

KEPT = 8


def along(part: Part, loop: Loop) -> tuple[str, str]:
    """The nodes of a part's first two pins, in the direction of the current in the sound loop.

    In the order of its pins where nothing flows, the current alternates, or the circuit is none.
    """
    first, second = part.kind.pins[:2]
    ends = part.pins[first], part.pins[second]
    if loop.alternating or _currents(loop).get(part.name, 0.0) > -NOTHING:
        return ends
    return ends[1], ends[0]


def _currents(loop: Loop) -> dict[str, float]:
    """Currents from the first pin to the second at the middle of the range, A."""
    # Imported late: a reading of volts needs no circuit.
    from diagnose.circuit.operating import operating_point

    found = _KNOWN.get(loop.digest) if loop.digest else None
    if found is None:
        try:
            found = operating_point(loop, {}, 0.5).currents
        except (CircuitError, ArithmeticError):
            found = {}
        if len(_KNOWN) >= KEPT:
            _KNOWN.clear()
        _KNOWN[loop.digest] = found
    return found
