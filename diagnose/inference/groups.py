"""Ambiguity groups: hypotheses that no measurement within reach tells apart."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.outcomes import Outlook
from diagnose.inference.views import Points

APART = 0.10
"""Bits that the best single measurement must be able to tell, or two hypotheses are one group."""

WORTH = 0.004
"""Hypotheses less probable than this are not compared."""


def given(outlook: Outlook, points: Points, count: int) -> Array:
    """P(bin | hypothesis) of every candidate: (candidate, bin, hypothesis)."""
    table = np.zeros((len(points), count))
    table[np.arange(len(points)), points.h] = points.weight
    total = table.sum(axis=0)
    result: Array = outlook.bins @ (table / np.maximum(total, 1e-300))
    return result


def groups(told: Array, probability: Array) -> Array:
    """Group number of each hypothesis, 1 the most probable group; shape (hypothesis,).

    ``told`` (candidate, bin, hypothesis) as from ``given``; the measure of apartness is the
    Jensen-Shannon divergence of the outcomes (bits) of the best candidate.
    """
    count = len(probability)
    label = np.arange(count)
    worth = np.flatnonzero((probability > WORTH) & (told.sum(axis=(0, 1)) > 0))
    for place, first in enumerate(worth):
        for second in worth[place + 1 :]:
            if label[first] != label[second] and _apart(told, int(first), int(second)) < APART:
                label[label == label[second]] = label[first]
    return _numbered(label, probability)


def _numbered(label: Array, probability: Array) -> Array:
    weight = np.bincount(label, weights=probability, minlength=len(label))
    order = np.argsort(-weight, kind="stable")
    number = np.empty(len(label), int)
    number[order] = np.arange(1, len(label) + 1)
    result: Array = number[label]
    return result


def _apart(told: Array, first: int, second: int) -> float:
    a, b = told[:, :, first], told[:, :, second]
    middle = (a + b) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        left = np.where(a > 0, a * np.log2(a / middle), 0).sum(axis=1)
        right = np.where(b > 0, b * np.log2(b / middle), 0).sum(axis=1)
    return float(((left + right) / 2).max()) if len(left) else 0.0


def gain(told: Array, probability: Array) -> Array:
    """Expected information about the hypothesis, bits, of every candidate: (candidate,).

    ``probability`` (hypothesis,) should add up to one over what is compared.
    """
    weight = probability / max(probability.sum(), 1e-300)
    mixed = told @ weight
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = -np.where(mixed > 0, mixed * np.log2(mixed), 0).sum(axis=1)
        parts = -np.where(told > 0, told * np.log2(told), 0).sum(axis=1) @ weight
    result: Array = np.maximum(whole - parts, 0)
    return result


def joint_gain(outlook: Outlook, points: Points, first: int, second: int) -> float:
    """Expected information of two measurements together, bits.

    Given a point (hypothesis, severity, process) the two outcomes are independent; halved bins
    keep it quick.
    """
    a, b = (outlook.bins[n][0::2] + outlook.bins[n][1::2] for n in (first, second))
    numbers, own = np.unique(points.h, return_inverse=True)
    table = np.zeros((len(points), len(numbers)))
    table[np.arange(len(points)), own] = points.weight
    probability = table.sum(axis=0)
    both = (a[:, None, :] * b[None, :, :]).reshape(-1, len(points))
    return float(gain((both @ (table / probability))[None], probability)[0])
