"""The ranking as a person reads it at night: verdict, bars, what to distrust, what to do next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.inference.beyond import beyond
from diagnose.inference.ranking import UNEXPLAINED, Group, Ranked, Ranking, Size
from diagnose.loops.loop import Loop
from diagnose.quantities import format_quantity
from diagnose.terminal.naming import looked_at, ranked_name, short_name
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_advice import alternatives, questions, step
from diagnose.terminal.render_doubt import distrust
from diagnose.terminal.render_repair import footnotes, repair
from diagnose.terminal.wording import count, listed, paragraph, percent, span

SHOWN_SHARE, SHOWN_LINES = 0.99, 8
SHOWN_LEAST, NOISE = 3, 0.015
"""Lines that are shown anyhow, and the share below which no further one is."""
BAR = 10
MEMBERS = 6
VAGUE = 10.0
"""Ratio of the ends of a size above which its middle is not told."""
WORTH_SAYING, WORTH_NAMING = 0.05, 0.005
ALMOST, LIKELY = 0.95, 0.5
MOST = 0.75
"""Share of what is not electrical from which on it is called by its name."""
APART = "cannot be told apart by any reading within reach"
APART_CALMLY = "cannot be told apart without disturbing the loop"
SHARE_OF_ONE = 0.8
"""Share of its group above which one member is named alone."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the ranking: a group of hypotheses, or nothing modelled (``members`` empty)."""

    probability: float
    members: tuple[Ranked, ...]


def render(
    ranking: Ranking, loop: Loop, look: Look, cautions: Mapping[str, str], read: int = 1
) -> Iterator[str]:
    """All lines of an answer; ``read`` is how many facts were given, ``cautions`` their texts."""
    yield from paragraph(f"{loop.tag}, {loop.service}" if loop.service else loop.tag, look)
    yield from map(look.strong, paragraph(verdict(ranking, loop, read), look))
    yield ""
    yield from bars(ranking, loop, look)
    yield from distrust(ranking, look)
    yield ""
    if ranking.stop or ranking.resolved:
        yield from repair(ranking, loop, look)
        yield from alternatives(ranking.next[:2], look, loop, "To be surer: ")
    elif ranking.next:
        yield from questions(ranking.free, loop, look)
        yield from step(ranking.next[0], loop, look, cautions)
        asked = {item.text for item in ranking.free}
        others = [item for item in ranking.next[1:3] if item.text not in asked]
        yield from alternatives(others, look, loop)
    yield from footnotes(ranking, look)


# -- verdict --------------------------------------------------------------------------------------


def rows(ranking: Ranking) -> list[Row]:
    """Groups and "nothing modelled", the most probable first."""
    found = [Row(group.probability, members(group, ranking)) for group in ranking.groups]
    found.append(Row(ranking.unexplained, ()))
    return sorted((row for row in found if row.probability > 0), key=lambda row: -row.probability)


def members(group: Group, ranking: Ranking) -> tuple[Ranked, ...]:
    """The hypotheses of a group, the most probable first."""
    own = (item for item in ranking.hypotheses if item.group == group.number)
    return tuple(sorted(own, key=lambda item: -item.probability))


def verdict(ranking: Ranking, loop: Loop, read: int = 1, calm: bool = False) -> str:
    """The answer in one sentence; ``calm`` where only steps that do not disturb were weighed."""
    ranked = rows(ranking)
    if not read:
        return "Nothing was read yet: below is how such calls usually end, not what this one is."
    modelled = [row for row in ranked if row.members]
    if modelled and ranking.unexplained <= UNEXPLAINED:
        ranked = modelled
    if not ranked or not ranked[0].members:
        alike = kin(modelled) if modelled else []
        return _somewhere(alike) if alike else _unexplained(ranking)
    lead = ranked[0]
    if soundness_leads(ranking):
        return _sound(ranking, loop)
    alike = kin(ranked)
    if alike:
        return _somewhere(alike)
    name = _group(lead, loop, APART_CALMLY if calm else APART)
    colon = "" if tied(lead) else ":"
    if lead.probability >= ALMOST:
        return f"Almost certainly{colon} {name}."
    if lead.probability >= LIKELY:
        return f"Most likely{colon} {name}."
    ahead = "ahead of others is" if tied(lead) else "first among several:"
    return f"Not decided yet; {ahead} {name}."


def soundness_leads(ranking: Ranking) -> bool:
    """Whether "nothing electrical" is the answer: as likely, or nearly, as any one group."""
    lead = next(iter(rows(ranking)), None)
    least = lead.probability - WORTH_SAYING if lead is not None and lead.members else 1.0
    return ranking.sound >= max(LIKELY, least)


def _group(lead: Row, loop: Loop, apart: str) -> str:
    """The first group: its one member, its chief member, or all that tie, each with its share."""
    many, share = weighty(lead), percent(lead.probability)
    first = ranked_name(many[0], loop)
    if len(many) == 1:
        return f"{first} ({share})"
    if not tied(lead):
        others = count(len(many) - 1, "other")
        own = percent(many[0].probability)
        return f"{first} ({own}), or {others}, {share} together, which {apart}"
    shown = [f"{short_name(item)} {percent(item.probability)}" for item in many[:MEMBERS]]
    shown += [f"{len(many) - MEMBERS} more"] if len(many) > MEMBERS else []
    return f"one of these ({share}), which {apart}: {listed(shown, 'or')}"


def tied(row: Row) -> bool:
    """Whether a group has several members and none that is far ahead of the others."""
    many = weighty(row)
    return len(many) > 1 and many[0].probability <= SHARE_OF_ONE * row.probability


def kin(ranked: Sequence[Row]) -> list[Ranked]:
    """One fault at several places, the likeliest first, where that is likelier than any group."""
    lead = ranked[0]
    if not lead.members or lead.members[0].also:
        return []
    fault = lead.members[0].fault
    found = [item for row in ranked for item in row.members if item.fault == fault]
    alike = [item for item in found if not item.also and item.probability > WORTH_NAMING]
    enough = max(LIKELY, lead.probability + WORTH_SAYING)
    return alike if sum(item.probability for item in alike) >= enough else []


def _somewhere(alike: Sequence[Ranked]) -> str:
    """One fault, several places."""
    parts = [str(item.part) for item in alike]
    shown = parts[:MEMBERS] + ([f"{len(parts) - MEMBERS} more"] if len(parts) > MEMBERS else [])
    total = sum(item.probability for item in alike)
    start = "Almost certainly" if total >= ALMOST else "Most likely"
    told = f"{alike[0].fault} ({percent(total)}), but where is not decided yet"
    return f"{start}: {told}: {listed(shown, 'or')}."


def _unexplained(ranking: Ranking) -> str:
    doubted = next((i for i in ranking.suspects if not (i.retaken or i.once)), None)
    if doubted is not None:
        again = f": retake reading {doubted.index}"
    elif ranking.suspects:
        again = ": a reading that was taken again still differs; compare the sheet with the wiring"
    else:
        again = ": retake the readings, and compare the sheet with the wiring"
    share = percent(ranking.unexplained)
    if ranking.unexplained < LIKELY:
        return (
            f"Not decided yet; first among several: none of the modelled faults ({share}){again}."
        )
    if "rare" in ranking.notes:
        return f"Most likely none of the modelled faults ({share}){again}."
    return f"No modelled fault explains these readings ({share}){again}."


def connection(ranking: Ranking) -> tuple[Ranked, ...]:
    """What is wrong outside of the sound loop, where one group has most of that: ``T1 blocked``."""
    lead = next(iter(rows(ranking)), None)
    if lead is None or not lead.members or lead.members[0].part is None:
        return ()
    if lead.probability < max(LIKELY, MOST * ranking.sound):
        return ()
    return tuple(item for item in lead.members if item.probability >= lead.probability / 10)


def _sound(ranking: Ranking, loop: Loop) -> str:
    share, where, named = percent(ranking.sound), beyond(loop), connection(ranking)
    if named:
        told = [f"{short_name(item)} {percent(item.probability)}" for item in named]
        where = f"{listed(told, 'or')} ({looked_at(loop.part(named[0].part or ''))})"
    if ranking.sound >= ALMOST:
        return f"Almost certainly the loop is electrically sound ({share}): look at {where}."
    return (
        f"Most likely the loop is electrically sound ({share}), and {where} is the cause; an "
        "electrical fault is not ruled out."
    )


def weighty(row: Row) -> tuple[Ranked, ...]:
    """The members of a group that matter: those with a hundredth of the weight of the first."""
    least = max((item.probability for item in row.members), default=0.0) / 100
    return tuple(item for item in row.members if item.probability >= least)


# -- the ranked faults ----------------------------------------------------------------------------


def bars(ranking: Ranking, loop: Loop, look: Look, calm: bool = False) -> Iterator[str]:
    """Ranked groups until 99 % or all that matters is shown; each with size and members.

    ``calm`` where only steps that do not disturb were weighed.
    """
    apart = APART_CALMLY if calm else APART
    total = 0.0
    for number, row in enumerate(rows(ranking)[:SHOWN_LINES]):
        if number >= SHOWN_LEAST and row.probability < NOISE:
            break
        yield from _bar(row, loop, look, apart, leads=not total)
        total += row.probability
        if total >= SHOWN_SHARE:
            break
    rest = 1 - total
    if rest >= 0.005:
        yield from paragraph(f"all others together {percent(rest)}", look, " " * (BAR + 10))


def _bar(row: Row, loop: Loop, look: Look, apart: str, leads: bool) -> Iterator[str]:
    """One row; only the leading one, and what has no size, is told in a sentence as well."""
    filled = round(row.probability * BAR)
    drawn = "#" * filled + "." * (BAR - filled)
    head = f"{percent(row.probability):>6}  {drawn}  "
    indent = " " * len(head)
    if not row.members:
        yield from paragraph("none of the modelled faults", look, head)
        return
    first = row.members[0]
    yield from paragraph(ranked_name(first, loop), look, head)
    if first.part is not None and (leads or first.size is None):
        yield from paragraph(first.title, look, indent)
    if first.size is not None and (leads or about(first.size)):
        yield from paragraph(size_text(first.size), look, indent)
    others = weighty(row)[1:]
    if others:
        yield from paragraph(f"{_alike(row, others)} {apart}", look, indent)


def size_text(size: Size) -> str:
    """``resistance about 310 ohm; 90 %: 305.0 to 316.0 ohm``; no middle where all is open."""
    reach = span(size.low, size.high, size.unit)
    middle = about(size)
    if not middle:
        return f"{size.quantity} not narrowed down yet: {reach}"
    return f"{size.quantity} {middle}; 90 %: {reach}"


def about(size: Size) -> str:
    """The middle, in no more digits than are known; empty where next to nothing is known."""
    wide = (size.high - size.low) / max(abs(size.median), 1e-12)
    apart = size.low <= 0 or size.high / size.low > VAGUE
    if wide > 1 and apart:
        return ""
    digits = 2 if wide > 0.2 else 3 if wide > 0.01 else 4
    return f"about {format_quantity(size.median, size.unit, digits)}"


def _alike(row: Row, others: tuple[Ranked, ...]) -> str:
    everyone = (row.members[0], *others)
    shown = [f"{short_name(item)} {percent(item.probability)}" for item in everyone]
    if len(shown) > MEMBERS:
        shown[MEMBERS:] = [f"{len(shown) - MEMBERS} more"]
    return listed(shown)


# -- readings that do not fit ---------------------------------------------------------------------
