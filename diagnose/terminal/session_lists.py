"""Lists of a session: open items, readings, what a supposed reading would change, options."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from diagnose.errors import ReadingError
from diagnose.inference.ranking import Ranking
from diagnose.loops.loop import Loop
from diagnose.quantities import whole_number
from diagnose.terminal.naming import short_name
from diagnose.terminal.outcome import Look
from diagnose.terminal.render_ranking import verdict
from diagnose.terminal.wording import count, paragraph, percent


def items(texts: Sequence[str], look: Look) -> Iterator[str]:
    """What is altered and not yet put back, numbered."""
    if not texts:
        yield "Nothing is open: no wire lifted, no bypass, nothing driven that is recorded here."
        return
    yield f"Altered and not yet put back: {count(len(texts), 'item')}."
    for number, text in enumerate(texts, 1):
        yield from paragraph(text, look, f"  {number}  ")
    yield "Type done and the number once it is put back; done all for all of them."


def readings(lines: Sequence[tuple[int, str]], ranking: Ranking, look: Look) -> Iterator[str]:
    """The readings in force with their numbers; distrusted ones are marked."""
    if not lines:
        yield "No reading yet."
        return
    doubt: Mapping[int, float] = {item.index: item.probability for item in ranking.suspects}
    for number, text in lines:
        unsure = doubt.get(number)
        mark = f"   distrusted ({percent(unsure)}): retake {number}" if unsure else ""
        yield from paragraph(text + mark, look, f"{number:>4}  ")


def change(before: Ranking, after: Ranking, loop: Loop, look: Look) -> Iterator[str]:
    """What a reading would do to the ranking, without entering it."""
    yield from paragraph(f"It would say: {verdict(after, loop)}", look)
    names = [*_shares(after)][:5]
    names += [name for name in [*_shares(before)][:2] if name not in names]
    for name in names:
        was, becomes = _shares(before).get(name, 0.0), _shares(after).get(name, 0.0)
        yield f"  {percent(was):>6} -> {percent(becomes):>6}  {name}"[: look.width]
    for item in after.suspects:
        text = f"'{item.text}' would be distrusted ({percent(item.probability)})."
        yield from paragraph(text, look, "  ")
    yield "Nothing was entered."


def _shares(ranking: Ranking) -> dict[str, float]:
    """Probability by name, the largest first; sizes apart, because they change."""
    found = {short_name(item): item.probability for item in ranking.hypotheses}
    found["none of the modelled faults"] = ranking.unexplained
    return dict(sorted(found.items(), key=lambda pair: -pair[1]))


def beyond(line: str, many: int) -> None:
    """ReadingError where a line is nothing but numbers, and one is not on a list of so many."""
    words = line.replace(",", " ").replace(";", " ").split()
    if words and all(word.isdecimal() for word in words):
        wrong = next((word for word in words if not whole_number(word, 1, many)), None)
        if wrong is not None:
            raise ReadingError(wrong, f"the numbers of this list are 1 to {many}")


def numbered(options: Mapping[str, str], look: Look) -> Iterator[str]:
    """Options to choose from by number or word, in columns."""
    wide, digits = max(map(len, options), default=0), len(str(len(options)))
    for number, (name, meaning_) in enumerate(options.items(), 1):
        yield from paragraph(meaning_, look, f"  {number:>{digits}}  {name:<{wide}}  ")
