"""Figures of many simulated hunts: how right, how soon, how well calibrated."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import nan

import numpy as np

from diagnose.training.hunts import Hunt

BINS = 10
"""Classes of stated probability in the reliability table."""


@dataclass(frozen=True)
class Class:
    """Hunts that ended with a stated probability within [low, high)."""

    low: float
    high: float
    hunts: int
    said: float
    right: float


@dataclass(frozen=True)
class Tally:
    """The figures of some hunts.

    ``first`` and ``first_three`` are the shares with the true group first or among the first three;
    ``sure`` the share that reached the limit; ``right_when_sure`` the share of these that were
    right; ``brier`` the mean quadratic score over the groups (0 perfect, 1 surely wrong);
    ``calibration`` the expected calibration error of the leading group over ``classes``.
    """

    hunts: int
    first: float
    first_three: float
    sure: float
    right_when_sure: float
    readings: float
    minutes: float
    interruptions: float
    brier: float
    unmodelled: float
    calibration: float
    classes: tuple[Class, ...]


def tally(hunts: Sequence[Hunt]) -> Tally:
    """The figures of at least one hunt."""
    sure = [h for h in hunts if h.sure]
    classes = tuple(_classes(hunts))
    return Tally(
        hunts=len(hunts),
        first=_mean(h.right for h in hunts),
        first_three=_mean(h.rank <= 3 for h in hunts),
        sure=len(sure) / len(hunts),
        right_when_sure=_mean(h.right for h in sure),
        readings=_mean(h.readings for h in hunts),
        minutes=_mean(h.minutes for h in hunts),
        interruptions=_mean(h.interruptions for h in hunts),
        brier=_mean(h.brier for h in hunts),
        unmodelled=_mean(h.unmodelled > h.said for h in hunts),
        calibration=sum(c.hunts * abs(c.said - c.right) for c in classes) / len(hunts),
        classes=classes,
    )


def _mean(values: Iterable[float]) -> float:
    found = [float(value) for value in values]
    return float(np.mean(found)) if found else nan


def _classes(hunts: Sequence[Hunt]) -> Iterable[Class]:
    """Equal classes of what was said of the leading group (the reliability table)."""
    for n in range(BINS):
        low, high = n / BINS, (n + 1) / BINS
        some = [h for h in hunts if low <= h.said < high or (n == BINS - 1 and h.said >= high)]
        if some:
            said, right = _mean(h.said for h in some), _mean(h.right for h in some)
            yield Class(low, high, len(some), said, right)


def by(hunts: Iterable[Hunt], key: Callable[[Hunt], str]) -> dict[str, list[Hunt]]:
    """Hunts sorted by a key, in the order of first mention."""
    found: dict[str, list[Hunt]] = {}
    for each in hunts:
        found.setdefault(key(each), []).append(each)
    return found
