"""What speaks against the ranking, and readings that do not fit, with slips that explain them."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.inference.ranking import Ranking, Suspect
from diagnose.inference.reading_words import FUNCTION_WORDS
from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import capital, paragraph, percent

ONCE = (
    "Do not put the meter in series again: a short may be behind it, and blow its fuse. Read volts "
    "on either side, or ohms with the supply off"
)

METER_SLIPS = "points, jack, meter fuse and decimal point"


def distrust(ranking: Ranking, look: Look) -> Iterator[str]:
    """What is in doubt; each reading that may be worthless, with the request to take it again."""
    if ranking.suspects or ranking.notes:
        yield ""
    for key, text in ranking.notes.items():
        yield from map(look.warning, paragraph(f"{capital(key)}: {text}.", look))
    for item in ranking.suspects:
        head = f"Distrusted: reading {item.index}, '{item.text}', may be wrong"
        text = f"{head} ({percent(item.probability)}). {_again(item)}."
        yield from map(look.warning, paragraph(text, look))


def _again(item: Suspect) -> str:
    """What to look at when a reading is taken again: the slip that would explain it, if any."""
    if item.retaken:
        return f"Reading {item.retaken} was taken in its place"
    if item.once:
        reason = f"{capital(item.reason)}. " if item.reason else ""
        return f"{reason.replace('?.', '?')}{ONCE}"
    if item.reason:
        then = " Then" if item.reason.endswith("?") else "; then"
        return f"{capital(item.reason)}{then} take it again"
    return f"Take it again; look at {METER_SLIPS if metered(item.text) else 'the digits'}"


def metered(line: str) -> bool:
    """Whether the line of a reading begins with a function of a meter."""
    return FUNCTION_WORDS.get(line.split()[0].casefold(), "shows") not in ("shows", "process")
