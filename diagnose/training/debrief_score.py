"""The score of a drill in words: each part with its reason, and the steps at a glance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from diagnose.training.debrief import Debrief, Lesson
from diagnose.training.needs import CURES, LEFT
from diagnose.training.pages import Block, head, points, table, text, warn
from diagnose.training.safety import UNSAFE
from diagnose.training.score import CALM, CARE, INFORMATION, RESTORED, TIME, VERDICT, Score
from diagnose.training.verdicts import GROUP, NOT_FOUND
from diagnose.training.words import minutes

POOR = 0.25
"""Share of the best step below which a step was badly chosen."""


def scores(debrief: Debrief) -> Iterator[Block]:
    """The points, each with its reason; what to do next time; the steps at a glance."""
    score, limit = debrief.score, debrief.drill.setting.minutes
    yield head(f"Score: {outcome(debrief)}")
    won = (
        ("verdict", score.verdict, VERDICT), ("information", score.information, INFORMATION),
        ("time", score.time, TIME), ("calm plant", score.calm, CALM), ("care", score.care, CARE),
        ("put back", score.restored, RESTORED),
    )  # fmt: skip
    why = _reasons(debrief)
    yield table(
        ("part", "points", "of", "why"),
        [(name, f"{got:.1f}", f"{most:.0f}", why[name]) for name, got, most in won]
        + [("unsafe steps, trips, upsets", f"{0 - score.lost:.0f}", "", _lost(score))]
        + [("hints, ranking, advice", f"{0 - score.asked:.0f}", "", _asked(debrief))],
    )
    if score.earned < 1:
        share = f"{score.earned * 100:.0f} %"
        yield text(f"Time, calm, care and putting back count {share}, as the verdict does.")
    if limited(score):
        yield warn(limited(score))
    yield text(
        f"Readings: {score.readings}. Minutes: {score.minutes:.0f} of {limit:.0f}. Times that the "
        f"loop was opened: {score.interruptions}. Trips: {score.trips}. Steps with something "
        f"unsafe in them: {score.unsafe}."
    )
    advice = list(_next_time(debrief))
    if advice:
        yield head("Next time")
        yield points(advice)
    if len(debrief.lessons) > 1:
        yield head("The steps at a glance")
        names = ("step", "taken", "minutes", "of the best", "what it told", "mind")
        yield table(names, [_glance(n, one) for n, one in enumerate(debrief.lessons, 1)])


def outcome(debrief: Debrief) -> str:
    """The score, and whether it passes."""
    total, mark = debrief.score.total, debrief.drill.setting.pass_mark
    passed = "passed" if total >= mark else "not passed"
    return f"{total:.0f} of 100, {passed} (pass mark {mark:.0f})"


def limited(score: Score) -> str:
    """Why the score is less than its parts add up to, where it is; empty otherwise."""
    if not score.grave:
        return ""
    steps = "One step was" if score.grave == 1 else f"{score.grave} steps were"
    return f"{steps} unsafe or tripped the plant: at most {score.cap:.0f} points in all."


def _reasons(debrief: Debrief) -> dict[str, str]:
    drill, score = debrief.drill, debrief.score
    needed = sum(len(step.needed) for step in drill.steps)
    missing = sum(len(step.missing) for step in drill.steps)
    moved = sum(step.disturbs and not step.interrupts for step in drill.steps)
    half = drill.setting.minutes / 2
    return {
        "verdict": _named(debrief),
        "information": f"{score.information / INFORMATION * 100:.0f} % of what the best steps "
        "would have told per minute" if debrief.lessons else "nothing was read",
        "time": f"{minutes(score.minutes)}; in full up to {half:.0f}",
        "calm plant": f"loop opened: {_times(score.interruptions)}; signal moved: {_times(moved)}",
        "care": f"{needed - missing} of {needed} things that were needed first were arranged"
        if needed else "no step needed an arrangement",
        "put back": f"left altered: {', '.join(drill.items)}" if drill.items else "all put back",
    }  # fmt: skip


def _named(debrief: Debrief) -> str:
    score = debrief.score
    if NOT_FOUND in debrief.drill.verdict:
        return f"given up, {score.narrowed * 100:.0f} % of the way to what was wrong"
    if score.right <= 0:
        return "not what was wrong"
    right = "group, part and mode are right"
    if score.right < 0.999:
        right = f"right to {score.right * 100:.0f} %{_partly(debrief)}"
    return f"{right}; a guess, counts {score.borne * 100:.0f} %" if score.borne < 1 else right


def _partly(debrief: Debrief) -> str:
    """Of one name against one fault, what of it is right: the rule pays part, mode and group."""
    said, true = debrief.drill.verdict, debrief.drill.hidden.keys
    if len(said) != 1 or len(true) != 1:
        return ""
    part = said[0][0] == true[0][0]
    if debrief.score.right >= GROUP:
        return ": its group" + (", and the part" if part else ", at another part")
    return ": the part, with another fault of it"


def _lost(score: Score) -> str:
    counts = (("trip", score.trips), ("upset", score.upsets), ("unsafe step", score.unsafe))
    return ", ".join(f"{n} {name}{'s' * (n != 1)}" for name, n in counts if n)


def _asked(debrief: Debrief) -> str:
    asked = Counter(step.command for step in debrief.drill.steps if step.points)
    return ", ".join(f"{word} {_times(n)}" for word, n in asked.items())


def _times(number: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(number, f"{number} times")


def _next_time(debrief: Debrief) -> Iterator[str]:
    """What to do otherwise next time: safety first, then the choice of readings."""
    drill = debrief.drill
    made = dict.fromkeys(name for step in drill.steps for name in step.mistakes)
    gravest = sorted(made, key=lambda name: name not in UNSAFE)
    yield from (CURES[name] for name in gravest)
    if drill.items:
        yield CURES[LEFT]
    if debrief.score.borne < 1:
        yield "Read on before you give a verdict: until one group holds most of the chance."
    poor = [str(n) for n, one in enumerate(debrief.lessons, 1) if _poor(one)]
    if poor:
        yield (
            f"Before you measure, ask which explanations the answer would tell apart. Step"
            f"{'s' * (len(poor) > 1)} {', '.join(poor)} could tell little for the minutes."
        )
    if any(_unasked(one) for one in debrief.lessons):
        yield "Ask first what the displays show: it costs nothing and disturbs nothing."


def _poor(lesson: Lesson) -> bool:
    return not lesson.passed.worthless and lesson.passed.share < POOR


def _unasked(lesson: Lesson) -> bool:
    """Whether a meter was taken in hand while the best step was a display that could be asked."""
    best, chosen = lesson.passed.before.best, lesson.passed.step.measurement
    metered = chosen is not None and chosen.function != "shows"
    return metered and best is not None and best.measurement.function == "shows"


def _glance(number: int, lesson: Lesson) -> tuple[str, ...]:
    step = lesson.passed.step
    best = f"{lesson.passed.share * 100:.0f} %" if lesson.passed.before.best else "enough known"
    sorts = [effect.sort for effect in step.effects if effect.sort != "moved"]
    mind = [*(["unsafe"] if step.unsafe else []), *dict.fromkeys(sorts)]
    took = f"{step.minutes:.1f}" if step.minutes < 0.75 else f"{step.minutes:.0f}"
    return (str(number), step.command, took, best, _told(lesson), ", ".join(mind))


def _told(lesson: Lesson) -> str:
    """What a reading told, in a few words."""
    if lesson.passed.worthless:
        return "nothing: see its mistake"
    gone, grown = lesson.ruled_out, lesson.grown
    if not gone and not grown:
        return "next to nothing"
    verb, some = ("against", gone) if gone else ("for", grown)
    first = some[0].keys[0]
    name = f"{first[0]} {first[1]}" if first[0] else "a sound loop"
    more = sum(1 + item.more for item in some) - 1
    return f"{verb} {name}" + (f" and {more} more" if more else "")
