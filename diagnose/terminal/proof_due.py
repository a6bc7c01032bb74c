"""The readings that prove the last repair of a hunt, and whether they prove it at all."""

from __future__ import annotations

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
    from diagnose.inference.proof_sees import showing

    proofs, tried = hunt.ranking().proof, hunt.case.remedies[-1:]
    if not proofs or not tried or tried[0].part is None:
        return Due(proofs, bool(proofs))
    engine, key = hunt.engine, (tried[0].part, tried[0].fault)
    if showing(engine, *key, proofs):
        return Due(proofs, True)
    more = showing(engine, *key, engine.receivers)
    return Due((*proofs, *more), bool(more))
