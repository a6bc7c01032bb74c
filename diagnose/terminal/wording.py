"""Numbers and ranges as a person reads them aloud; text wrapped to a screen.  ASCII only."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from math import isfinite, isinf
from textwrap import wrap

from diagnose.loops.states import STATES
from diagnose.quantities import format_quantity
from diagnose.terminal.outcome import Look


def percent(share: float) -> str:
    """A probability: never 0 % or 100 %, because nothing here is certain."""
    if share < 0.005:
        return "< 1 %"
    return "> 99 %" if share > 0.995 else f"{share * 100:.0f} %"


def chance(share: float, unit: str = "lit") -> str:
    """The likelier state of a lamp, a horn ... in a word, with its chance where that is not sure.

    ``share`` is the chance that it is on; ``unit`` tells which states it has.
    """
    states = STATES[unit]
    likelier, word = (share, states.on) if share >= 0.5 else (1 - share, states.off)
    return word if likelier > 0.95 else f"perhaps {word} ({percent(likelier)})"


def span(low: float, high: float, unit: str) -> str:
    """A range as one text: ``11.80 to 12.60 V``; one value where both ends read the same."""
    if unit in STATES:
        return chance(low, unit)
    if isinf(low) or isinf(high):
        return "OL" if isinf(low) else f"{format_quantity(low, unit)} or more, up to OL"
    first, last = format_quantity(low, unit), format_quantity(high, unit)
    if first == last:
        return first
    if first.rpartition(" ")[2] == last.rpartition(" ")[2]:
        return f"{first.rpartition(' ')[0]} to {last}"
    # 0.990 to 1.300 V, not 990.0 mV to 1.300 V; what lies a little below nothing is hardly read.
    if 0.1 * high < low < high or -0.1 * high < low < 0:
        return f"{in_one_unit([low, high], unit)[0][0]} to {last}"
    return f"{first} to {last}"


def in_one_unit(values: Sequence[float], unit: str) -> tuple[list[str], str]:
    """Numbers as text in the unit that fits the largest, and that unit; OL beyond the meter."""
    largest = max((value for value in values if isfinite(value)), key=abs, default=0.0)
    number, _, shown = format_quantity(largest, unit).rpartition(" ")
    factor = 100.0 if unit == "1" else _FACTORS[shown.removesuffix(unit)]
    decimals = len(number.partition(".")[2])
    texts = [f"{value * factor:.{decimals}f}" if isfinite(value) else "OL" for value in values]
    return [text.lstrip("-") if not text.strip("-0.") else text for text in texts], shown


_FACTORS = {
    "p": 1e12, "n": 1e9, "u": 1e6, "m": 1e3, "": 1.0, "k": 1e-3, "M": 1e-6, "G": 1e-9, "T": 1e-12,
}  # fmt: skip


def minutes(value: float) -> str:
    """Minutes, whole ones: no finer guess is honest."""
    whole = max(1, round(value))
    return "1 minute" if whole == 1 else f"{whole} minutes"


def listed(words: Sequence[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def count(number: int, one: str, many: str = "") -> str:
    """``1 place``, ``4 places``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def capital(sentence: str) -> str:
    """The sentence with a capital first letter; the rest as it is."""
    return sentence[:1].upper() + sentence[1:]


def paragraph(text: str, look: Look, first: str = "", rest: str | None = None) -> Iterator[str]:
    """A text wrapped to the screen; ``first`` stands before its first line, ``rest`` before others.

    Terminal names such as ``X21:7`` and long tags are never broken.
    """
    rest = " " * len(first) if rest is None else rest
    yield from folded(text, look.width, first, rest)


_GLUED = re.compile(r"(?<=[0-9]) (?=(?:%|[numkM]?(?:V|A|ohm)|minutes?)(?![A-Za-z]))")


def folded(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """The lines of a text, one at least; a number stays with its unit, a name in one piece."""
    lines = wrap(
        _GLUED.sub("\xa0", text), width, initial_indent=first, subsequent_indent=rest,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace("\xa0", " ") for line in lines] or [first]
