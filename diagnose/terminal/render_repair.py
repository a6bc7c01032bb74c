"""When measuring ends: what to put right first, and the readings that prove it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.casework.telling import behind
from diagnose.inference.ranking import Ranking
from diagnose.loops.loop import Loop
from diagnose.terminal.naming import fault_name, part_of, place_title
from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import capital, listed, minutes, paragraph, percent, span

MOST = 5

AS_IT_RUNS = "as it runs, against what is known of the process: read again what was not as due"


def repair(ranking: Ranking, loop: Loop, look: Look) -> Iterator[str]:
    """Why measuring ends, repairs in their order, proof readings."""
    if ranking.stop:
        yield from map(look.strong, paragraph(f"{capital(ranking.stop)}.", look))
    for number, item in enumerate(ranking.remedy[:MOST], 1):
        name = fault_name(item.part, item.fault, loop)
        place = place_title(item.place, loop)
        text = f"{name}, {percent(item.probability)}, {place}, {minutes(item.minutes)}: "
        yield from paragraph(text + f"{item.action}.", look, f"  {number}. ")
    if not ranking.remedy:
        return
    hidden = behind(ranking.behind)
    if hidden:
        yield from map(look.warning, paragraph(f"{hidden}.", look, "  "))
    if ranking.proof:
        yield from _proof(ranking, loop, look)


def _proof(ranking: Ranking, loop: Loop, look: Look) -> Iterator[str]:
    """The readings that prove a repair, and the repairs that they do not see."""
    repairs = [(item.part, item.fault) for item in ranking.remedy[:MOST]]
    past = [key for key in repairs if key in ranking.unseen]
    yield f"  Proof of the {'loop' if len(past) == len(repairs) else 'repair'}:"
    for proof in ranking.proof:
        text = f"{proof.text}: {span(proof.low, proof.high, proof.unit)}"
        yield from paragraph(text, look, "     ")
    if past:
        names = listed([f"{part} {fault}" for part, fault in past], "or")
        owners = [owner for part, _ in past if (owner := part_of(part, loop)) is not None]
        trip = any("set_point" in owner.values for owner in owners)
        how = "by the site's proof test of the trip, under its bypass" if trip else AS_IT_RUNS
        text = f"It would not show {names}: prove that {how}."
        yield from map(look.warning, paragraph(text, look, "     "))


def footnotes(ranking: Ranking, look: Look) -> Iterator[str]:
    """What was not looked at, and what was assumed; a line or two each."""
    found = []
    if ranking.untested:
        untested = [f"{part} {fault}" for part, fault in ranking.untested]
        found.append(_few("Not tested, and no cause of this complaint", untested, look))
    if ranking.assumptions:
        found.append(_few("Assumed by default", ranking.assumptions, look))
    if found:
        yield ""
    for text in found:
        yield from map(look.faint, paragraph(text, look))


def _few(head: str, words: Sequence[str], look: Look) -> str:
    """As many of the words as fit on one line; the rest is counted, and JSON lists them all."""
    for shown in range(len(words), 0, -1):
        more = f" and {len(words) - shown} more (--json)" if shown < len(words) else ""
        line = f"{head}: {', '.join(words[:shown])}{more}."
        if len(line) <= look.width:
            return line
    return f"{head}: {len(words)} things, listed by --json."
