"""The loop of a hunt, drawn: rows with what is due, what was read and what is suspected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.casework.hunt import Hunt
from diagnose.circuit.store import topology
from diagnose.circuit.strands import Strands, strands
from diagnose.inference.due import AS_DUE, Basis, Due, basis, due, everywhere, verdict
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.observe import Observer
from diagnose.inference.ranking import Ranking
from diagnose.inference.readings import parse_line, parse_lines
from diagnose.loops.loop import Loop
from diagnose.terminal.loop_rows import Facts, Row, Seen, focus, loop_rows
from diagnose.terminal.render_loop import heading

WORTH = 0.02
"""Probability from which on a fault is marked in the drawing."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn loop: its heading, its rows, and the row to be kept in sight."""

    title: str
    rows: tuple[Row, ...]
    focus: int


class Pictures:
    """Draws the loop of one hunt; what stays the same between two drawings is kept."""

    def __init__(self, loop: Loop) -> None:
        self.loop = loop
        self._strands: dict[frozenset[str], Strands] = {}
        self._due: tuple[object, dict[Measurement, Due]] | None = None

    def draw(self, hunt: Hunt, ranking: Ranking, following: Measurement | None) -> Picture:
        """The loop as it stands; ``following`` is the step in hand."""
        said = parse_lines(hunt.case.evidence, self.loop)
        known = basis(said, self.loop)
        taken = _taken(hunt)
        wanted = [*everywhere(self.loop), *(reading.measurement for _, reading in taken)]
        expected = self._expected(hunt.engine.at(said).observer, known, wanted)
        doubted = {item.index for item in ranking.suspects}
        seen = tuple(_seen(n, reading, expected, self.loop, n in doubted) for n, reading in taken)
        suspected = _suspected(ranking)
        rows = loop_rows(
            self.loop,
            self._found(frozenset(suspected)),
            Facts(expected, seen, suspected, following.points if following else (), hunt.place),
        )
        compared = [item for item in seen if item.due is not None]
        wrong = sum(item.verdict != AS_DUE for item in compared)
        title = heading(self.loop, known, wrong, len(compared))
        return Picture(title, rows, focus(rows, self.loop.reference))

    def _expected(
        self, observer: Observer, known: Basis, wanted: Sequence[Measurement]
    ) -> dict[Measurement, Due]:
        key = (observer.loop.digest, known)
        if self._due is None or self._due[0] != key:
            self._due = key, {}
        kept = self._due[1]
        kept.update(due([item for item in wanted if item not in kept], observer, known))
        return kept

    def _found(self, suspected: frozenset[str]) -> Strands:
        """The strands with those latent parts that are suspected."""
        latent = frozenset(name for name in suspected if self.loop.part(name).kind.latent)
        if latent not in self._strands:
            self._strands[latent] = strands(self.loop, topology(self.loop), latent)
        return self._strands[latent]


def _taken(hunt: Hunt) -> list[tuple[int, Reading]]:
    """The readings in force with their numbers; what was told of the process is none."""
    found = []
    for number, item in enumerate(hunt.case.readings, 1):
        reading = parse_line(item.text, hunt.loop) if item.withdrawn is None else None
        if isinstance(reading, Reading) and reading.measurement.function != "process":
            found.append((number, reading))
    return found


def _seen(
    number: int, reading: Reading, expected: dict[Measurement, Due], loop: Loop, doubted: bool
) -> Seen:
    there = expected.get(reading.measurement)
    told = verdict(reading, there, loop) if there is not None else ""
    return Seen(number, reading, there, told, doubted)


def _suspected(ranking: Ranking) -> dict[str, tuple[float, str]]:
    """Part -> share and name of its likeliest fault, where it matters; pairs count for both."""
    found: dict[str, tuple[float, str]] = {}
    for item in ranking.hypotheses:
        keys = ((item.part, item.fault), *item.also)
        for part, fault in keys if item.probability >= WORTH else ():
            if part is not None:
                found.setdefault(part, (item.probability, fault))
    return found
