"""A debrief in words, for the first year: what was known, what a reading ruled out, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isinf

from diagnose.circuit.explain import Explanation
from diagnose.inference.ranking import Advice
from diagnose.loops.loop import Loop
from diagnose.loops.states import STATES
from diagnose.quantities import format_quantity
from diagnose.training.debrief import Debrief, Lesson, Moved
from diagnose.training.pages import Block, head, points, sums, table, text, title, warn
from diagnose.training.safety import MISTAKES
from diagnose.training.score import (
    CALM,
    CARE,
    GUESSED,
    INFORMATION,
    RESTORED,
    RULE,
    TIME,
    VERDICT,
    known,
)
from diagnose.training.verdicts import NOT_FOUND
from diagnose.training.words import believed, fault_words, minutes, names, percent

LED = 0.05
"""Share of the way to what was wrong from which on readings led there at all."""

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
    yield from _ending(debrief)
    yield from _scores(debrief)
    if debrief.lessons:
        yield text(
            "Below, one bit is what a reading tells that halves what may be wrong. Chances come "
            "from your readings alone, not from what was really wrong."
        )
    for number, lesson in enumerate(debrief.lessons, 1):
        yield from _step(lesson, number, loop)
    yield from _between(debrief)
    yield head("How the score is made")
    yield points(RULE)
    yield text(
        "All chances come from the readings alone, by the same reckoning that the tool uses in the "
        "plant; its fault rates are assumptions. In the plant, site procedures, permits and "
        "competent people decide, and no drill teaches that a step is allowed."
    )


def _ending(debrief: Debrief) -> Iterator[Block]:
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
    yield text(f"Your verdict: {verdict}. {_right(debrief)}")
    group = _alike(debrief)
    if group:
        yield text(
            f"With your readings, these cannot be told apart any further: {'; '.join(group)}. "
            "Then the right verdict is the group: inspect its members in turn."
        )


def result_lines(debrief: Debrief) -> Iterator[str]:
    """The rule, then the result: of a small screen the last lines stand."""
    yield "The rule:"
    yield from (f"- {line}" for line in RULE)
    drill, loop, score = debrief.drill, debrief.drill.loop, debrief.score
    true = [fault_words(part, fault, loop) for part, fault in drill.hidden.keys]
    yield f"It was: {' and '.join(true)}. {_right(debrief)}"
    mark = drill.setting.pass_mark
    passed = "passed" if score.total >= mark else "not passed"
    yield (
        f"Score {score.total:.0f} of 100, {passed} (pass mark {mark:.0f}): verdict "
        f"{score.verdict:.0f}, information {score.information:.0f}, time {score.time:.0f}, calm "
        f"{score.calm:.0f}, care {score.care:.0f}, put back {score.restored:.0f}, unsafe and trips "
        f"{0 - score.lost:.0f}, asked {0 - score.asked:.0f}."
    )


def _right(debrief: Debrief) -> str:
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
    chance = known(debrief.drill, debrief.end)
    if chance >= GUESSED:
        return ""
    return f" Your readings had put it at {percent(chance)} only: in the plant that is a guess."


def _alike(debrief: Debrief) -> list[str]:
    """The explanations in the group of the first true fault, where there are several left."""
    key, end, loop = debrief.drill.hidden.keys[0], debrief.end, debrief.drill.loop
    alive = [k for k in end.alike(key) if end.probability.get((k,), 0.0) >= 0.02 or k == key]
    return [fault_words(part, fault, loop) for part, fault in sorted(alive, key=str)][1:] and [
        fault_words(part, fault, loop) for part, fault in sorted(alive, key=str)
    ]


def _scores(debrief: Debrief) -> Iterator[Block]:
    score, limit = debrief.score, debrief.drill.setting.minutes
    mark = debrief.drill.setting.pass_mark
    passed = "passed" if score.total >= mark else "not passed"
    yield head(f"Score: {score.total:.0f} of 100, {passed} (pass mark {mark:.0f})")
    rows = (
        ("verdict", score.verdict, VERDICT), ("information", score.information, INFORMATION),
        ("time", score.time, TIME), ("calm plant", score.calm, CALM), ("care", score.care, CARE),
        ("put back", score.restored, RESTORED),
    )  # fmt: skip
    yield table(
        ("part", "points", "of"),
        [(name, f"{won:.1f}", f"{most:.0f}") for name, won, most in rows]
        + [("unsafe steps, trips, upsets", f"{0 - score.lost:.0f}", "")]
        + [("hints, ranking, advice", f"{0 - score.asked:.0f}", "")],
    )
    yield text(
        f"Readings: {score.readings}. Minutes: {score.minutes:.0f} of {limit:.0f}. Times that the "
        f"loop was opened: {score.interruptions}. Trips: {score.trips}. Steps with something "
        f"unsafe in them: {score.unsafe}."
    )


# -- one step ------------------------------------------------------------------------------------


def _step(lesson: Lesson, number: int, loop: Loop) -> Iterator[Block]:
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
        yield text("So the display told nothing about the fault. Take such a reading again.")
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
    value = lesson.passed.step.told[0].rpartition(": ")[2]
    return (
        f"{names(item.keys, loop)}{_more(item)}: it would have shown {would}; you read {value}. "
        f"Its chance falls from {percent(item.before)} to {percent(item.after)}."
    )


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
        yield text(f"This was the best step to take: {_worth(chosen, loop)}.", *_free(lesson))
    elif chosen is not None and lesson.passed.share >= 0.995:
        yield text(f"No step told more for what it cost: {_worth(chosen, loop)}.")
    elif chosen is not None:
        yield text(
            f"The best step then was {best.text}: {_worth(best, loop)}. Yours was expected to tell "
            f"{_worth(chosen, loop)}; per minute, handling counted, that is "
            f"{lesson.passed.share * 100:.0f} % of it.", *_free(lesson)
        )  # fmt: skip


def _free(lesson: Lesson) -> Iterator[str]:
    """What a glance or a call would have told before a meter was taken in hand."""
    chosen = lesson.passed.step.measurement
    shown = [one for one in lesson.passed.before.ranking.free if one.of and not one.other]
    if shown and chosen is not None and chosen.function != "shows":
        first, bits = shown[0], f"{shown[0].gain_bits:.2f} bit"
        yield f"What {first.of} shows could be asked first, and costs nothing: {bits}."


def _worth(step: Advice, loop: Loop) -> str:
    where = next((place.title for place in loop.places if place.name == step.place), step.place)
    return f"{step.gain_bits:.2f} bit in {minutes(step.minutes)}, at {where}"


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
