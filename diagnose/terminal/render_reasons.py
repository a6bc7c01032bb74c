"""What speaks for and against an explanation, fact by fact, as a person reads it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from diagnose.errors import UnknownNameError
from diagnose.inference.ranking import Ranking
from diagnose.inference.reading_names import find_part
from diagnose.loops.loop import Loop
from diagnose.terminal.as_json import Json, number
from diagnose.terminal.naming import fault_name
from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import paragraph, percent, span

if TYPE_CHECKING:
    from diagnose.inference.reasons import Reason, Reasons

Key = tuple[str | None, str]


def find_key(text: str, loop: Loop, ranking: Ranking) -> Key:
    """``sound``, ``PART:MODE``, or ``PART`` for the likeliest fault of that part.

    Raises UnknownNameError for a part or a mode that the loop does not have.
    """
    name, _, mode = (word.strip() for word in text.partition(":"))
    if name.casefold() in ("sound", "none") and not mode:
        return None, "none"
    part = find_part(name, loop)
    own = [r for r in ranking.hypotheses if part and r.part == part.name and not r.also]
    if part is None or not own:
        able = {r.part: None for r in ranking.hypotheses if r.part}
        raise UnknownNameError("part", name, (*able, "sound"))
    if not mode:
        return part.name, max(own, key=lambda r: r.probability).fault
    plain = " ".join(mode.replace("-", " ").replace("_", " ").split()).casefold()
    for item in own:
        if item.fault.casefold() == plain:
            return part.name, item.fault
    raise UnknownNameError(f"fault mode of {part.name}", mode, (item.fault for item in own))


def lines(several: Sequence[Reasons], loop: Loop, look: Look) -> Iterator[str]:
    """Each explanation with its facts, in the order in which they were taken."""
    for found in several:
        yield from _one(found, loop, look)
        yield ""
    yield from paragraph(
        "A bit is a factor of two in the odds of an explanation against all others: + speaks for "
        "it, - against it.", look,
    )  # fmt: skip


def _one(found: Reasons, loop: Loop, look: Look) -> Iterator[str]:
    name = fault_name(found.part, found.fault, loop)
    yield from map(look.strong, paragraph(f"{name}, {percent(found.probability)}:", look))
    yield from paragraph(
        f"{found.prior:+7.1f} bits  before anything was read", look, "  ", " " * 17
    )
    for fact in found.facts:
        text = f"{fact.bits:+7.1f} bits  {fact.text}: {_verdict(fact)}"
        yield from paragraph(text, look, "  ", " " * 17)
        if fact.why is not None:
            for line in fact.why.lines[:3]:
                yield from paragraph(line, look, " " * 17, " " * 19)
    yield from paragraph(f"{found.posterior:+7.1f} bits  in all: {_odds(found.posterior)}", look,
                         "  ", " " * 17)  # fmt: skip


def _verdict(fact: Reason) -> str:
    from diagnose.inference.reasons import CLEAR

    side = "for it" if fact.bits > CLEAR else "against it" if fact.bits < -CLEAR else "neither way"
    if fact.expected is None:
        return side
    low, high, unit = fact.expected
    return f"{side}; with the rest it predicts {span(low, high, unit)}"


def _odds(bits: float) -> str:
    """``1 to 30``, or ``30 to 1``."""
    ratio = 2.0 ** abs(bits)
    told = f"{ratio:.1f}" if ratio < 10 else f"{ratio:.0f}" if ratio < 1e6 else "a million or more"
    return f"odds of {told} to 1 {'for' if bits >= 0 else 'against'} it"


def reasons_json(found: Reasons) -> Json:
    """The same as plain data."""
    facts = []
    for fact in found.facts:
        low, high, unit = fact.expected or (None, None, None)
        facts.append({
            "index": fact.index,
            "text": fact.text,
            "bits": number(fact.bits),
            "bits_alone": number(fact.alone),
            "expected": None if low is None or high is None
            else {"low": number(low), "high": number(high), "unit": unit},
            "formula": list(fact.why.lines) if fact.why else None,
        })  # fmt: skip
    return {
        "part": found.part,
        "fault": found.fault,
        "probability": number(found.probability),
        "prior_bits": number(found.prior),
        "posterior_bits": number(found.posterior),
        "facts": facts,
    }


__all__ = ["find_key", "lines", "reasons_json"]
