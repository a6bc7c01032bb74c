"""``split`` in a session: which reading tells two explanations apart."""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.casework.checks import CaseError
from diagnose.inference.examples import examples
from diagnose.inference.ranking import Ranked
from diagnose.inference.readings import parse_lines
from diagnose.terminal.naming import SOUND, fault_name, place_title
from diagnose.terminal.session_repair import named
from diagnose.terminal.session_talk import Talk
from diagnose.terminal.wording import minutes, paragraph, percent, span

Key = tuple[str | None, str]

_BETWEEN = re.compile(r"\s*[,;/]\s*|\s+(?:or|from|and|versus)\s+", re.IGNORECASE)


def split(talk: Talk, rest: str) -> Iterator[str]:
    """The readings that tell two faults apart; without names the two that lead."""
    from diagnose.inference.telling import telling

    pair = _named(talk, rest) if rest else _leading(talk)
    hunt, (first, second) = talk.hunt, [_name(key, talk) for key in pair]
    said = parse_lines(hunt.case.evidence, talk.loop)
    try:
        found = telling(
            hunt.engine, said, *pair,
            place=hunt.place, without=hunt.without, calm=bool(hunt.missing),
        )  # fmt: skip
    except KeyError as error:
        name = _name(error.args[0], talk)
        raise CaseError(
            f"{name} is ruled out by what was read or looked at, and needs no telling"
        ) from None
    yield from paragraph(f"{first}, or {second}:", talk.look)
    for item in found:
        opens = ", opens the loop" if item.interrupts_loop else ""
        opens = opens or (", moves the signal" if item.moves_signal else "")
        where = f"{place_title(item.place, talk.loop)}, {minutes(item.minutes)}{opens}"
        sees = f"{span(*item.first)} or {span(*item.second)}"
        text = f"{item.text} ({where}): {sees}; tells {percent(item.bits)}."
        yield from paragraph(text, talk.look, "  ", "    ")
    if not found:
        calm = " that leaves the loop undisturbed" if hunt.missing else ""
        yield from paragraph(
            f"No reading within reach{calm} tells them apart: put right what is quicker, and prove "
            "it.", talk.look, "  "
        )  # fmt: skip


def _leading(talk: Talk) -> tuple[Key, Key]:
    """The two likeliest explanations; pairs of faults are not split."""
    single = [item for item in talk.hunt.ranking().hypotheses if not item.also]
    if len(single) < 2:
        raise CaseError("there are no two explanations to be told apart")
    return _key(single[0]), _key(single[1])


def _key(item: Ranked) -> Key:
    return item.part, item.fault


def _named(talk: Talk, rest: str) -> tuple[Key, Key]:
    """``R1 drift, LT-214 output error``; ``sound`` is the sound loop."""
    words = [piece for piece in _BETWEEN.split(rest) if piece]
    if len(words) != 2:
        raise CaseError(f"name two faults, such as: split {', '.join(examples(talk.loop).faults)}")
    one, two = (_parsed(talk, piece) for piece in words)
    if one == two:
        raise CaseError("these two are the same")
    return one, two


def _parsed(talk: Talk, text: str) -> Key:
    if text.casefold() in ("sound", SOUND):
        return None, "none"
    part, fault, _ = named(talk, text)
    return part, fault


def _name(key: Key, talk: Talk) -> str:
    return fault_name(*key, talk.loop)
