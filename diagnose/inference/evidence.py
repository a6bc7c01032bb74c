"""Evidence of the cells: the probability of the readings, integrated over severity and process.

Bilinear levels between four corners are nearly exact: a single changed element moves all voltages
along one fixed direction (the bilinear theorem of linear networks), and between bends they are
straight in the process value.  The Gaussian of the readings is laid out at its own peak in the cell
and integrated over the cell.  Shapes: (cell,), (cell, reading), (cell, reading, spread).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import UNIFORM, Cells, Levels, Peak, together, value_at
from diagnose.inference.data import Datum
from diagnose.inference.normal import LOG_2PI, square, whiten
from diagnose.inference.process_prior import log_prior
from diagnose.inference.sides import beyond

COMPATIBLE = 7.0
"""Standard deviations beyond which a cell cannot explain a reading."""

UNEVEN = 0.03
"""Change of a variance between the middle of a cell and its peak, as a share, that counts."""

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


def own_variance(datum: Datum, level: Levels, drift: float) -> float:
    """Variance that belongs to one reading alone."""
    return datum.noise**2 + (drift * level.sway) ** 2


def misfits(cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], drift: float) -> Array:
    """True where a cell cannot explain a reading whatever its corner: (cell, reading)."""
    bad = np.empty((len(cells), len(data)), bool)
    for n, (datum, level) in enumerate(zip(data, levels, strict=True)):
        f = cells.corners(level.f)
        loose = cells.corners(level.variance).max(axis=1)
        least, most = f.min(axis=1), f.max(axis=1)
        own = own_variance(datum, level, drift) + sum(sd**2 for _, sd in datum.shared)
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
    total, peak = np.zeros(len(cells)), _flat(len(cells), len(data))
    pull = np.zeros((len(cells), 2))
    rows = np.flatnonzero(right[:, values].any(axis=1))
    if len(rows):
        some, counts = [data[n] for n in values], right[rows][:, values]
        known = [levels[n] for n in values]
        total[rows], found, pull[rows] = _gaussian(cells.some(rows), some, known, counts, drift)
        blame = np.zeros((len(rows), len(data)))
        blame[:, values] = found.blame
        found.blame = blame
        peak.put(rows, found)
    total += beyond(cells, data, levels, right, peak, pull)
    return total + log_prior(cells, peak, pull), peak


def _flat(count: int, readings: int) -> Peak:
    """What is known of the place in a cell without any reading."""
    half, nothing = np.full(count, 0.5), np.zeros(count)
    precision = np.zeros((count, 2, 2)) + UNIFORM * np.eye(2)
    return Peak(half, half.copy(), np.ones(count), precision, nothing, np.zeros((count, readings)))


def _gaussian(
    cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], right: Array, drift: float
) -> tuple[Array, Peak, Array]:
    """log of the integral of the Gaussian, its peak, and its slope there (cell, 2) along (s, t).

    Tolerances count as they are in the middle of the cell; where that matters, and the peak lies
    elsewhere, once more as they are at the peak.
    """
    middle = np.full(len(cells), 0.5)
    value, peak, pull = _laid_out(cells, data, levels, right, drift, (middle, middle))
    rows = np.flatnonzero(
        (value > value.max() - DOES_NOT_COUNT) & _uneven(cells, data, levels, right, peak, drift)
    )
    if len(rows):
        at = peak.s[rows], peak.t[rows]
        value[rows], found, pull[rows] = _laid_out(
            cells.some(rows), data, levels, right[rows], drift, at
        )
        peak.put(rows, found)
    return value, peak, pull


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
        own = own_variance(datum, level, drift) + sum(sd**2 for _, sd in datum.shared)
        change = np.abs(value_at(corner, peak.s, peak.t) - middle)
        found |= right[:, n] & (change > UNEVEN * (own + middle))
    return found


def _laid_out(
    cells: Cells,
    data: Sequence[Datum],
    levels: Sequence[Levels],
    right: Array,
    drift: float,
    at: tuple[Array, Array],
) -> tuple[Array, Peak, Array]:
    """The same with tolerances as they are ``at`` (s, t)."""
    white, logdet = _whitened(cells, data, levels, right, drift, at)
    r0, ds, dt, dst, inverse = (*white.transpose(2, 0, 1)[:4], white[:, :, 4:])
    s = t = np.full(len(cells), 0.5)
    for _ in range(_TURNS):
        r, u, w = r0 + (s * t)[:, None] * dst, ds + t[:, None] * dst, dt + s[:, None] * dst
        s, t, precision = _peak(r, u, w)
    value, sd = square(r, u, w)
    off = r - u * s[:, None] - w * t[:, None]
    misfit = np.einsum("cn,cn->c", off, off)
    blame = _blame(u, w, inverse, off, precision)
    square_ = np.stack(precision, axis=1)[:, [0, 1, 1, 2]].reshape(-1, 2, 2)
    value = value - logdet - 0.5 * right.sum(axis=1) * LOG_2PI
    pull = np.stack([np.einsum("cn,cn->c", slope, off) for slope in (u, w)], axis=1)
    return value, Peak(s, t, sd, square_, misfit, blame), pull


def _whitened(
    cells: Cells,
    data: Sequence[Datum],
    levels: Sequence[Levels],
    right: Array,
    drift: float,
    at: tuple[Array, Array],
) -> tuple[Array, Array]:
    """Residuals at corner 00, slopes of the levels along s and t, their twist, and the inverse.

    Whitened: L^-1 applied to (cell, reading, column), with log det L.  A reading that does not
    count becomes one of sd 1 that agrees exactly and leans on nothing.
    """
    every = together(levels)
    spread = np.zeros((len(cells), len(data), len(every)))
    for k, level in enumerate(levels):
        spread[:, k, np.searchsorted(every, level.kept)] = cells.at(level.slope, *at)
    spread *= right[:, :, None]
    own = np.array([own_variance(d, level, drift) for d, level in zip(data, levels, strict=True)])
    covariance = spread @ spread.transpose(0, 2, 1)
    covariance += shared_errors(data) * (right[:, :, None] & right[:, None])
    n = np.arange(len(data))
    covariance[:, n, n] += np.where(right, own, 1.0)
    columns = np.zeros((len(cells), len(data), 4 + len(data)))
    for k, (datum, level) in enumerate(zip(data, levels, strict=True)):
        f = cells.corners(level.f)
        columns[:, k, 0] = datum.y - f[:, 0]
        columns[:, k, 1] = f[:, 2] - f[:, 0]
        columns[:, k, 2] = f[:, 1] - f[:, 0]
        columns[:, k, 3] = f[:, 3] - f[:, 2] - columns[:, k, 2]
    columns *= right[:, :, None]
    columns[:, n, 4 + n] = 1.0
    return whiten(covariance, columns)


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


def _blame(u: Array, w: Array, inverse: Array, off: Array, precision: _Precision) -> Array:
    """By how much the misfit falls when one reading is left out and the rest fitted again.

    The deletion formula of least squares: ``(M y)_i^2 / M_ii`` with M the precision of the
    readings after the fit (R. D. Cook, Technometrics 19:15, 1977; from memory).
    """
    pull, along_s, along_t = (np.einsum("cki,ck->ci", inverse, part) for part in (off, u, w))
    a, b, c = (part[:, None] for part in precision)
    own = np.einsum("cki,cki->ci", inverse, inverse)
    fitted = c * along_s**2 - 2 * b * along_s * along_t + a * along_t**2
    own -= fitted / (a * c - b * b)
    result: Array = pull**2 / np.maximum(own, 1e-30)
    return result
