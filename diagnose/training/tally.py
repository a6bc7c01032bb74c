"""Figures of many simulated hunts: how right, how soon, how well calibrated."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import nan

import numpy as np

from diagnose.training.hunts import Hunt
from diagnose.training.scores import Interval, about_mean, calibration, wilson

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
    ``calibration`` the expected calibration error of the leading group over ``classes``,
    ``equal_mass`` the same over classes of equal size; ``credible`` how often the groups that hold
    90 % hold the true one; ``named`` the share of readings worthless by design that are distrusted
    in the end; ``touched`` how often the leading group names a fault that there is; ``plain`` the
    share of ``first`` among single faults without a size or beyond three times the tolerance;
    ``accused`` the share of sound loops of which the hunt ended sure of a fault; ``misled`` how
    often it ended sure of a part with which nothing is wrong, ``unwarned`` how often without a
    warning; ``warned`` how often readings or sheet were said to be in doubt.  Of two faults,
    ``before`` is how often both were among the first three before any repair, ``both`` how often
    each was when a repair was due, ``shown`` how often the second could be seen at all,
    ``both_shown`` the share of ``both`` among these.
    ``intervals`` are the 95 % intervals of the figures, by name.
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
    equal_mass: float
    credible: float
    named: float
    touched: float
    plain: float
    accused: float
    misled: float
    unwarned: float
    warned: float
    before: float
    both: float
    shown: float
    both_shown: float
    all_readings: float
    all_minutes: float
    intervals: dict[str, Interval]
    classes: tuple[Class, ...]


def tally(hunts: Sequence[Hunt]) -> Tally:
    """The figures of at least one hunt."""
    sure, pairs = [h for h in hunts if h.sure], [h for h in hunts if h.both is not None]
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
        equal_mass=calibration([h.said for h in hunts], [h.right for h in hunts]),
        credible=_mean(h.credible for h in hunts),
        named=_mean(h.named for h in hunts if h.named is not None),
        touched=_mean(h.touched for h in hunts),
        plain=_mean(h.right for h in hunts if h.plain),
        accused=_mean(accused(h) for h in hunts if h.part is None),
        misled=_mean(h.misled for h in hunts),
        unwarned=_mean(h.misled and not h.warned for h in hunts),
        warned=_mean(h.warned for h in hunts),
        before=_mean(bool(h.before) for h in pairs),
        both=_mean(bool(h.both) for h in pairs),
        shown=_mean(bool(h.shown) for h in pairs),
        both_shown=_mean(bool(h.both) for h in pairs if h.shown),
        all_readings=_mean(h.all_readings for h in pairs),
        all_minutes=_mean(h.all_minutes for h in pairs),
        intervals=_intervals(hunts, sure),
        classes=classes,
    )


def _intervals(hunts: Sequence[Hunt], sure: Sequence[Hunt]) -> dict[str, Interval]:
    """95 % intervals: of shares after Wilson, of means by the normal distribution."""
    mistaken = [h for h in hunts if h.named is not None]
    pairs = [h for h in hunts if h.both is not None]
    shares = {
        "first": [h.right for h in hunts],
        "first_three": [h.rank <= 3 for h in hunts],
        "sure": [h.sure for h in hunts],
        "right_when_sure": [h.right for h in sure],
        "unmodelled": [h.unmodelled > h.said for h in hunts],
        "named": [bool(h.named) for h in mistaken],
        "touched": [h.touched for h in hunts],
        "plain": [h.right for h in hunts if h.plain],
        "accused": [accused(h) for h in hunts if h.part is None],
        "misled": [h.misled for h in hunts],
        "unwarned": [h.misled and not h.warned for h in hunts],
        "warned": [h.warned for h in hunts],
        "before": [bool(h.before) for h in pairs],
        "both": [bool(h.both) for h in pairs],
        "shown": [bool(h.shown) for h in pairs],
        "both_shown": [bool(h.both) for h in pairs if h.shown],
    }
    means = {
        "readings": [float(h.readings) for h in hunts],
        "minutes": [h.minutes for h in hunts],
        "interruptions": [float(h.interruptions) for h in hunts],
        "brier": [h.brier for h in hunts],
        "credible": [h.credible for h in hunts],
        "all_readings": [float(h.all_readings) for h in pairs],
        "all_minutes": [h.all_minutes for h in pairs],
    }
    return {name: wilson(sum(some), len(some)) for name, some in shares.items()} | {
        name: (max(low, 0.0), high)  # nothing here is below 0
        for name, some in means.items()
        for low, high in [about_mean(some)]
    }


def accused(h: Hunt) -> bool:
    """Whether a hunt ended sure of a fault where there was none."""
    return h.sure and not h.right


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
