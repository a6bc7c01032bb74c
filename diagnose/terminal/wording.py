"""Numbers and ranges as a person reads them aloud; text wrapped to a screen.  ASCII only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isinf
from textwrap import wrap

from diagnose.quantities import format_quantity
from diagnose.terminal.outcome import Look


def percent(share: float) -> str:
    """A probability: never 0 % or 100 %, because nothing here is certain."""
    if share < 0.005:
        return "< 1 %"
    return "> 99 %" if share > 0.995 else f"{share * 100:.0f} %"


def chance(share: float) -> str:
    """The chance that a lamp is lit, in words."""
    if share > 0.95:
        return "lit"
    return "dark" if share < 0.05 else f"lit with {percent(share)}"


def span(low: float, high: float, unit: str) -> str:
    """A range as one text: ``11.80 to 12.60 V``; one value where both ends read the same."""
    if unit == "lit":
        return chance(low)
    if isinf(low) or isinf(high):
        return "OL" if isinf(low) else f"{format_quantity(low, unit)} or more, up to OL"
    first, last = format_quantity(low, unit), format_quantity(high, unit)
    if first == last:
        return first
    short, _, one = first.rpartition(" ")
    return f"{short if one == last.rpartition(' ')[2] else first} to {last}"


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
    yield from wrap(
        text, look.width, initial_indent=first, subsequent_indent=rest,
        break_long_words=False, break_on_hyphens=False,
    ) or [first]  # fmt: skip
