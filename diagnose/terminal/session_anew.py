"""On with the hunt where a repair did not help: the loop is another than it was."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.casework import events as e
from diagnose.casework.case import LEFT_BEHIND
from diagnose.casework.checks import CaseError
from diagnose.casework.proofs import latest
from diagnose.terminal.proof_due import proof_due
from diagnose.terminal.session_talk import Talk
from diagnose.terminal.wording import paragraph


def anew(talk: Talk, rest: str) -> Iterator[str]:
    """Leave behind what was read before the last repair; what its proof showed counts instead."""
    hunt = talk.hunt
    case, proofs = hunt.case, latest(hunt.case)
    if not case.remedies:
        raise CaseError("nothing was repaired yet: remedy and its number")
    failed = not all(item.passed for item in proofs)
    if not (failed or case.read_since) and proof_due(hunt).sees:
        raise CaseError(
            "no proof reading of the repair failed, and nothing was read since: proof, or read "
            "again what was not as due"
        )
    old = [item for item in case.in_force if item.number < case.repaired_at]
    for item in old:
        hunt.file.append(e.ReadingWithdrawn(item.number, LEFT_BEHIND))
    known = {item.text for item in hunt.case.in_force}
    fresh = [item.text for item in proofs if item.text not in known]
    for text in fresh:
        hunt.file.append(e.ReadingTaken(text, hunt.place, 0.0, False))
    hunt.onward = True
    place = f" In their place: {len(fresh)} of the proof." if proofs else ""
    tried = case.remedies[-1]
    right = (
        f" {tried.part} {tried.fault} is still among the suspects: if it is right now beyond "
        f"doubt, type good {tried.part} {tried.fault}."
        if tried.part is not None
        else ""
    )
    yield from paragraph(
        f"Left behind, for the loop is another since: {len(old)} of the readings.{place} The "
        f"complaint still counts; withdraw its words if it is gone.{right}",
        talk.look,
    )
