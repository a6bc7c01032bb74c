"""A class side by side: one line a trainee, over all drills that were kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256

from diagnose.training.needs import GUESSED, NEEDS, needed
from diagnose.training.results import Result
from diagnose.training.score import Score

COLUMNS = (
    "trainee", "closed", "passed", "open", "score", "right", "guessed", "min", "readings",
    "unsafe",
)  # fmt: skip
"""Score, minutes and readings are means; short words, so that a line fits a screen."""


@dataclass(frozen=True)
class Line:
    """What one trainee did; means are over the drills that were closed, None where none was.

    ``right`` counts verdicts whose group was right, ``guessed`` those that the readings did not
    bear out, ``grave`` drills with a step that was unsafe or tripped the plant.  ``needs`` is what
    the closed drills say should be worked on, with the number of drills that do.
    """

    trainee: str
    closed: int
    passed: int
    left: int
    score: float | None
    right: int
    guessed: int
    minutes: float | None
    readings: float | None
    grave: int
    needs: tuple[str, ...] = ()

    @property
    def cells(self) -> tuple[str, ...]:
        """The line in the order of ``COLUMNS``."""
        return (
            self.trainee, str(self.closed), str(self.passed), str(self.left),
            _told(self.score, 0), str(self.right), str(self.guessed), _told(self.minutes, 0),
            _told(self.readings, 1), str(self.grave),
        )  # fmt: skip


def nameless(results: Sequence[Result]) -> list[Result]:
    """The results with a number for each trainee, in no order that tells the names.

    Names of files are left out: the trainee knows that of the own drill, and others may.
    """
    names = {result.trainee for result in results}
    order = sorted(names, key=lambda name: sha256(name.encode()).digest())
    return [
        replace(r, trainee=f"trainee {order.index(r.trainee) + 1}", file="",
                changed="a file" if r.changed else "")
        for r in results
    ]  # fmt: skip


def by_trainee(results: Sequence[Result]) -> tuple[Line, ...]:
    """One line a trainee, by name."""
    names = sorted({result.trainee for result in results}, key=lambda name: (name.casefold(), name))
    return tuple(_line(name, [r for r in results if r.trainee == name]) for name in names)


def _line(name: str, some: Sequence[Result]) -> Line:
    done = [(r, r.score) for r in some if r.score is not None]
    scores: list[Score] = [score for _, score in done]
    return Line(
        trainee=name,
        closed=len(done),
        passed=sum(r.passed for r, _ in done),
        left=len(some) - len(done),
        score=_mean([s.total for s in scores]),
        right=sum(s.right >= 0.5 for s in scores),  # as results.missed has it
        guessed=sum(GUESSED in r.mistakes for r, _ in done),
        minutes=_mean([s.minutes for s in scores]),
        readings=_mean([float(s.readings) for s in scores]),
        grave=sum(s.grave > 0 for s in scores),
        needs=_needs([r for r, _ in done]),
    )


def _needs(done: Sequence[Result]) -> tuple[str, ...]:
    """What to work on: in how many drills it was wanting, the gravest first."""
    found = Counter(need for r in done for need in needed(r.mistakes, r.score))
    return tuple(f"{need} ({found[need]} of {len(done)})" for need in NEEDS if found[need])


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None


def _told(value: float | None, digits: int) -> str:
    return "" if value is None else f"{value:.{digits}f}"
