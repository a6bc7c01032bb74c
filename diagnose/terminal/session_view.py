"""What a session shows: pure functions from hunt and ranking to lines that fit a small screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

from diagnose.casework.case import Case, Open
from diagnose.casework.hunt import RECORDS
from diagnose.casework.hunt_task import IN_SERIES, Task
from diagnose.casework.proofs import did_not_help, latest
from diagnose.inference.beyond import beyond
from diagnose.inference.cautions import CAUTIONS, STANDING
from diagnose.inference.ranking import Advice, Ranking, Size
from diagnose.loops.loop import Loop
from diagnose.terminal.naming import (
    fault_name,
    instruction,
    part_of,
    place_title,
    preparation,
    ranked_name,
    short_name,
)
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_advice import (
    again,
    alternatives,
    disturbs,
    largest,
    least,
    meaning,
    sound,
)
from diagnose.terminal.render_doubt import distrust
from diagnose.terminal.render_ranking import (
    BAR,
    LIKELY,
    Row,
    about,
    connection,
    kin,
    rows,
    soundness_leads,
    tied,
    verdict,
    weighty,
)
from diagnose.terminal.render_repair import repair
from diagnose.terminal.wording import capital, listed, minutes, paragraph, percent

SHORT_BARS = 4
"""Lines of the ranking that are shown after every reading; ``rank`` shows all of it."""


# -- where the hunt stands ------------------------------------------------------------------------


def standing(
    ranking: Ranking, loop: Loop, look: Look, read: int, calm: bool = False
) -> Iterator[str]:
    """Verdict, a few bars, what is distrusted; ``calm`` leaves out steps that disturb."""
    yield ""
    yield from map(look.strong, paragraph(verdict(ranking, loop, read, calm), look))
    yield from few_bars(ranking, loop, look)
    yield from (line for line in distrust(ranking, look) if line)


def few_bars(ranking: Ranking, loop: Loop, look: Look) -> Iterator[str]:
    """The ranking in a few lines: share, bar, name."""
    for row in rows(ranking)[:SHORT_BARS]:
        if row.probability >= 0.005:
            yield _bar(row, loop, look)


def leads_by_tie(ranking: Ranking) -> bool:
    """Whether one group of equals is most likely: a step that disturbs may tell them apart."""
    lead = next(iter(rows(ranking)), None)
    likely = lead is not None and lead.probability >= LIKELY and ranking.sound < LIKELY
    return lead is not None and likely and tied(lead)


def confirmed(case: Case, loop: Loop, look: Look) -> Iterator[str]:
    """The cause as it was proved, and what is left to do."""
    if case.cause is None:
        return
    name = fault_name(case.cause.part, case.cause.fault, loop)
    left = "Put back what is open, then type close" if case.open_items else "Type close"
    yield ""
    yield from map(look.strong, paragraph(f"Confirmed: {name}. {left}.", look))


def unproved(part: str | None, fault: str, loop: Loop, there: bool = False) -> str:
    """What to do where no proof reading tells: a sheet drives nothing by hand, or past the fault.

    ``there`` is whether there are proof readings, which do not see it.
    """
    owner = part_of(part, loop)
    trips = owner is not None and "set_point" in owner.values if there else "trip" in loop.role
    test = "as it runs: read again what was not as due"
    if trips:
        test = "by the site's proof test of the trip, under its bypass"
    elif there:
        test = "as it runs, against what is known of the process: read again what was not as due"
    name = " ".join(filter(None, (part, fault)))
    why = "No proof reading would show it" if there else "This sheet has no proof readings"
    return (
        f"{why}: prove it {test}. Then: confirm {name} and what shows "
        "it; or anew, if the fault is still there."
    )


def repaired(
    case: Case,
    loop: Loop,
    look: Look,
    proof: bool = True,
    sees: bool = True,
    needs: Sequence[str] = (),
) -> Iterator[str]:
    """A repair that is on record and not yet the confirmed cause: what is due next.

    ``proof`` is whether the loop has readings that prove a repair, ``sees`` whether they would
    show this fault, ``needs`` what must be on record before, for a proof drives the loop.
    """
    if case.cause is not None or not case.remedies:
        return
    tried, proofs = case.remedies[-1], latest(case)
    outside = len([item for item in proofs if not item.passed])
    name = fault_name(tried.part, tried.fault, loop)
    first = f"{listed(needs)} with who agreed (the proof drives the loop), then " if needs else ""
    how = f"Prove it: type {first}proof."
    if not (proof and sees):
        how = unproved(tried.part, tried.fault, loop, proof)
    text = f"Repaired, not yet proved: {name}. {how}"
    if did_not_help(case):
        text = f"Repaired, but it did not help: {name}. The hunt goes on."
    elif outside:
        text = (
            f"Repaired, but {outside} of {len(proofs)} proof readings are outside of their limits: "
            f"{name}. What was read before the repair may hold no more: type anew to hunt on."
        )
    elif proofs and sees:
        text = f"Repaired and proved: {name}. Type confirm."
    elif case.mixed and not proofs:
        text += " Did it not help? Type anew: what was read before it may hold no more."
    yield ""
    yield from map(look.strong, paragraph(text, look))


def closing(ranking: Ranking, loop: Loop, look: Look, calm: bool = False) -> Iterator[str]:
    """Why measuring ends, and what to do then; ``calm`` where no step may disturb the loop yet."""
    yield ""
    if calm and leads_by_tie(ranking):
        stop = "no reading that leaves the loop undisturbed tells these apart"
        ranking = replace(ranking, stop=stop)
    if ranking.remedy:
        yield from repair(replace(ranking, proof=()), loop, look)
        text = "Type remedy and a number when you go to put one right"
    else:
        yield "Nothing electrical stands out that could be put right."
        text = f"Look at {beyond(loop)}; then type close no fault found"
    more = ", more to go on measuring" if ranking.next else ""
    yield from paragraph(f"{text}{more}.", look)


def _bar(row: Row, loop: Loop, look: Look) -> str:
    """One line for a group: share, bar, name, size, and as many more names as fit."""
    filled = round(row.probability * BAR)
    head = f"{percent(row.probability):>6}  {'#' * filled}{'.' * (BAR - filled)}  "
    return head + row_name(row, loop, look.width - len(head))


def row_name(row: Row, loop: Loop, width: int = 60) -> str:
    """The group in a few words: its first member, its size, who else is in it; what fits."""
    if not row.members:
        return "none of the modelled faults"
    first, *others = weighty(row)
    size = f", {_size(first.size, first.fault)}".rstrip(", ") if first.size else ""
    names, more = (ranked_name(first, loop), short_name(first)), list(map(short_name, others))
    # A size is left out sooner than those who tie.
    ways = ((text, n) for text in (size, "") for n in range(len(more), -1, -1))
    texts = (_with_others(name + text, more, n) for text, n in ways for name in names)
    return next((text for text in texts if len(text) <= width), names[1])[:width]


def _size(size: Size, fault: str) -> str:
    """``about 310 ohm``; a share says of what, unless the fault does: ``travel about 39.8 %``."""
    middle = about(size)
    named = size.unit != "1" or size.quantity in fault
    return middle if named or not middle else f"{size.quantity} {middle}"


def _with_others(name: str, more: Sequence[str], shown: int) -> str:
    left = [f"{len(more) - shown} more"] if shown < len(more) else []
    return name + (f"; or {listed([*more[:shown], *left], 'or')}" if more else "")


def foot(case: Case, loop: Loop, place: str) -> str:
    """What is open, and where the technician stands, in one line."""
    items = [brief(item, loop) for item in case.open_items]
    still = f"open: {', '.join(items)}" if items else "nothing open"
    return f"{still} | at {place}"


def brief(item: Open, loop: Loop) -> str:
    """An open item in a word or two: ``bypass``, ``W3+.JB9 lifted``."""
    if item.item in RECORDS.values():
        return item.item
    if item.item == IN_SERIES:
        return f"{item.text} open"
    part = part_of(item.text, loop)
    actions = part.kind.actions if part else ()
    done = (action.name for action in actions if action.title == item.item)
    return next((f"{item.text} {name}" for name in done), str(item))


def leading(ranking: Ranking | None, case: Case) -> str:
    """The confirmed cause, else the first of the ranking and how many share its group."""
    if case.cause is not None:
        return f"confirmed: {case.cause.part} {case.cause.fault}"
    if ranking is None or not rows(ranking):
        return "no reading yet"
    lead = rows(ranking)[0]
    if not lead.members:
        return f"none modelled {percent(lead.probability)}"
    if soundness_leads(ranking) and not connection(ranking):
        alone = not lead.members[0].part and percent(lead.probability) == percent(ranking.sound)
        return f"{'electrically sound' if alone else 'not electrical'} {percent(ranking.sound)}"
    alike = kin(rows(ranking))
    if alike:
        return f"{alike[0].fault} somewhere {percent(sum(item.probability for item in alike))}"
    more = len(weighty(lead)) - 1
    name = short_name(lead.members[0]) + (f" or {more} more" if more else "")
    return f"{name} {percent(lead.probability)}"


# -- the step -------------------------------------------------------------------------------------


def step_head(task: Task, loop: Loop) -> str:
    """Where the measurement is taken and what it costs."""
    instead = f" again (for reading {task.replaces})" if task.replaces else ""
    return f"Next{instead}: {place_title(task.place, loop)}, {minutes(task.minutes)}"


def step(
    task: Task,
    loop: Loop,
    look: Look,
    others: Sequence[Advice],
    seen: frozenset[str],
    agreed: bool = False,
) -> Iterator[str]:
    """The measurement in the order of doing: agree, beware, prepare, read, understand.

    Once its red cautions are ``agreed``, all of them were read, and are folded.
    """
    advice = task.advice
    ends = (largest(advice), least(advice)) if advice else (inf, inf)
    what = instruction(task.measurement, loop, *ends)
    if advice is not None and advice.again:
        yield from paragraph(f"{again(advice)}.", look, "  ")
    if advice is not None and advice.needs:
        yield from paragraph(f"{capital(listed(advice.needs))}.", look, "  First: ")
    if task.red and agreed:
        text = f"Agreed for this step: {', '.join(task.cautions)} (type cautions to read them)."
        yield from map(look.faint, paragraph(text, look, "  "))
    else:
        yield from cautions(task.cautions, seen, look)
    prepare = preparation(task.measurement.condition, loop)
    if prepare:
        yield from paragraph(f"{prepare}; put it back afterwards.", look, "  Set: ")
    yield from paragraph(f"{what}.", look, "  Do: ")
    if advice is not None:
        yield from paragraph(f"{disturbs(advice)}. {sound(advice)}", look, "  ")
        yield from meaning(advice, look)
        yield from alternatives(others, look, loop)


def cautions(keys: Sequence[str], seen: frozenset[str], look: Look) -> Iterator[str]:
    """New cautions and red ones in full; what was seen before in one line."""
    for key in keys:
        caution = CAUTIONS[key]
        head = "  STOP: " if caution.acknowledge else "  Caution: "
        if caution.acknowledge or key not in seen:
            yield from map(look.warning, paragraph(caution.text, look, head))
    folded = [key for key in keys if key in seen and not CAUTIONS[key].acknowledge]
    if folded:
        text = f"As before: {', '.join(folded)} (type cautions to read them)."
        yield from map(look.faint, paragraph(text, look, "  "))


def reminders(look: Look) -> Iterator[str]:
    """What is said once, before anything is measured."""
    for key in STANDING:
        yield from map(look.warning, paragraph(CAUTIONS[key].text, look))
