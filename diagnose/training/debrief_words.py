"""A debrief in words, for the first year: what was known, what a reading ruled out, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isinf

from diagnose.circuit.explain import Explanation
from diagnose.inference.measurement import Reading
from diagnose.inference.readings import parse_line
from diagnose.loops.loop import Loop
from diagnose.loops.states import STATES
from diagnose.quantities import format_quantity
from diagnose.training.debrief import Debrief, Lesson, Moved
from diagnose.training.debrief_end import ending, judged, worth
from diagnose.training.debrief_score import limited, outcome, scores
from diagnose.training.pages import Block, head, points, sums, text, title, warn
from diagnose.training.safety import MISTAKES
from diagnose.training.score import RULE
from diagnose.training.words import believed, fault_words, minutes, names, percent

TOLD = 5
"""Explanations that are told of a step."""


def page(debrief: Debrief, trainee: str = "") -> Iterator[Block]:
    """The whole debrief."""
    drill, loop = debrief.drill, debrief.drill.loop
    setting = drill.setting
    yield title(f"Debrief: {setting.title or 'drill'}, {loop.tag}")
    said = f"Complaint: {drill.hidden.complaint}." if drill.hidden.complaint else ""
    known = f"Known besides: {', '.join(setting.contexts)}." if setting.contexts else ""
    yield text(f"Trainee: {trainee}." if trainee else "", setting.story, said, known)
    yield from ending(debrief)
    yield from scores(debrief)
    if debrief.lessons:
        yield text(
            "Below, one bit is what a reading tells that halves what may be wrong. Chances come "
            "from your readings alone, not from what was really wrong."
        )
    for number, lesson in enumerate(debrief.lessons, 1):
        step = lesson.passed.step
        counts = bool(step.line) and step.number not in drill.withdrawn
        yield from _step(lesson, number, loop, counts)
    yield from _between(debrief)
    yield head("How the score is made")
    yield points(RULE)
    yield text(
        "All chances come from the readings alone, by the same reckoning that the tool uses in the "
        "plant; its fault rates are assumptions. In the plant, site procedures, permits and "
        "competent people decide, and no drill teaches that a step is allowed."
    )


def result_lines(debrief: Debrief) -> Iterator[str]:
    """The rule, then the result: of a small screen the last lines stand."""
    yield "The rule:"
    yield from (f"- {line}" for line in RULE)
    drill, loop, score = debrief.drill, debrief.drill.loop, debrief.score
    true = [fault_words(part, fault, loop) for part, fault in drill.hidden.keys]
    yield f"It was: {' and '.join(true)}. {judged(debrief)}"
    if limited(score):
        yield limited(score)
    yield (
        f"Score {outcome(debrief)}: verdict {score.verdict:.0f}, information "
        f"{score.information:.0f}, time {score.time:.0f}, calm {score.calm:.0f}, care "
        f"{score.care:.0f}, put back {score.restored:.0f}, unsafe and trips "
        f"{0 - score.lost:.0f}, asked {0 - score.asked:.0f}."
    )


# -- one step ------------------------------------------------------------------------------------


def _step(lesson: Lesson, number: int, loop: Loop, counts: bool) -> Iterator[Block]:
    """One step; ``counts`` is whether its reading stood to the end."""
    step = lesson.passed.step
    yield head(f"Step {number}: {step.command}")
    where = next((place.title for place in loop.places if place.name == step.place), step.place)
    where = where[:1].upper() + where[1:]
    yield text(f"{where}, {minutes(step.minutes)}, {step.clock:.0f} in all.", *_seen(lesson))
    for effect in step.effects:
        if effect.sort != "moved":
            yield warn(effect.text)
    for name in step.mistakes:
        yield warn(f"Mind: {MISTAKES[name]}.")
    if step.missing:
        yield text(f"Not arranged before it: {', '.join(step.missing)}.")
    if lesson.passed.worthless:
        stands = (
            f"It stood to the end: withdraw {step.number} lets it count no more." if counts else ""
        )
        yield text(
            "So the display told nothing about the fault. Take such a reading again.", stands
        )
        return
    yield text(f"Before it: {believed(lesson.passed.before, loop)}.")
    yield from _why(lesson)
    yield from _ruled(lesson, loop)
    yield text(f"After it: {believed(lesson.passed.after, loop)}.")
    yield from _best(lesson, loop)


def _seen(lesson: Lesson) -> Sequence[str]:
    return [f"{line}." for line in lesson.passed.step.told[:1]]


def _why(lesson: Lesson) -> Iterator[Block]:
    """Kirchhoff and Ohm, numbers put in, with what was really wrong."""
    if lesson.truth is not None:
        yield text(
            "Why it reads about that, with what was really wrong and all else as on the sheet:"
        )
        yield sums(_sums(lesson.truth))


def _ruled(lesson: Lesson, loop: Loop) -> Iterator[Block]:
    gone = lesson.ruled_out[:TOLD]
    if gone:
        yield text("What this reading rules out:")
        yield points(statement(item, lesson, loop) for item in gone)
        if lesson.rival is not None:
            yield text(f"{names(gone[0].keys, loop)} would have given:")
            yield sums(_sums(lesson.rival))
    else:
        yield text("This reading rules nothing out.")
    grown = lesson.grown[:TOLD]
    if grown:
        told = "; ".join(
            f"{names(m.keys, loop)}{_more(m)}, {percent(m.before)} before and "
            f"{percent(m.after)} after" for m in grown
        )  # fmt: skip
        yield text(f"It speaks for: {told}.")


def _sums(why: Explanation) -> tuple[str, ...]:
    """Formula, numbers, result; and which law sets a current."""
    told = (f"{why.quantity} = {one}" for one in (why.formula, why.numbers, why.result))
    return (*dict.fromkeys(told), *why.notes)


def statement(item: Moved, lesson: Lesson, loop: Loop) -> str:
    """What would have been seen, what was seen, and how the chance fell."""
    would = _would(item)
    value = _read(item, lesson, loop)
    return (
        f"{names(item.keys, loop)}{_more(item)}: it would have shown {would}; you read {value}. "
        f"Its chance falls from {percent(item.before)} to {percent(item.after)}."
    )


def _read(item: Moved, lesson: Lesson, loop: Loop) -> str:
    """What was read: as it was shown, but volts in the unit that beside it stands."""
    step = lesson.passed.step
    shown = step.told[0].rpartition(": ")[2]
    reading = parse_line(step.line, loop) if item.unit == "V" and shown.endswith(" V") else None
    if isinstance(reading, Reading) and "mV" in _would(item):
        return format_quantity(reading.value, "V")
    return shown


def _would(item: Moved) -> str:
    if item.unit in STATES:
        states = STATES[item.unit]
        sure = item.low > 0.95 or item.low < 0.05
        return states.word(item.low > 0.5) if sure else f"{states.on} in {item.low:.0%}"
    if isinf(item.low):
        return "OL"
    low = format_quantity(item.low, item.unit)
    return f"{low} to {'OL' if isinf(item.high) else format_quantity(item.high, item.unit)}"


def _best(lesson: Lesson, loop: Loop) -> Iterator[Block]:
    before = lesson.passed.before
    best, chosen = before.best, before.chosen
    if best is None:
        yield text("Enough was known before this step: no further reading was worth its minutes.")
    elif chosen is not None and chosen.measurement == best.measurement:
        own = worth(chosen, loop, lesson.passed.step.minutes)
        yield text(f"This was the best step to take: {own}.", *_free(lesson))
    elif chosen is not None and lesson.passed.share >= 0.995:
        own = worth(chosen, loop, lesson.passed.step.minutes)
        yield text(f"No step told more for what it cost: {own}.")
    elif chosen is not None:
        own = worth(chosen, loop, lesson.passed.step.minutes)
        yield text(
            f"The best step then was {best.text}: {worth(best, loop)}. Yours was expected to tell "
            f"{own}; per minute, handling counted, that is "
            f"{lesson.passed.share * 100:.0f} % of it.", *_free(lesson)
        )  # fmt: skip


def _free(lesson: Lesson) -> Iterator[str]:
    """What a glance or a call would have told before a meter was taken in hand."""
    chosen = lesson.passed.step.measurement
    shown = [one for one in lesson.passed.before.ranking.free if one.of and not one.other]
    best = lesson.passed.before.best
    asked = best is not None and best.measurement.function == "shows"
    if shown and not asked and chosen is not None and chosen.function != "shows":
        first, bits = shown[0], f"{shown[0].gain_bits:.2f} bit"
        yield f"What {first.of} shows could be asked first, and costs nothing: {bits}."


def _between(debrief: Debrief) -> Iterator[Block]:
    """What was done wrong besides measuring, and what was left altered."""
    odd = [s for s in debrief.drill.steps if s.sort == "set" and (s.effects or s.mistakes)]
    for step in odd:
        told = [e.text for e in step.effects if e.sort != "moved"]
        told += [f"Mind: {MISTAKES[name]}." for name in step.mistakes]
        if told:
            yield warn(f"{step.command}: {' '.join(told)}")
    if debrief.drill.items:
        yield warn(f"Left altered when you closed: {', '.join(debrief.drill.items)}.")


def _more(item: Moved) -> str:
    return f" and {item.more} like it" if item.more else ""
