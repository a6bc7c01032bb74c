"""What the trainee can ask for: hints in steps, the ranking, the advice; each costs points."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from diagnose.inference.ranking import Ranking
from diagnose.inference.report import compose
from diagnose.loops.states import STATES
from diagnose.training.drill import Drill
from diagnose.training.setting import DrillError
from diagnose.training.steps import Step
from diagnose.training.words import minutes

if TYPE_CHECKING:
    from diagnose.inference.ranking import Advice, Expects

HINTS = (2.0, 3.0, 5.0)
"""Points that the first, second and third hint at one state of the hunt cost."""

RANK, ADVICE = 4.0, 4.0
"""Points that looking at the ranking or the advice costs where they are given on request."""


def believed(drill: Drill) -> Ranking:
    """What the tool makes of the trainee's readings."""
    return compose(drill.lookout.answer(drill.evidence, drill.place))


def hint(drill: Drill, _: str) -> Step:
    """First where to go, then what to put on, then what the answers would mean."""
    level = sum(step.command == "hint" for step in _since_reading(drill))
    if level >= len(HINTS):
        raise DrillError("there is no further hint before the next reading")
    step = next(iter(believed(drill).next), None)
    if step is None:
        told = "Nothing more is worth reading: give your verdict."
    else:
        told = _hints(step)[level]
    return drill.ask("hint", (f"Hint {level + 1}: {told}",), HINTS[level])


def _since_reading(drill: Drill) -> list[Step]:
    last = max((n for n, step in enumerate(drill.steps) if step.line), default=-1)
    return drill.steps[last + 1 :]


def _hints(step: Advice) -> tuple[str, str, str]:
    return (
        f"the best next reading is taken at: {step.place}.",
        f"take {step.text}.",
        _apart(step),
    )


def _apart(step: Advice) -> str:
    """Which explanations the answers would tell from which; nothing is claimed if from none."""
    if not step.expects:
        return f"{step.text} tells a sound loop from the rest."
    first, *others = step.expects
    like = [first, *(item for item in others if _alike(first, item))]
    rest = [item for item in others if not _alike(first, item)]
    if not rest:
        return f"{step.text} shows much the same whatever is likely: another value would be news."
    return f"{step.text} tells {_names(like)} from {_names(rest)}."


def _alike(one: Expects, other: Expects) -> bool:
    """Whether two explanations would show much the same: the same state, or ranges that overlap."""
    if one.unit in STATES:
        return (one.low > 0.5) == (other.low > 0.5)
    return one.low <= other.high and other.low <= one.high


def _names(items: Sequence[Expects]) -> str:
    """The first two explanations by name, and how many more there are."""
    names = [f"{item.part} {item.fault}" if item.part else "a sound loop" for item in items[:2]]
    more = [f"{len(items) - 2} more"] if len(items) > 2 else []
    return " or ".join([*names, *more])


def rank(drill: Drill, _: str) -> Step:
    """The leading explanations with their probabilities."""
    cost = _allowed(drill, "the ranking", RANK)
    ranking = believed(drill)
    told = tuple(
        f"{item.probability * 100:>3.0f} %  "
        + (f"{item.part} {item.fault}" if item.part else "sound")
        for item in ranking.hypotheses[:6]
        if item.probability >= 0.005
    )
    return drill.ask("rank", told, cost)


def advice(drill: Drill, _: str) -> Step:
    """The step that the tool would take."""
    cost = _allowed(drill, "the advice", ADVICE)
    ranking = believed(drill)
    step = next(iter(ranking.next), None)
    told = ranking.stop or "nothing more is worth reading"
    if step is not None and not ranking.resolved:
        told = f"{step.text}, at {step.place}: {minutes(step.minutes)}, {step.gain_bits:.2f} bit"
    shown = [one for one in ranking.free if one.of and not one.other]
    first = [f"Ask first, it costs nothing: {one.text}, {one.gain_bits:.2f} bit." for one in shown]
    return drill.ask("advice", (*first[:1], told.rstrip() + "."), cost)


def _allowed(drill: Drill, what: str, cost: float) -> float:
    """What a look costs; DrillError where the trainer hides it."""
    if drill.setting.visible == "hidden":
        raise DrillError(f"the trainer has hidden {what} in this drill")
    return 0.0 if drill.setting.visible == "shown" else cost
