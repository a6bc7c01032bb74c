"""The commands of a session: one table feeds help, completion and tests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from diagnose.errors import UnknownNameError
from diagnose.inference.examples import examples
from diagnose.terminal import session_actions as do
from diagnose.terminal import session_altered as altered
from diagnose.terminal import session_proof as proof
from diagnose.terminal import session_repair as repair
from diagnose.terminal.session_altered import Run
from diagnose.terminal.session_anew import anew
from diagnose.terminal.session_good import good
from diagnose.terminal.session_split import split
from diagnose.terminal.session_talk import Talk
from diagnose.terminal.session_why import why
from diagnose.terminal.wording import paragraph


@dataclass(frozen=True, slots=True)
class Word:
    """One command: its name, what may follow, what it does; ``also`` are other ways to say it.

    ``takes`` says what completion offers behind it.
    """

    name: str
    follows: str
    help: str
    run: Run
    takes: str = ""
    also: tuple[str, ...] = ()


def help_(talk: Talk, rest: str) -> Iterator[str]:
    """The commands of this table; with a word, that one."""
    if not rest:
        yield from _short_help(talk)
        return
    wanted = [word for word in WORDS if rest.casefold() in ("all", word.name, *word.also)]
    if not wanted:
        raise UnknownNameError("command", rest, ("all", *(word.name for word in WORDS)))
    width = max(len(f"{word.name} {word.follows}") for word in wanted)
    for word in wanted:
        head = f"  {f'{word.name} {word.follows}':<{width}}  "
        yield from paragraph(word.help, talk.look, head)
    if len(wanted) == 1 and wanted[0].also:
        yield f"  The same: {', '.join(wanted[0].also)}."


def _short_help(talk: Talk) -> Iterator[str]:
    """All commands by name, in a few lines: a list of every word would not fit on a screen."""
    yield "A number answers what is asked. Any reading may be typed at any time, such as"
    yield from paragraph("    ".join(examples(talk.loop).readings), talk.look, "  ")
    width = max(len(topic) for topic, _ in TOPICS)
    for topic, names in TOPICS:
        yield from paragraph(", ".join(names), talk.look, f"  {topic:<{width}}  ")
    yield "help and a command says what it does; help all does so for all of them."


_MANUAL = altered.record(
    "manual", "manual", "Who agreed to manual, and what else reads this signal?"
)
_BYPASS = altered.record(
    "bypass", "trip", "Who authorised the bypass, until when, what compensates?"
)

WORDS: tuple[Word, ...] = (
    Word("ok", "", "what stands behind STOP is dealt with", do.ok),
    Word(
        "not possible", "[REASON]", "this step cannot be done: next best", do.not_possible,
        also=("not allowed", "not reachable", "impossible", "no access", "cannot", "forbidden"),
    ),
    Word("other", "", "another step, this one not ruled out", do.other),
    Word("more", "", "go on measuring where it would stop", do.more),
    Word("why", "[POINT [POINT]]", "the formula behind a step or a point", why, "point"),
    Word("what if", "LINE", "what a reading would change; not entered",
         do.what_if, "reading", also=("whatif",)),
    Word("split", "[FAULT, FAULT]", "which reading tells two faults apart; the two likeliest",
         split, "fault", also=("tell apart",)),
    Word("loop", "", "the loop as it runs: due, read, where they part", do.loop_drawn,
         also=("draw",)),
    Word("undo", "", "take back what was entered last", do.undo),
    Word("correct", "N VALUE", "reading N should have said VALUE", do.correct, "number"),
    Word("withdraw", "N [REASON]", "reading N counts no more; or the words of a complaint",
         do.withdraw, "number"),
    Word("retake", "N", "ask for reading N once more", do.retake, "number"),
    Word("good", "PART [FAULT] [WHAT WAS SEEN]",
         "looked at and good: the fault is not there; N for a remedy's number", good, "fault",
         also=("found good", "cleared", "checked good")),
    Word("list", "", "the readings, distrusted ones marked", do.list_readings, also=("readings",)),
    Word("rank", "", "the ranking in full", do.rank, also=("ranking",)),
    Word("show", "", "this screen once more", do.show, also=("next",)),
    Word("note", "TEXT", "keep some words in the case", do.note),
    Word("at", "[PLACE]", "where you stand", do.at, "place"),
    Word("without", "PLACE or FUNCTION", "advise nothing there, or nothing of that", do.without,
         "without"),
    Word("skip", "LINE", "rule out one measurement", do.decline_line, "reading", also=("decline",)),
    Word("items", "", "what is altered and not yet put back", altered.items, also=("open items",)),
    Word("done", "ITEM", "put back: its number, its words, or all", altered.done, "item",
         also=("restored", "restore")),
    Word("manual", "[WORDS]", "controller in manual: by whose word", _MANUAL),
    Word("bypass", "[WORDS]", "trip bypassed: by whom, until when", _BYPASS),
    Word("cautions", "", "the cautions in full", do.cautions),
    Word("remedy", "[N]", "what to put right, in order; N: do it", repair.remedy,
         "number"),
    Word("proof", "", "the readings that prove the repair", proof.proof),
    Word("anew", "", "it did not help: hunt on, without what was read before the repair", anew),
    Word("confirm", "[PART FAULT [EVIDENCE]]", "this was the cause, proved", repair.confirm,
         "fault"),
    Word("close", "[ENDING]", "end the case", repair.close, "ending"),
    Word("handover", "", "print and save the note for the next shift", repair.handover,
         also=("hand over", "hand-over")),
    Word("cancel", "", "leave the question that stands", do.cancel),
    Word("help", "[COMMAND or all]", "the commands", help_, "command", also=("?", "commands")),
    Word("quit", "", "leave; the case stays open for --resume", do.quit_,
         also=("exit", "q", "bye")),
)  # fmt: skip

TOPICS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "this step",
        ("ok", "not possible", "other", "more", "why", "what if", "split", "cautions", "show"),
    ),
    (
        "what was read",
        ("list", "undo", "correct", "withdraw", "retake", "good", "rank", "loop", "note"),
    ),
    ("where", ("at", "without", "skip")),
    ("what is altered", ("items", "done", "manual", "bypass")),
    ("the end", ("remedy", "proof", "anew", "confirm", "close", "handover")),
    ("besides", ("cancel", "help", "quit")),
)
"""The commands by what they are about."""

SHOWS = frozenset({"why", "split", "loop", "list", "rank", "show", "items", "cautions", "help"})
"""Commands that, alone, alter nothing and ask nothing."""

_LONGEST = 3
_NAMES = {name: word for word in WORDS for name in (word.name, *word.also)}


def command_of(line: str) -> tuple[Word | None, str]:
    """The command that a line begins with and what follows it; None if it begins with none."""
    words = line.split()
    for length in range(min(_LONGEST, len(words)), 0, -1):
        found = _NAMES.get(" ".join(islice(words, length)).casefold())
        if found is not None:
            return found, " ".join(words[length:])
    return None, line
