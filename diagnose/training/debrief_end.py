"""How a drill ended, in words: what was wrong, the verdict, and what would have told more."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.inference.advice import SURE
from diagnose.inference.ranking import Advice
from diagnose.loops.loop import Loop
from diagnose.training.debrief import Debrief
from diagnose.training.pages import Block, head, points, text
from diagnose.training.score import GUESSED, known, measured_by_chance
from diagnose.training.verdicts import GROUP, NOT_FOUND
from diagnose.training.words import fault_words, minutes, percent

LED = 0.05
"""Share of the way to what was wrong from which on readings led there at all."""


def ending(debrief: Debrief) -> Iterator[Block]:
    """What was wrong, and how the verdict stands to it and to the readings."""
    drill, loop = debrief.drill, debrief.drill.loop
    true = [
        f"{fault_words(f.part, f.mode.name, loop)}: {f.mode.title}" for f in drill.hidden.faults
    ]
    yield head("What was wrong")
    if true:
        often = ", on and off" if drill.setting.intermittent else ""
        yield points(f"{line}{often}." for line in true)
    else:
        yield text("Nothing: the loop was sound, and what it showed was really there.")
    said = [fault_words(part, fault, loop) for part, fault in drill.verdict]
    verdict = " and ".join(said) if said else "none was given"
    yield text(f"Your verdict: {verdict}. {judged(debrief)}", *_against(debrief), *_more(debrief))
    group = _alike(debrief)
    if group:
        yield text(
            f"With your readings, these cannot be told apart any further: {'; '.join(group)}. "
            "Then the right verdict is the group: inspect its members in turn."
        )


def judged(debrief: Debrief) -> str:
    """Whether the verdict is right, and whether the readings bore it out."""
    share = debrief.score.right
    if NOT_FOUND in debrief.drill.verdict:
        return f"Given up: {_gone(debrief)}; no sound part is changed for a wrong name."
    if share <= 0:
        return "That is not what was wrong."
    right = "That is right." if share >= 0.999 else f"That is right to {share * 100:.0f} %."
    return right + _lucky(debrief)


def _gone(debrief: Debrief) -> str:
    """How far the readings had led."""
    share = debrief.score.narrowed
    if share < LED:
        return "your readings had not led to what was wrong"
    return f"your readings had gone {percent(share)} of the way to what was wrong"


def _lucky(debrief: Debrief) -> str:
    """What is said of a verdict that the readings did not bear out yet; empty where they did."""
    if debrief.score.borne >= 1:
        return ""
    if not measured_by_chance(debrief.drill):
        return " Your readings had hardly led there: in the plant that is a guess."
    chance = known(debrief.drill, debrief.end)
    return f" Your readings had put it at {percent(chance)} only: in the plant that is a guess."


def _against(debrief: Debrief) -> Iterator[str]:
    """Of a wrong verdict, what the readings had said of it: were they against it, or too few."""
    drill = debrief.drill
    if debrief.score.right >= GROUP or NOT_FOUND in drill.verdict or not measured_by_chance(drill):
        return
    chance = known(drill, debrief.end)
    true = debrief.end.alike(drill.hidden.keys[0])
    due = sum(debrief.end.probability.get((key,), 0.0) for key in true)
    yield (
        f"Your readings had put it at {percent(chance)}, and what was wrong, with what reads the "
        f"same, at {percent(due)}."
    )
    if chance >= GUESSED:
        yield "They leaned that way: it took more of them."
        return
    spoke = [n for n, lesson in enumerate(debrief.lessons, 1)
             if any(item.keys[0] in drill.verdict for item in lesson.ruled_out)]  # fmt: skip
    if spoke:
        yield f"Step {spoke[0]} had spoken against it."


def _more(debrief: Debrief) -> Iterator[str]:
    """What would have told most when the verdict was given, where that was too early."""
    best, drill = debrief.end.best, debrief.drill
    early = debrief.score.right <= 0 or debrief.score.borne < 1 or (
        measured_by_chance(drill) and known(drill, debrief.end) < SURE
    )  # fmt: skip
    if best is not None and early:
        yield f"What would have told more then: {best.text}, {worth(best, drill.loop)}."


def worth(step: Advice, loop: Loop, took: float | None = None) -> str:
    """What a step was expected to tell, in which time, and where; ``took`` is what it did take."""
    where = next((place.title for place in loop.places if place.name == step.place), step.place)
    spent = minutes(step.minutes if took is None else took)
    return f"{step.gain_bits:.2f} bit in {spent}, at {where}"


def _alike(debrief: Debrief) -> list[str]:
    """The explanations in the group of the first true fault, where there are several left."""
    key, end, loop = debrief.drill.hidden.keys[0], debrief.end, debrief.drill.loop
    alive = [k for k in end.alike(key) if end.probability.get((k,), 0.0) >= 0.02 or k == key]
    told = [fault_words(part, fault, loop) for part, fault in sorted(alive, key=str)]
    return told if len(told) > 1 else []
