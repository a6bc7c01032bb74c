"""Results of a class: who passed what, which faults were missed, which mistakes were common."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from diagnose.loops.cells import inert
from diagnose.training.drill import Drill
from diagnose.training.needs import GUESSED, LEFT
from diagnose.training.pages import Block, head, table, text, title, warn
from diagnose.training.path import path_of
from diagnose.training.record import SUFFIX, Kept, played
from diagnose.training.safety import MISTAKES
from diagnose.training.score import Score, borne_out, score_of
from diagnose.training.verdicts import NOT_FOUND

COLUMNS = (
    "trainee", "lesson", "loop", "fault", "verdict", "right", "score", "passed", "minutes",
    "readings", "trips", "unsafe", "asked", "mistakes", "file", "changed",
)  # fmt: skip

NOT_OF_A_STEP = {
    GUESSED: "the readings did not bear the verdict out",
    LEFT: "not put back before closing",
}
"""What can be done wrong in a drill as a whole."""

ON_PAGE = (
    "trainee", "lesson", "fault", "verdict", "score", "passed", "minutes", "mistakes", "file",
)  # fmt: skip
"""Columns that fit on a page; the rest is in the CSV."""


@dataclass(frozen=True)
class Result:
    """One drill of one trainee.

    ``closed`` is False where it was not finished; its fault is not told then, for it can be gone
    on with.  ``file`` is the name of its file without the ending, which its debrief has too;
    ``changed`` says where it is not as it was written; ``drill`` is one for drills set alike.
    """

    trainee: str
    lesson: str
    loop: str
    fault: str
    verdict: str
    closed: bool
    passed: bool
    score: Score | None
    mistakes: tuple[str, ...]
    changed: str = ""
    file: str = ""
    drill: str = ""

    @property
    def about(self) -> str:
        """What was drilled: the lesson, or the loop where there is none."""
        return self.lesson or self.loop

    @property
    def cells(self) -> tuple[str, ...]:
        """The result in the order of ``COLUMNS``."""
        s = self.score
        numbers = ("", "", "not closed", "", "", "", "", "")
        if s is not None:
            numbers = (
                f"{s.right:.2f}", f"{s.total:.0f}", "yes" if self.passed else "no",
                f"{s.minutes:.0f}", str(s.readings), str(s.trips), str(s.unsafe), f"{s.asked:.0f}",
            )  # fmt: skip
        mistakes = ", ".join(self.mistakes)
        return (
            self.trainee, self.lesson, self.loop, self.fault, self.verdict, *numbers, mistakes,
            self.file, self.changed,
        )  # fmt: skip


def result_of(kept: Kept, drill: Drill | None = None) -> Result:
    """The result of a drill on disk; it is played again, and scored by the one rule."""
    drill = drill or played(kept)
    stem = kept.path.name.removesuffix(SUFFIX)
    score, guess = _scored(drill) if drill.closed else (None, ())
    mistakes = [name for step in drill.steps for name in step.mistakes]
    left = [LEFT] if drill.closed and drill.items else []
    return Result(
        trainee=kept.trainee or stem,
        lesson=kept.setting.name,
        loop=drill.loop.tag,
        fault=said(drill.hidden.keys) if drill.closed else "",
        verdict=said(drill.verdict) if drill.verdict else "",
        closed=drill.closed,
        passed=score is not None and score.total >= kept.setting.pass_mark,
        score=score,
        mistakes=(*dict.fromkeys(mistakes), *guess, *left),
        changed=f"{kept.path.name}, about line {kept.changed}" if kept.changed else "",
        file=stem,
        drill=f"{drill.loop.digest} {kept.setting}",
    )


def _scored(drill: Drill) -> tuple[Score, tuple[str, ...]]:
    """The score of a closed drill, and whether its verdict was a guess by the rule."""
    passed, end = path_of(drill)
    guessed = borne_out(drill, passed, end) < 1
    return score_of(drill, passed, end), (GUESSED,) if guessed else ()


def said(keys: Sequence[tuple[str | None, str]]) -> str:
    """Faults in words."""

    def word(fault: str) -> str:
        return "not found" if (None, fault) == NOT_FOUND else "sound"

    return " and ".join(f"{part} {fault}" if part else word(fault) for part, fault in keys)


def csv_text(results: Sequence[Result]) -> str:
    """The table as CSV; a cell that a spreadsheet would take for a formula is marked as text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for result in results:
        writer.writerow([inert(cell) for cell in result.cells])
    return out.getvalue()


@dataclass(frozen=True)
class Common:
    """Something that was common: in how many of how many drills."""

    name: str
    times: int
    of: int


def missed(results: Sequence[Result]) -> list[Common]:
    """Faults by how often the verdict missed their group, the most missed first."""
    done = [r for r in results if r.score is not None]
    seen = Counter(r.fault for r in done)
    wrong = Counter(r.fault for r in done if r.score is not None and r.score.right < 0.5)
    found = [Common(name, wrong[name], seen[name]) for name in wrong]
    return sorted(found, key=lambda c: (-c.times / c.of, -c.times, c.name))


def mistaken(results: Sequence[Result]) -> list[Common]:
    """Mistakes by how many drills they were made in."""
    done = [r for r in results if r.score is not None]
    found = Counter(name for r in done for name in r.mistakes)
    return [Common(name, times, len(done)) for name, times in found.most_common()]


def changed(results: Sequence[Result]) -> str:
    """A sentence on files that somebody changed; nothing where all are as they were written."""
    files = [result.changed for result in results if result.changed]
    if not files:
        return ""
    return f"Not as the drill wrote it, so its score may not be the trainee's: {'; '.join(files)}."


def repeated(results: Sequence[Result]) -> str:
    """A sentence on drills that a trainee began again; nothing where there is none.

    Once it was closed, what was wrong is known; a drill that is begun anew beside one that was
    left open has its readings from there.
    """
    tries: dict[tuple[str, str], list[str]] = {}
    for result in results:
        tries.setdefault((result.trainee.casefold(), result.drill), []).append(result.file)
    names = {result.trainee.casefold(): result.trainee for result in results}
    again = [
        f"{names[who]} ({', '.join(filter(None, files)) or f'{len(files)} times'})"
        for (who, _), files in tries.items() if len(files) > 1
    ]  # fmt: skip
    if not again:
        return ""
    return f"The same drill more than once, so its answer may have been known: {'; '.join(again)}."


def page(results: Sequence[Result], name: str, first: Iterable[Block] = ()) -> Iterator[Block]:
    """The results as a page; ``first`` comes before the single drills."""
    done = [r for r in results if r.score is not None]
    yield title(f"Results: {name}")
    passed = sum(r.passed for r in done)
    yield text(
        f"Drills: {len(done)} closed, {passed} passed, {len(results) - len(done)} not closed."
    )
    yield from first
    yield head("The drills")
    places = [COLUMNS.index(column) for column in ON_PAGE]
    # The loop tells a drill without a lesson from others on the page.
    shown = [replace(r, lesson=r.about) for r in results]
    heads = ["drill" if column == "lesson" else column for column in ON_PAGE]
    yield table(heads, [tuple(r.cells[n] for n in places) for r in shown])
    if odd := changed(results):
        yield warn(odd)
    if odd := repeated(results):
        yield warn(odd)
    yield head("Faults that were missed")
    yield _common(missed(results), ("fault", "missed", "of"), "No fault was missed.")
    yield head("Mistakes that were made")
    meaning = {**MISTAKES, **NOT_OF_A_STEP}
    told = [Common(f"{c.name}: {meaning[c.name]}", c.times, c.of) for c in mistaken(results)]
    yield _common(told, ("mistake", "drills", "of"), "No mistake was made.")


def _common(found: Sequence[Common], names: tuple[str, str, str], none: str) -> Block:
    if not found:
        return text(none)
    return table(names, [(c.name, str(c.times), str(c.of)) for c in found])
