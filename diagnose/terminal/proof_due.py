"""The readings that prove the last repair of a hunt, and whether they prove it at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.casework.hunt import Hunt
from diagnose.inference.ranking import Proof


@dataclass(frozen=True, slots=True)
class Due:
    """Proof readings; ``sees`` is whether any of them would show the fault that was put right."""

    proofs: tuple[Proof, ...]
    sees: bool


def proof_due(hunt: Hunt) -> Due:
    """The proof of the loop, and of the other displays those that would show the repaired fault.

    Before a repair it is the proof of the loop alone.
    """
    # Imported late, like the engine.
    from diagnose.inference.proof_sees import fewest, showing

    proofs, tried = hunt.ranking().proof, hunt.case.remedies[-1:]
    if not proofs or not tried or tried[0].part is None:
        return Due(proofs, bool(proofs))
    engine, key = hunt.engine, (tried[0].part, tried[0].fault)
    for known in (proofs, engine.proof):  # what was put right may be none of what leads
        if showing(engine, *key, known):
            return Due(fewest(engine, [key], known), True)
    more = _whole(showing(engine, *key, engine.receivers), engine.receivers)
    return Due((*fewest(engine, [key], proofs), *more), bool(more))


def _whole(some: Sequence[Proof], known: Sequence[Proof]) -> tuple[Proof, ...]:
    """Some proof readings, and the same displays at the other points: one point after the other.

    A relay that holds again is no proof that it still lets go: a trip is seen on both of its sides.
    """
    shown = {item.measurement.points for item in some if item.measurement}
    found = [item for item in known if item.measurement and item.measurement.points in shown]
    order = list(dict.fromkeys(item.measurement.condition for item in found if item.measurement))
    return tuple(
        item
        for condition in order
        for item in found
        if item.measurement and item.measurement.condition == condition
    )
