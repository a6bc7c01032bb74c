"""Where a hunt stands after a line: a snapshot, and how it is told in lines of any width."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from diagnose.casework.case import Case, Open
from diagnose.casework.hunt_task import Task
from diagnose.inference.ranking import Advice, Ranking
from diagnose.loops.changes import Change
from diagnose.loops.loop import Loop, Part
from diagnose.terminal import session_view as view
from diagnose.terminal.naming import part_of, place_title
from diagnose.terminal.outcome import Look
from diagnose.terminal.proof_due import proof_due
from diagnose.terminal.render_doubt import distrust
from diagnose.terminal.render_ranking import verdict
from diagnose.terminal.session_return import back_to_service
from diagnose.terminal.wording import listed, paragraph

if TYPE_CHECKING:
    from diagnose.terminal.session_talk import Talk

WORTH_A_LOOK = 0.05
"""Chance of a bypass that was left on from which on it is looked at before all else."""


@dataclass(frozen=True)
class Turn:
    """What is believed, what is to be done, and what must be known of it; never changed.

    ``seen`` are the cautions that were read before, ``owed`` those of a reading that nobody asked
    for, ``back`` what is to be put back first, ``missing`` what would open more steps, ``needs``
    what a proof needs on record, ``sees`` whether its readings would show the fault that was put
    right.
    """

    loop: Loop
    case: Case
    ranking: Ranking
    task: Task | None
    agreed: bool
    calm: bool
    seen: frozenset[str] = frozenset()
    owed: tuple[str, ...] = ()
    back: tuple[Open, ...] = ()
    missing: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    sees: bool = True

    @property
    def others(self) -> list[Advice]:
        """Other steps worth taking."""
        task = self.task
        return [a for a in self.ranking.next[:3] if task and a.measurement != task.measurement]


def take_stock(talk: Talk) -> Turn:
    """Look at where the hunt stands; what is shown now was seen the next time."""
    hunt = talk.hunt
    ranking, case = hunt.ranking(), hunt.case
    task = hunt.advise()
    turn = Turn(
        loop=talk.loop, case=case, ranking=ranking, task=task,
        agreed=task is None or hunt.agreed(task), calm=bool(hunt.missing),
        seen=frozenset(talk.seen), owed=talk.owed,
        back=hunt.to_put_back(task) if task else case.open_items,
        missing=_missing(talk, ranking, task), needs=hunt.missing,
        sees=not case.remedies or case.cause is not None or proof_due(hunt).sees,
    )  # fmt: skip
    talk.seen.update(task.cautions if task else ())
    return turn


def _missing(talk: Talk, ranking: Ranking, task: Task | None) -> tuple[str, ...]:
    """Once, and where nothing is left: what would open more steps."""
    missing = talk.hunt.missing
    tie = view.leads_by_tie(ranking)
    repaired = task is None and talk.hunt.case.remedies  # what its proof needs is said there
    stuck = task is None and (not ranking.resolved or tie) and not repaired
    new = task is not None and ("tie" if tie else "calm") not in talk.seen
    talk.seen.update({"tie"} if tie and new else ())
    if not missing or talk.hunt.case.cause or not (stuck or new):
        return ()
    talk.seen.add("calm")
    return missing


def belief(turn: Turn, look: Look) -> Iterator[str]:
    """Verdict, bars, what is distrusted; nothing once the cause is proved and measuring over."""
    if turn.case.cause is None or turn.task is not None:
        read = len(turn.case.evidence)
        yield from view.standing(turn.ranking, turn.loop, look, read, turn.calm)


def bars_first(turn: Turn, look: Look) -> Iterator[str]:
    """The belief for a small part of a screen: bars, what is distrusted, then the verdict."""
    if turn.case.cause is None or turn.task is not None:
        yield from view.few_bars(turn.ranking, turn.loop, look)
        yield from distrust(turn.ranking, look)
        text = verdict(turn.ranking, turn.loop, len(turn.case.evidence), turn.calm)
        yield from map(look.strong, paragraph(text, look))


def due(turn: Turn, look: Look, headed: bool = True) -> Iterator[str]:
    """What to do next: put back, measure or repair, with the cautions of it.

    Where a title says already where the step is taken, it is not ``headed``.
    """
    yield from _still_open(turn, look)
    yield from view.confirmed(turn.case, turn.loop, look)
    if turn.case.cause is not None:
        yield from back_to_service(turn.case, turn.loop, look)
    proof = bool(turn.ranking.proof)
    yield from view.repaired(turn.case, turn.loop, look, proof, turn.sees, turn.needs)
    yield from _looked_at_first(turn, look)
    if turn.task is not None and headed:
        yield ""
        yield from map(look.strong, paragraph(f"{view.step_head(turn.task, turn.loop)}.", look))
    if turn.task is not None:
        yield from view.step(turn.task, turn.loop, look, turn.others, turn.seen, turn.agreed)
        if not turn.agreed:
            yield from paragraph("Type ok once this is dealt with, then the value.", look, "  ")
    elif turn.case.cause is None and not turn.case.remedies:
        yield from view.closing(turn.ranking, turn.loop, look, turn.calm)
    stated = turn.task.red if turn.task is not None and not turn.agreed else ()
    owed = [key for key in turn.owed if key not in stated]
    if owed:
        yield "That reading has cautions of its own; type ok once they are read:"
        yield from view.cautions(owed, frozenset(), look)
    if turn.missing:
        yield from map(look.faint, paragraph(_opens(turn.missing), look))


def _looked_at_first(turn: Turn, look: Look) -> Iterator[str]:
    """A bypass that may have been left on: looking at it costs nothing.

    Where a bypass is on record it was looked at, and is on.
    """
    on_record = any(item.item == "bypass" for item in turn.case.open_items)
    for item in turn.ranking.hypotheses if turn.task is not None and not on_record else ():
        part = part_of(item.part, turn.loop)
        if part is None or item.probability < WORTH_A_LOOK or not _is_bypass(part, item.fault):
            continue
        where = place_title(part.place, turn.loop)
        text = (
            f"{part.name} ({part.title or part.kind.title}, {where}). If it was left on, the plant "
            "is without this trip: leave it, and tell the shift lead before anything is measured. "
            f"If it is off: good {part.name} {item.fault}."
        )
        yield from map(look.warning, paragraph(text, look, "Look first: "))
        return


def _is_bypass(part: Part, fault: str) -> bool:
    """Whether a fault is what somebody does on purpose to take a trip off, and needs leave for."""
    left = [_moved(mode.changes) for mode in part.kind.modes if mode.name == fault]
    return any(_moved(act.changes) in left for act in part.kind.actions if "trip" in act.cautions)


def _moved(changes: Iterable[Change]) -> set[tuple[str, str]]:
    return {(item.parameter, item.of) for item in changes}


def _opens(missing: tuple[str, ...]) -> str:
    are = "is" if len(missing) == 1 else "are"
    return (
        "Only steps that do not disturb the loop are advised; more open up once "
        f"{listed(missing)} {are} agreed and typed here."
    )


def _still_open(turn: Turn, look: Look) -> Iterator[str]:
    """What should be put back before the next step."""
    if turn.back:
        names = "; ".join(map(str, turn.back))
        text = f"Put back first: {names}. Then type done." if turn.task else f"Still open: {names}."
        yield from map(look.warning, paragraph(text, look))
