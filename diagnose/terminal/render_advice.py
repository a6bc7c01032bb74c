"""The advised measurement as a step: where, how, what it costs, what each answer would mean."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite

from diagnose.inference.ranking import Advice, Expects
from diagnose.loops.loop import Loop
from diagnose.terminal.naming import SOUND, instruction, place_title, preparation
from diagnose.terminal.outcome import Look
from diagnose.terminal.table import table
from diagnose.terminal.wording import capital, chance, listed, minutes, paragraph, percent, span

INTERRUPTS = "it opens the loop: the signal falls to 0 mA meanwhile, receivers see a failed input"
MOVES = "it moves the signal: everything on the loop sees it"
HARMLESS = "it does not disturb the loop"


def step(advice: Advice, loop: Loop, look: Look, cautions: Mapping[str, str]) -> Iterator[str]:
    """The step in the order of doing: agree, beware, prepare, read, understand."""
    where = place_title(advice.place, loop)
    yield from map(look.strong, paragraph(f"Next: {where}, {minutes(advice.minutes)}.", look))
    if advice.needs:
        yield from paragraph(f"{capital(listed(advice.needs))}.", look, "  First: ")
    for key in advice.cautions:
        yield from map(look.warning, paragraph(cautions.get(key, key), look, "  Caution: "))
    prepare = preparation(advice.measurement.condition, loop)
    if prepare:
        yield from paragraph(f"{prepare}; put it back afterwards.", look, "  Set: ")
    text = instruction(advice.measurement, loop, _largest(advice))
    yield from paragraph(f"{text}.", look, "  Do: ")
    yield from paragraph(typed(advice.text), look, "  Type: ")
    yield from paragraph(f"{_disturbs(advice)}.", look, "  ")
    healthy = span(*advice.healthy)
    yield from paragraph(f"A sound loop would show {healthy}.", look, "  ")
    yield from meaning(advice, look)


def typed(text: str) -> str:
    """The line to type, with a gap for what the meter shows."""
    head, with_, condition = text.partition(" with ")
    return f"{head} ...{with_}{condition}"


def _largest(advice: Advice) -> float:
    ends = [end for item in advice.expects for end in (item.low, item.high)]
    return max((abs(end) for end in (*ends, *advice.healthy[:2]) if isfinite(end)), default=0.0)


def _disturbs(advice: Advice) -> str:
    if advice.interrupts_loop:
        return capital(INTERRUPTS)
    return capital(MOVES if advice.moves_signal else HARMLESS)


# -- what each answer would mean ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Meaning:
    """One range of outcomes and the explanations that lead to it."""

    seen: str
    means: tuple[Expects, ...]


def meanings(expects: Sequence[Expects]) -> tuple[Meaning, ...]:
    """Outcomes with overlapping ranges merged, unless that leaves one that tells nothing."""
    if any(item.unit == "lit" for item in expects):
        return _states(expects)
    merged: list[list[Expects]] = []
    top = float("-inf")
    for item in sorted(expects, key=lambda one: (one.low, one.high)):
        if merged and item.low <= top:
            merged[-1].append(item)
        else:
            merged.append([item])
        top = max(top, item.high)
    if len(merged) == 1:
        merged = [[item] for item in expects]
    return tuple(_merged(group) for group in merged)


def _merged(group: Sequence[Expects]) -> Meaning:
    low, high = min(item.low for item in group), max(item.high for item in group)
    likely = sorted(group, key=lambda item: -item.probability)
    return Meaning(span(low, high, group[0].unit), tuple(likely))


def _states(expects: Sequence[Expects]) -> tuple[Meaning, ...]:
    found: dict[str, list[Expects]] = {}
    for item in expects:
        found.setdefault(chance(item.low), []).append(item)
    return tuple(Meaning(seen, tuple(items)) for seen, items in found.items())


def meaning(advice: Advice, look: Look) -> Iterator[str]:
    """The table of outcomes."""
    if not advice.expects:
        return
    yield "  What it would mean:"
    lines = [
        (f"    {item.seen}", listed([_named(one) for one in item.means], "or"))
        for item in meanings(advice.expects)
    ]
    yield from table(lines, look)


def _named(item: Expects) -> str:
    name = SOUND if item.part is None else f"{item.part} {item.fault}"
    return f"{name} ({percent(item.probability)})"


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
