"""Evidence of the cells: the probability of the readings, integrated over severity and process.

Bilinear levels between four corners are nearly exact: a single changed element moves all voltages
along one fixed direction (the bilinear theorem of linear networks), and between bends they are
straight in the process value.  The Gaussian of the readings is laid out at its own peak in the cell
and integrated over the cell.  Shapes: (cell,), (cell, reading), (cell, reading, spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import UNIFORM, Cells, Levels, Peak, slopes_of, value_at
from diagnose.inference.data import Datum
from diagnose.inference.leaning import Leaning, in_common, leaning
from diagnose.inference.normal import LOG_2PI, square, whiten
from diagnose.inference.process_prior import log_prior
from diagnose.inference.sides import beyond

COMPATIBLE = 7.0
"""Standard deviations beyond which a cell cannot explain a reading."""

UNEVEN = 0.03
"""Change of a variance between the middle of a cell and its peak, as a share, that counts."""

ASIDE, HOLDS = 0.1, 10.0
"""Way from the middle of a cell, and log of a density below the best, within which tolerances of
several readings are always taken as they are at the peak."""

DOES_NOT_COUNT = 30.0
"""Log of a density below the best that no other cause of a change of weight makes up for."""

_TURNS = 3
"""How often the peak is sought anew where the last turn put it."""


def shared_errors(data: Sequence[Datum]) -> Array:
    """Covariance (reading, reading) of errors that readings share: meter gain, lasting errors."""
    names = sorted({name for datum in data for name, _ in datum.shared})
    table = np.zeros((len(data), len(names)))
    for row, datum in enumerate(data):
        for name, sd in datum.shared:
            table[row, names.index(name)] = sd
    return table @ table.T


def own_variance(cells: Cells, datum: Datum, level: Levels, drift: float) -> Array:
    """Variance that belongs to one reading alone: (cell,).

    The unrest that the sheet allows for may be there or not, and tells no fault from another.  What
    is beyond it (``drift``, share of range) moves a level as the process does under the fault of
    the cell: what is stuck holds still.
    """
    own = np.full(len(cells), datum.noise**2 + level.calm**2)
    if drift:
        own += (drift * cells.sway(level.f)) ** 2
    return own


def own_variances(
    cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], drift: float
) -> Array:
    """The same of many readings: (cell, reading)."""
    pairs = zip(data, levels, strict=True)
    return np.stack([own_variance(cells, *pair, drift) for pair in pairs], axis=1)


def misfits(cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], drift: float) -> Array:
    """True where a cell cannot explain a reading whatever its corner: (cell, reading)."""
    bad = np.empty((len(cells), len(data)), bool)
    for n, (datum, level) in enumerate(zip(data, levels, strict=True)):
        f = cells.corners(level.f)
        loose = cells.corners(level.variance).max(axis=1)
        least, most = f.min(axis=1), f.max(axis=1)
        own = own_variance(cells, datum, level, drift) + sum(sd**2 for _, sd in datum.shared)
        room = COMPATIBLE * np.sqrt(own + loose)
        above, beneath = datum.y > most + room, datum.y < least - room
        if datum.floor is not None:
            above &= least > datum.floor + room
        bad[:, n] = above if datum.side > 0 else beneath if datum.side < 0 else above | beneath
    return bad


def evidence(
    cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], right: Array, drift: float
) -> tuple[Array, Peak]:
    """log probability of the readings in each cell, prior of x and process included; its peak.

    ``right`` (cell, reading) says which readings count; the others are left out there.
    """
    values = [n for n, datum in enumerate(data) if datum.side == 0]
    sides = [levels[n] for n, datum in enumerate(data) if datum.side]
    count, told = len(cells), right[:, values].any(axis=1)
    lean = Leaning.empty(count, len(sides))
    shared = shared_errors(sorted(data, key=lambda datum: datum.side != 0))
    laid = _Laid(np.zeros(count), _flat(count, len(data)), np.zeros((count, 2)), lean)
    rows, others = np.flatnonzero(told), np.flatnonzero(~told)
    if len(rows):
        some, counts = [data[n] for n in values], right[rows][:, values]
        known = [levels[n] for n in values], sides, shared
        found = _gaussian(cells.some(rows), some, known, counts, drift)
        for name in ("blame", "likely"):
            wide = np.zeros((len(rows), len(data)))
            wide[:, values] = getattr(found.peak, name)
            setattr(found.peak, name, wide)
        laid.put(rows, found)
    if len(others) and sides:
        lasting = shared[len(values) :, len(values) :]
        lean.put(others, Leaning.free(cells.some(others), sides, lasting))
    total = laid.value + beyond(cells, data, levels, right, laid.peak, laid.pull, lean)
    return total + log_prior(cells, laid.peak, laid.pull), laid.peak


@dataclass
class _Laid:
    """log of the integral of a Gaussian over each cell (cell,), and what is known at its peak.

    ``pull`` (cell, 2) is its slope there along (s, t), ``lean`` what it says of readings of sides.
    """

    value: Array
    peak: Peak
    pull: Array
    lean: Leaning

    def put(self, rows: Array, other: _Laid) -> None:
        """Replace some of the cells."""
        self.value[rows], self.pull[rows] = other.value, other.pull
        self.peak.put(rows, other.peak)
        self.lean.put(rows, other.lean)


_Known = tuple[Sequence[Levels], Sequence[Levels], Array]
"""Levels behind values, those behind readings that say "above" or "below" only; shared errors."""


def _flat(count: int, readings: int) -> Peak:
    """What is known of the place in a cell without any reading."""
    half, nothing = np.full(count, 0.5), np.zeros(count)
    precision = np.zeros((count, 2, 2)) + UNIFORM * np.eye(2)
    none = np.zeros((count, readings))
    return Peak(half, half.copy(), np.ones(count), precision, nothing, none, none.copy())


def _gaussian(
    cells: Cells, data: Sequence[Datum], levels: _Known, right: Array, drift: float
) -> _Laid:
    """The Gaussian of the values laid out in each cell.

    Tolerances count as they are in the middle of the cell; where that matters, and the peak lies
    elsewhere, once more as they are at the peak.
    """
    middle = np.full(len(cells), 0.5)
    laid = _laid_out(cells, data, levels, right, drift, (middle, middle))
    best = laid.value.max()
    uneven = _uneven(cells, data, levels[0], right, laid.peak, drift)
    # What readings hold together may be uneven where no variance is: volts behind a supply that was
    # read as well.
    away = np.maximum(np.abs(laid.peak.s - 0.5), np.abs(laid.peak.t - 0.5)) > ASIDE
    several = right.sum(axis=1) > 1
    holds = (laid.value > best - HOLDS) & away & several
    rows = np.flatnonzero(holds | (laid.value > best - DOES_NOT_COUNT) & uneven)
    if len(rows):
        at = laid.peak.s[rows], laid.peak.t[rows]
        laid.put(rows, _laid_out(cells.some(rows), data, levels, right[rows], drift, at))
    return laid


def _uneven(
    cells: Cells,
    data: Sequence[Datum],
    levels: Sequence[Levels],
    right: Array,
    peak: Peak,
    drift: float,
) -> Array:
    """Whether the tolerances make something else of a reading at the peak than in the middle."""
    found = np.zeros(len(cells), bool)
    for n, (datum, level) in enumerate(zip(data, levels, strict=True)):
        corner = cells.corners(level.variance)
        middle = corner.sum(axis=1) / 4
        own = own_variance(cells, datum, level, drift) + sum(sd**2 for _, sd in datum.shared)
        change = np.abs(value_at(corner, peak.s, peak.t) - middle)
        found |= right[:, n] & (change > UNEVEN * (own + middle))
    return found


def covariance_of(spread: Array, shared: Array, own: Array, right: Array) -> Array:
    """Covariance of readings in each cell: (cell, reading, reading).

    ``spread`` (cell, reading, spread) are slopes by tolerance, nothing for readings that do not
    count; ``shared`` (reading, reading) lasting errors, ``own`` (cell, reading) variances.  A
    reading that is not ``right`` (cell, reading) stands apart with a variance of one.
    """
    covariance: Array = spread @ spread.transpose(0, 2, 1)
    covariance += shared * (right[:, :, None] & right[:, None])
    n = range(spread.shape[1])
    covariance[:, n, n] += np.where(right, own, 1.0)
    return covariance


def _laid_out(
    cells: Cells,
    data: Sequence[Datum],
    levels: _Known,
    right: Array,
    drift: float,
    at: tuple[Array, Array],
) -> _Laid:
    """The same with tolerances as they are ``at`` (s, t)."""
    values, n = levels[0], len(data)
    spread, every = slopes_of(cells, values, at)
    spread *= right[:, :, None]  # a reading that does not count leans on nothing
    shared, sides = in_common(cells, levels[1], at, (spread, every), levels[2])
    own = own_variances(cells, data, values, drift)
    covariance = covariance_of(spread, levels[2][:n, :n], own, right)
    inverse = np.broadcast_to(np.eye(n), (len(cells), n, n))
    columns = columns_of(cells, data, values) * right[:, :, None]
    white, logdet = whiten(
        covariance, np.concatenate([columns, inverse, shared * right[:, :, None]], axis=2)
    )
    r0, ds, dt, dst, inverse = (*white.transpose(2, 0, 1)[:4], white[:, :, 4 : 4 + n])
    s = t = np.full(len(cells), 0.5)
    for _ in range(_TURNS):
        r, u, w = r0 + (s * t)[:, None] * dst, ds + t[:, None] * dst, dt + s[:, None] * dst
        s, t, precision = _peak(r, u, w)
    value, sd = square(r, u, w)
    off = r - u * s[:, None] - w * t[:, None]
    misfit = np.einsum("cn,cn->c", off, off)
    blame, likely = _left_out(u, w, inverse, off, precision)
    square_ = np.stack(precision, axis=1)[:, [0, 1, 1, 2]].reshape(-1, 2, 2)
    value = value - logdet - 0.5 * right.sum(axis=1) * LOG_2PI
    pull = np.stack([np.einsum("cn,cn->c", slope, off) for slope in (u, w)], axis=1)
    lean = leaning(white[:, :, :4], white[:, :, 4 + n :], sides)
    return _Laid(value, Peak(s, t, sd, square_, misfit, blame, likely), pull, lean)


def columns_of(cells: Cells, data: Sequence[Datum], levels: Sequence[Levels]) -> Array:
    """Residuals at corner 00, slopes along s and t, and twist of the levels: (cell, reading, 4)."""
    columns = np.empty((len(cells), len(data), 4))
    for k, (datum, level) in enumerate(zip(data, levels, strict=True)):
        f = cells.corners(level.f)
        columns[:, k, 0] = datum.y - f[:, 0]
        columns[:, k, 1] = f[:, 2] - f[:, 0]
        columns[:, k, 2] = f[:, 1] - f[:, 0]
        columns[:, k, 3] = f[:, 3] - f[:, 2] - columns[:, k, 2]
    return columns


_Precision = tuple[Array, Array, Array]
"""ss, st and tt of a symmetric 2 x 2 matrix for each cell."""


def _peak(r: Array, u: Array, w: Array) -> tuple[Array, Array, _Precision]:
    """Mean of (s, t) under readings and the cell, kept inside the cell; and the precision."""
    a = np.einsum("cn,cn->c", u, u) + UNIFORM
    b = np.einsum("cn,cn->c", u, w)
    c = np.einsum("cn,cn->c", w, w) + UNIFORM
    p = np.einsum("cn,cn->c", u, r) + UNIFORM / 2
    q = np.einsum("cn,cn->c", w, r) + UNIFORM / 2
    determinant = a * c - b * b
    s, t = (c * p - b * q) / determinant, (a * q - b * p) / determinant
    return np.clip(s, 0, 1), np.clip(t, 0, 1), (a, b, c)


def _left_out(
    u: Array, w: Array, inverse: Array, off: Array, precision: _Precision
) -> tuple[Array, Array]:
    """By how much the misfit falls when one reading is left out and the rest fitted again.

    The deletion formula of least squares: ``(M y)_i^2 / M_ii`` with M the precision of the
    readings after the fit (R. D. Cook, Technometrics 19:15, 1977; from memory).  Beside it the log
    density of that reading, foretold by the others: its variance is ``1 / M_ii``.
    """
    pull, along_s, along_t = (np.einsum("cki,ck->ci", inverse, part) for part in (off, u, w))
    a, b, c = (part[:, None] for part in precision)
    own = np.einsum("cki,cki->ci", inverse, inverse)
    fitted = c * along_s**2 - 2 * b * along_s * along_t + a * along_t**2
    own -= fitted / (a * c - b * b)
    own = np.maximum(own, 1e-30)
    blame = pull**2 / own
    return blame, (np.log(own) - LOG_2PI - blame) / 2
