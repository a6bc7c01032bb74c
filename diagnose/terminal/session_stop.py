"""The STOP of a complaint: it stands until it is answered, and is asked again where it was not."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.casework.lines import as_said
from diagnose.errors import DiagnoseError
from diagnose.inference.cautions import CAUTIONS
from diagnose.inference.measurement import Complaint
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import Loop
from diagnose.terminal.session_talk import AGREE, Question, Talk
from diagnose.terminal.session_view import cautions
from diagnose.terminal.wording import listed

STANDS = "Type ok once this is dealt with; undo, where it was not the complaint."


def stop(talk: Talk) -> None:
    """Put the STOP of a complaint before all other questions, or take it away with the complaint.

    Only ``ok`` answers it: the next line of a talk must not wipe it off the screen.
    """
    standing = [item for item in talk.questions if STANDS in item.text]
    keys = unanswered(talk)
    if standing and not keys:
        talk.questions.remove(standing[0])
    if not keys or standing:
        return

    def answer(line: str) -> Iterator[str]:
        if line.casefold() != "ok":
            yield from () if talk.drawn else told
            yield f"Not taken: the STOP of {listed(keys)} stands first. {STANDS}"
            return
        talk.hunt.acknowledge(keys)
        yield "Noted."

    told = tuple(cautions(keys, frozenset(), talk.look))
    talk.questions.insert(0, Question(AGREE, answer, (*told, STANDS)))


def unanswered(talk: Talk) -> tuple[str, ...]:
    """Complaints that have a red caution of their own which nobody has answered in this case."""
    case = talk.hunt.case
    said = (_complaint(as_said("complaint", text), talk.loop) for text in case.complaints)
    red = {name for name in said if name in CAUTIONS and CAUTIONS[name].acknowledge}
    return tuple(sorted(red.difference(case.acknowledged)))


def _complaint(line: str, loop: Loop) -> str:
    """The complaint of a line as the loop calls it; empty where it is none."""
    try:
        found = parse_line(line, loop)
    except DiagnoseError:
        return ""
    return found.name if isinstance(found, Complaint) else ""
