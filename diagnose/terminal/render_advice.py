"""The advised measurement as a step: where, how, what it costs, what each answer would mean."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite

from diagnose.casework.hunt_task import with_value
from diagnose.inference.measurement import Measurement, states_of
from diagnose.inference.meters import FUNCTION_UNITS, GENERIC
from diagnose.inference.ranking import Advice, Expects, Free
from diagnose.loops.loop import Loop
from diagnose.loops.states import STATES
from diagnose.terminal.naming import SOUND, instruction, part_of, place_title, preparation
from diagnose.terminal.outcome import Look
from diagnose.terminal.table import table
from diagnose.terminal.wording import capital, chance, listed, minutes, paragraph, percent, span

INTERRUPTS = (
    "it opens the loop: the signal is lost meanwhile, receivers see a fault, outputs let go"
)
MOVES = "it moves the signal: everything on the loop sees it"
HARMLESS = "it does not disturb the loop"

ALIKE = 0.5
"""Share of two ranges that is common from which on they are told as one outcome."""

OUTCOMES, NAMED = 5, 3
"""Lines of the table of outcomes, and names on one of them."""

COVERED = 0.97
"""Share of what is told from which on no further outcome is."""

UNLIKELY = 0.02
"""Probability below which an explanation does not choose the range of the meter."""

MILLIVOLTS = GENERIC.functions["V"].ranges[0]
"""Volts up to which a step names the range of the meter that shows millivolts."""

UNSURE = 0.1
"""Width of what a sound loop would show, against the largest value to expect, from which on the
reason is told."""


def step(advice: Advice, loop: Loop, look: Look, cautions: Mapping[str, str]) -> Iterator[str]:
    """The step in the order of doing: agree, beware, prepare, read, understand."""
    where = place_title(advice.place, loop)
    took = minutes(advice.minutes)
    if advice.permit:
        took += f", {minutes(advice.permit)} of them for a permit to work there"
    yield from map(look.strong, paragraph(f"Next: {where}, {took}.", look))
    if advice.again:
        yield from paragraph(f"{again(advice)}.", look, "  ")
    if advice.needs:
        yield from paragraph(f"{capital(listed(advice.needs))}.", look, "  First: ")
    for key in advice.cautions:
        yield from map(look.warning, paragraph(cautions.get(key, key), look, "  Caution: "))
    prepare = preparation(advice.measurement.condition, loop)
    if prepare:
        yield from paragraph(f"{prepare}; put it back afterwards.", look, "  Set: ")
    text = instruction(advice.measurement, loop, largest(advice), least(advice))
    yield from paragraph(f"{text}.", look, "  Do: ")
    yield from paragraph(typed(advice.text, unit_of(advice)), look, "  Type: ")
    yield from paragraph(f"{disturbs(advice)}.", look, "  ")
    yield from paragraph(sound(advice), look, "  ")
    yield from meaning(advice, look)
    if advice.beside:
        more = [f"{item.text} ({item.gain_bits:.1f} bits more)" for item in advice.beside]
        yield from paragraph(f"While you are there, read also: {listed(more)}.", look, "  ")


def again(advice: Advice) -> str:
    """What the step is for, where it takes a reading again."""
    return (
        f"This takes reading {advice.again} again: it is distrusted, or the verdict hangs on it; "
        "both stay on record"
    )


def typed(text: str, unit: str = "") -> str:
    """The line to type, with a gap for what the meter shows, and its unit where it is not V."""
    return with_value(text, f"... {unit}".rstrip())


def unit_of(advice: Advice) -> str:
    """What the meter shows in on the range that the step names, where that is not volts: ``mV``."""
    volts = FUNCTION_UNITS.get(advice.measurement.function) == "V"
    return "mV" if volts and largest(advice) <= MILLIVOLTS else ""


def sound(advice: Advice) -> str:
    """What a sound loop would show, and why no narrower range can be told.

    Where that is wide and the table of outcomes has a line for the sound loop, what stands there
    is told: a blocked connection leaves the loop as sound, and a gauge beside it anywhere.
    """
    low, high, unit = advice.healthy
    own = next((item for item in advice.expects if item.part is None), None)
    if own is not None and _wide(advice, low, high, unit) and own.high - own.low < high - low:
        low, high = own.low, own.high
    by = ", depending on process and supply" if _wide(advice, low, high, unit) else ""
    other = f", or {span(*advice.healthy_else)}" if advice.healthy_else else ""
    return f"A sound loop would show {span(low, high, unit)}{other}{by}."


def _wide(advice: Advice, low: float, high: float, unit: str) -> bool:
    """Whether a range is too wide for the reader not to wonder why."""
    return unit not in STATES and high - low > UNSURE * largest(advice)


def largest(advice: Advice) -> float:
    """The largest value that is to be expected, which chooses the range of the meter."""
    likely = (item for item in advice.expects if item.probability >= UNLIKELY)
    ends = [end for item in likely for end in (item.low, item.high)]
    sound_ends = (*advice.healthy[:2], *(advice.healthy_else or ())[:2])
    return max((abs(end) for end in (*ends, *sound_ends) if isfinite(end)), default=0.0)


def least(advice: Advice) -> float:
    """The largest value of the lowest outcome that is to be expected: a lower range may hold it.

    What may be nothing at all is read as nothing on any range.
    """
    likely = [(item.low, item.high) for item in advice.expects if item.probability >= UNLIKELY]
    sound_ends = [span[:2] for span in (advice.healthy, advice.healthy_else) if span]
    spans = [(low, high) for low, high in (*likely, *sound_ends) if low * high > 0]
    return min((max(abs(low), abs(high)) for low, high in spans), default=inf)


def disturbs(advice: Advice) -> str:
    """What the step does to the loop, and what that weighs."""
    if not (advice.interrupts_loop or advice.moves_signal):
        return capital(HARMLESS)
    done = INTERRUPTS if advice.interrupts_loop else MOVES
    weighed = f"; weighed as {minutes(advice.charge)} more" if advice.charge else ""
    return f"{capital(done)}{weighed}"


# -- what each answer would mean ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Meaning:
    """One range of outcomes and the explanations that lead to it."""

    seen: str
    means: tuple[Expects, ...]


def meanings(expects: Sequence[Expects]) -> tuple[Meaning, ...]:
    """Outcomes from low to high; those with nearly the same range are one."""
    if any(item.unit in STATES for item in expects):
        return _states(expects)
    found: list[list[Expects]] = []
    for item in sorted(expects, key=lambda one: -one.probability):
        home = next((alike for alike in found if _shared(alike[0], item) >= ALIKE), None)
        if home is None:
            found.append([item])
        else:
            home.append(item)
    told = sorted(_likely(found), key=lambda alike: (alike[0].low, alike[0].high))
    return tuple(_merged(alike) for alike in told)


def _likely(found: Sequence[list[Expects]]) -> list[list[Expects]]:
    """The outcomes that matter: two at least, then until nearly all that is told is covered."""
    share = {id(alike): sum(one.probability for one in alike) for alike in found}
    likely = sorted(found, key=lambda alike: -share[id(alike)])
    covered, whole = 0.0, sum(share.values())
    for count, alike in enumerate(likely):
        if count >= 2 and covered >= COVERED * whole:
            return likely[:count][:OUTCOMES]
        covered += share[id(alike)]
    return likely[:OUTCOMES]


def _shared(one: Expects, other: Expects) -> float:
    """How much of what two ranges cover they have in common; beyond the meter is one place."""
    if (one.low, one.high) == (other.low, other.high):
        return 1.0
    whole = max(one.high, other.high) - min(one.low, other.low)
    if not isfinite(whole) or not whole:
        return 0.0
    return max(0.0, min(one.high, other.high) - max(one.low, other.low)) / whole


def _merged(alike: Sequence[Expects]) -> Meaning:
    low, high = min(item.low for item in alike), max(item.high for item in alike)
    return Meaning(span(low, high, alike[0].unit), tuple(alike))


def _states(expects: Sequence[Expects]) -> tuple[Meaning, ...]:
    found: dict[str, list[Expects]] = {}
    for item in expects:
        found.setdefault(chance(item.low, item.unit), []).append(item)
    return tuple(Meaning(seen, tuple(items)) for seen, items in found.items())


def meaning(advice: Advice, look: Look) -> Iterator[str]:
    """The table of outcomes; where all that is likely leads to one, that is said instead."""
    found = meanings(advice.expects)
    if len(found) == 1:
        yield from paragraph(_one_outcome(found[0]), look, "  ")
    elif found:
        yield "  What it would mean:"
        rows = [(f"    {item.seen}", _all_named(item.means)) for item in found]
        yield from table(rows, look)


def _one_outcome(item: Meaning) -> str:
    """Why a reading is taken that tells the likely explanations hardly apart, if at all."""
    alike = "" if len(item.means) == 1 else ", and hardly tells these apart"
    return (
        f"It would most likely show {item.seen}{alike}: {_all_named(item.means)}. Another value "
        "would speak for something less likely."
    )


def _all_named(means: Sequence[Expects]) -> str:
    """The likely explanations of one outcome by name, the others by their count."""
    names = [_named(one) for one in means[:NAMED]]
    left = len(means) - NAMED
    return listed([*names, f"{left} more"] if left > 0 else names, "or")


def _named(item: Expects) -> str:
    name = SOUND if item.part is None else f"{item.part} {item.fault}"
    others = f" or {item.more} like it" if item.more else ""
    return f"{name}{others} ({percent(item.probability)})"


def questions(free: Sequence[Free], loop: Loop, look: Look) -> Iterator[str]:
    """What costs nothing to ask, with the line to type for the answer."""
    if not free:
        return
    yield from map(look.strong, paragraph("Ask first, it costs nothing:", look))
    yield from table([(f"  {_asked(item, loop)}", _about(item)) for item in free], look)


def _asked(item: Free, loop: Loop) -> str:
    if not item.of:
        return item.text
    if part_of(item.of, loop) is not None:
        states = states_of(Measurement("shows", (item.of,)), loop)
        return f"{item.text} {states.either}" if states else f"{item.text} ..."
    return f"{item.text}, or {item.other}" if item.other else f"{item.text} ..."


def _about(item: Free) -> str:
    if not item.of:
        return f"if it is so; likewise {item.other}"
    what = f"{item.of} shares a part" if item.other else f"what {item.of} shows"
    return f"{what} ({item.gain_bits:.1f} bits)"


def alternatives(
    others: Sequence[Advice], look: Look, loop: Loop, head: str = "Or: "
) -> Iterator[str]:
    """Other measurements worth taking, one line each."""
    for item in others:
        place = place_title(item.place, loop)
        opens = ", opens the loop" if item.interrupts_loop else ""
        moves = ", moves the signal" if item.moves_signal and not opens else ""
        text = f"{item.text} ({place}, {minutes(item.minutes)}{opens}{moves})"
        yield from paragraph(text, look, head)
