"""Help and completion of a drill: both read the table of its commands."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.inference.conditions import meaning_of_words
from diagnose.inference.examples import examples
from diagnose.inference.reading_names import find_part
from diagnose.inference.reading_words import FUNCTIONS
from diagnose.loops.loop import Loop, Part
from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import minutes, paragraph
from diagnose.training.commands import WORDS
from diagnose.training.safety import ARRANGEMENTS
from diagnose.training.setting import DrillError

LOCAL = (
    ("sheet", "the loop: points, displays and parts at every place"),
    ("sheet PART", "what a part is, and the faults that it may have"),
    ("list", "the readings so far"),
    ("items", "what is altered and not yet put back"),
    ("cautions STEP", "what a step needs and what to beware of"),
    ("quit", "leave; the drill can be gone on with"),
)
"""Commands of the screen, which cost nothing."""


def help_lines(loop: Loop, look: Look) -> Iterator[str]:
    """The commands."""
    yield "A line without a value is a measurement; the meter answers:"
    yield from paragraph("    ".join(examples(loop).measurements), look, "  ")
    yield from paragraph("A condition behind with stays as it is until it is put back.", look, "  ")
    plain = [word for word in WORDS if word.name not in ARRANGEMENTS]
    rows = [(f"{word.name} {word.follows}".strip(), word.help) for word in plain]
    width = max(len(name) for name, _ in (*rows, *LOCAL))
    for name, meaning in (*rows, *LOCAL):
        yield from paragraph(meaning, look, f"  {name:<{width}}  ")
    yield "Before a step, arrange what it needs by its word:"
    for item in ARRANGEMENTS.values():
        text = f"{item.need}; {minutes(item.minutes)}"
        yield from paragraph(text, look, f"  {item.word:<{width}}  ")


def sheet_lines(loop: Loop, look: Look) -> Iterator[str]:
    """The loop as its sheet has it: what can be reached, read and worked on at every place."""
    for place in loop.places:
        yield look.strong(f"{place.name}: {place.title}, {place.area}, {minutes(place.minutes)}")
        found = {
            "points": [point.name for point in loop.points if point.place == place.name],
            "displays": [p.name for p in loop.parts if p.kind.shows and p.read_at == place.name],
            "parts": [p.name for p in loop.parts if p.place == place.name and _fails(p)],
        }
        for name, words in found.items():
            if words:
                yield from paragraph(", ".join(words), look, f"  {name:<8}  ")


def part_lines(name: str, loop: Loop, look: Look) -> Iterator[str]:
    """One part: what it is, where, and the faults that a verdict may name; DrillError if none."""
    part = find_part(name, loop)
    if part is None:
        raise DrillError(f"no part called '{name[:40]}'; sheet lists them by their places")
    yield look.strong(f"{part.name}: {part.title or part.kind.title}")
    modes = [f"{mode.name} ({mode.title})" for mode in part.kind.modes]
    yield from paragraph("; ".join(modes) or "none that is modelled", look, "  faults    ")


def _fails(part: Part) -> bool:
    """Whether a part is one that can be told wrong: a process connection has no terminals."""
    return bool(part.pins or part.kind.modes)


def offers(text: str, loop: Loop) -> list[str]:
    """What the word being typed may become."""
    begun = "" if text[-1:].isspace() else text.rpartition(" ")[2]
    first = " " not in text.strip() and not text[-1:].isspace()
    words: list[str] = []
    if first:
        words += [word.name for word in WORDS] + [
            *FUNCTIONS[:6],
            "help",
            "sheet",
            "list",
            "items",
            "quit",
        ]
        words += [part.name for part in loop.parts if part.kind.shows]
    else:
        words += [point.name for point in loop.points]
        words += [part.name for part in loop.parts]
        words += ["with", *sorted(meaning_of_words(loop))]
    known = dict.fromkeys(words)
    return [word for word in known if word.casefold().startswith(begun.casefold())]
