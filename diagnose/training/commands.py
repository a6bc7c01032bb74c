"""The lines that a trainee types in a drill, and what each of them does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import islice

from diagnose.training import deeds, helping
from diagnose.training.drill import Drill
from diagnose.training.safety import ARRANGEMENTS
from diagnose.training.setting import DrillError
from diagnose.training.steps import Step

LONGEST = 240
"""Longest line that is taken, characters."""

Deed = Callable[[Drill, str], Step]


@dataclass(frozen=True, slots=True)
class Word:
    """One command: its name, what follows, what it does, how it is done."""

    name: str
    follows: str
    help: str
    run: Deed
    also: tuple[str, ...] = ()


def _arrange(word: str) -> Deed:
    return lambda drill, _: deeds.arrange(drill, word)


WORDS: tuple[Word, ...] = (
    Word("set", "CONDITION", "alter the loop, read nothing yet: set W3+.X21 lifted", deeds.alter,
         also=("do", "lift", "open", "drive")),
    Word("restore", "[ITEM]", "put back what is altered: words, number or all", deeds.restore,
         also=("done", "restored")),
    Word("jack", "V or mA", "put the red lead into that jack of the meter", deeds.lead),
    Word("new fuse", "", "put a new fuse into the meter", deeds.new_fuse),
    Word("fuse", "", "prove the meter's current fuse", deeds.prove_fuse),
    *(Word(item.word, "", item.need, _arrange(item.word)) for item in ARRANGEMENTS.values()),
    Word("withdraw", "N", "reading N counts no more", deeds.withdraw),
    Word("undo", "", "the last reading counts no more; what was done stays done", deeds.undo),
    Word("wait", "MINUTES", "let time pass: a fault may come and go", deeds.wait),
    Word("at", "PLACE", "walk there", deeds.stand),
    Word("hint", "", "a hint, in steps: each costs more", helping.hint),
    Word("rank", "", "the ranking of the tool, where the trainer allows it", helping.rank),
    Word("advice", "", "the step that the tool would take", helping.advice),
    Word("note", "TEXT", "keep some words", deeds.note),
    Word("verdict", "PART FAULT", "what is wrong: R1 drift; none; two joined by and; not found",
         lambda drill, text: drill.conclude(text)),
    Word("close", "", "end the drill: score and debrief", lambda drill, _: drill.close()),
)  # fmt: skip
"""The commands of a drill; every other line is a measurement."""

_NAMES = {name: word for word in WORDS for name in (word.name, *word.also)}


def word_of(line: str) -> tuple[Word | None, str]:
    """The command that a line begins with, and what follows it."""
    words = line.split()
    for length in (2, 1):
        found = _NAMES.get(" ".join(islice(words, length)).casefold())
        if found is not None and len(words) >= length:
            rest = words[length:]
            first = words[0].casefold()
            # "lift W3+.X21" says the same as "set W3+.X21 lifted".
            ends = {"lift": ["lifted"], "open": ["opened"]}.get(first, [])
            return found, " ".join([*rest, *ends] if rest else rest)
    return None, line


def do(drill: Drill, line: str) -> Step:
    """Carry out one line; DiagnoseError with one sentence where it cannot be."""
    text = " ".join(line.split())
    if len(text) > LONGEST or not text.isprintable():
        raise DrillError(f"a line has at most {LONGEST} printable characters")
    if drill.closed:
        raise DrillError("the drill is closed")
    if not text:
        raise DrillError("type a measurement, such as: V X21:7 X20:0")
    word, rest = word_of(text)
    return drill.measure(text) if word is None else word.run(drill, rest)
