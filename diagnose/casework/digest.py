"""What a case keeps of a ranking, and what the ranking was computed with."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path

from diagnose.casework import events as e
from diagnose.casework.case import Case
from diagnose.inference.ranking import Ranking
from diagnose.library import PACKAGE, installed_version, package_version

KEPT = 8
"""Hypotheses kept of a ranking."""

DECIMALS = 6

WORTHLESS = 0.5
"""Chance of being worthless from which on a reading counts as distrusted."""

ROOMS = ("loops", "circuit", "inference")
"""Packages whose code decides a ranking."""


def ranked(ranking: Ranking, case: Case) -> e.Ranked:
    """The event that records a ranking of the readings that are in force in a case."""
    top = tuple(
        (item.part, item.fault, item.also, round(item.probability, DECIMALS))
        for item in ranking.hypotheses[:KEPT]
    )
    distrusted = tuple(
        case.in_force[item.index - 1].number
        for item in ranking.suspects
        if item.probability >= WORTHLESS
    )
    return e.Ranked(top, round(ranking.unexplained, DECIMALS), versions(), distrusted)


@cache
def _engine() -> str:
    """Twelve digits that change with any line of code that decides a ranking."""
    digest = sha256()
    for room in ROOMS:
        for path in sorted(Path(PACKAGE / room).rglob("*.py")):
            digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()[:12]


def versions() -> dict[str, str]:
    """What a ranking is computed with here: package, its engine's code, numpy."""
    return {
        "diagnose": package_version(),
        "engine": _engine(),
        "numpy": installed_version("numpy"),
    }
