"""Ambiguity groups: hypotheses that no measurement within reach tells apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.drawn import SEEN
from diagnose.inference.outcomes import Outlook
from diagnose.inference.views import Points

APART = 0.10
"""Bits that the best single measurement must be able to tell, or two hypotheses are one group."""

WORTH = 0.004
"""Hypotheses less probable than this are not compared."""


@dataclass
class Given:
    """P(bin | hypothesis) of every candidate, for the hypotheses that have points.

    ``present`` (hypothesis,) are their numbers, ``told`` (candidate, bin, hypothesis) the chances.
    """

    present: Array
    told: Array

    def of(self, hypotheses: Array) -> Array:
        """The chances for some hypotheses by number, all of which have points."""
        result: Array = self.told[:, :, np.searchsorted(self.present, hypotheses)]
        return result


def given(outlook: Outlook, points: Points) -> Given:
    """P(bin | hypothesis) of every candidate."""
    present, share = _shares(points)
    return Given(present, outlook.bins @ share)


def _shares(points: Points) -> tuple[Array, Array]:
    """The hypotheses that have points, and the share of each point in its own: (point, present)."""
    present, own = np.unique(points.h, return_inverse=True)
    table = np.zeros((len(points), len(present)))
    table[np.arange(len(points)), own] = points.weight
    return present, table / np.maximum(table.sum(axis=0), 1e-300)


def groups(known: Given, probability: Array) -> Array:
    """Group number of each hypothesis, 1 the most probable group; shape (hypothesis,).

    The measure of apartness is the Jensen-Shannon divergence of the outcomes (bits) of the best
    candidate.
    """
    label = np.arange(len(probability))
    worth = known.present[probability[known.present] > WORTH]
    bits = apart(known.of(worth))
    for n, first in enumerate(worth):
        for m in range(n + 1, len(worth)):
            second = worth[m]
            if label[first] != label[second] and bits[n, m] < APART:
                label[label == label[second]] = label[first]
    return _numbered(label, probability)


def _numbered(label: Array, probability: Array) -> Array:
    weight = np.bincount(label, weights=probability, minlength=len(label))
    order = np.argsort(-weight, kind="stable")
    number = np.empty(len(label), int)
    number[order] = np.arange(1, len(label) + 1)
    result: Array = number[label]
    return result


def apart(told: Array) -> Array:
    """Bits by which the best candidate tells each two hypotheses apart: (first, second)."""
    count = told.shape[2]
    alone = entropy(told)
    found = np.zeros((count, count))
    for n in range(count - 1):
        both = entropy((told[:, :, n : n + 1] + told[:, :, n + 1 :]) / 2)
        divergence = both - (alone[:, n : n + 1] + alone[:, n + 1 :]) / 2
        found[n, n + 1 :] = divergence.max(axis=0, initial=0.0)
    return found


def entropy(told: Array) -> Array:
    """Bits of each distribution over bins: (candidate, bin, …) -> (candidate, …)."""
    result: Array = -(told * np.log2(np.maximum(told, 1e-300))).sum(axis=1)
    return result


def gain(told: Array, weight: Array) -> Array:
    """Expected information about the hypothesis, bits, of every candidate: (candidate,).

    ``weight`` (hypothesis,) is their probability; it adds up to one over all that is compared.
    """
    result: Array = np.maximum(entropy(told @ weight) - entropy(told) @ weight, 0)
    return result


def masses(points: Points, probability: Array) -> Array:
    """Weights of the hypotheses that have points, adding up to one: (present,).

    Their probability; of the rare ones, what is drawn stands for those beside it as well.
    """
    drawn = np.bincount(points.h, points.weight, len(probability))
    modelled = probability / max(probability.sum(), 1e-300)
    mass = np.where(probability > SEEN, modelled, drawn)[np.unique(points.h)]
    result: Array = mass / max(mass.sum(), 1e-300)
    return result


def joint_gain(outlook: Outlook, points: Points, weight: Array, first: int, second: int) -> float:
    """Expected information of two measurements together, bits; ``weight`` as for ``masses``.

    Given a point (hypothesis, severity, process) the two outcomes are independent; halved bins
    keep it quick.
    """
    # Sums over runs of one hypothesis: a product with the table of shares is mostly noughts.
    order = np.argsort(points.h, kind="stable")
    starts = np.flatnonzero(np.diff(points.h[order], prepend=-1))
    own = np.repeat(np.add.reduceat(points.weight[order], starts), _lengths(starts, order))
    share = points.weight[order] / np.maximum(own, 1e-300)
    a, b = (outlook.bins[n][0::2, order] + outlook.bins[n][1::2, order] for n in (first, second))
    both = (a[:, None] * (b * share)[None]).reshape(-1, len(points))
    return float(gain(np.add.reduceat(both, starts, axis=1)[None], weight)[0])


def _lengths(starts: Array, every: Array) -> Array:
    return np.diff(starts, append=len(every))
