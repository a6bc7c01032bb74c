"""Keystrokes of whole hunts, from the complaint to the closed case.

    python tests/benchmarks/keystrokes.py

Three simulated faults on different loops, each hunted as the session advises, repaired, proved and
closed.  Counted is every key, Enter included: as the session takes them, where a bare value answers
what is asked, and with each reading written in full, which the session would take as well.
Completion by Tab is not used.  Nothing is asserted.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from diagnose.casework.hunt import Hunt  # noqa: E402
from diagnose.casework.log import CaseFile  # noqa: E402
from diagnose.terminal.outcome import Look  # noqa: E402
from diagnose.terminal.session_questions import opening  # noqa: E402
from diagnose.terminal.session_talk import Talk, is_value  # noqa: E402
from terminal.simulated_field import Field, Technician  # noqa: E402

HUNTS = (
    ("LT-214", "R1", "drift", "reads high", 0.62),
    ("TT-131", "W31A.X31", "high resistance", "reads high", 0.4),
    ("XV-221", "XY-221", "open", "does not follow", 1.0),
)
MOST_LINES = 60


def walked(
    tag: str, part: str, fault: str, complaint: str, process: float
) -> tuple[list[int], str]:
    """Keys typed, keys with every reading in full, readings; and how the hunt ended."""
    field = Field(tag, part, fault, process)
    technician = Technician(field, complaint)
    with (
        tempfile.TemporaryDirectory() as folder,
        CaseFile.create(Path(folder), field.loop) as file,
    ):
        talk = Talk(Hunt(file, field.loop, lambda: field.engine, "cabinet"), Look(80))
        talk.questions = opening(talk)
        text, typed, full = "\n".join(talk.ahead()), 0, 0
        for _ in range(MOST_LINES):
            prompt = talk.prompt()
            line = technician.line(prompt, text)
            typed += len(line) + 1
            name = prompt.rstrip().removesuffix(">").removesuffix("=").strip()
            measured = is_value(line) and name != "complaint"
            full += len(f"{name} {line}" if measured else line) + 1
            text = "\n".join(talk.hear(line))
            if talk.over:
                break
        case = talk.hunt.case
        cause = f"{case.cause.part} {case.cause.fault}" if case.cause else "no cause confirmed"
        return [typed, full, len(case.readings) + len(case.proofs)], f"{case.status}, {cause}"


if __name__ == "__main__":
    for tag, part, fault, complaint, process in HUNTS:
        (typed, full, readings), ended = walked(tag, part, fault, complaint, process)
        print(
            f"{tag:<8}{part + ' ' + fault:<26}{typed:5} keys, {full:5} with each reading in full "
            f"({typed / full:.2f}), {readings:3} readings; {ended}"
        )
