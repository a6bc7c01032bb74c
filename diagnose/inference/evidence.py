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
from diagnose.inference.cells import Cells, Levels, Peak, open_at, process_at, value_at
from diagnose.inference.data import Datum
from diagnose.inference.grid import cumulative
from diagnose.inference.normal import LOG_2PI, below, square, whiten

COMPATIBLE = 7.0
"""Standard deviations beyond which a cell cannot explain a reading."""

_UNIFORM = 12.0
"""Precision of a uniform coordinate on [0, 1]."""

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
    rows = np.flatnonzero(right[:, values].any(axis=1))
    if len(rows):
        some, counts = [data[n] for n in values], right[rows][:, values]
        known = [levels[n] for n in values]
        total[rows], found = _gaussian(cells.some(rows), some, known, counts, drift)
        blame = np.zeros((len(rows), len(data)))
        blame[:, values] = found.blame
        found.blame = blame
        peak.put(rows, found)
    for n, datum in enumerate(data):
        if datum.side:
            rows = np.flatnonzero(right[:, n])
            chance = _beyond(cells.some(rows), datum, levels[n], peak.some(rows))
            peak.blame[rows, n] = -2 * chance
            peak.misfit[rows] -= 2 * chance
            total[rows] += chance
    return total + _prior(cells, peak), peak


def _flat(count: int, readings: int) -> Peak:
    """What is known of the place in a cell without any reading."""
    half, nothing = np.full(count, 0.5), np.zeros(count)
    precision = np.zeros((count, 2, 2)) + _UNIFORM * np.eye(2)
    return Peak(half, half.copy(), np.ones(count), precision, nothing, np.zeros((count, readings)))


def _gaussian(
    cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], right: Array, drift: float
) -> tuple[Array, Peak]:
    white, logdet = _whitened(cells, data, levels, right, drift)
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
    return value, Peak(s, t, sd, square_, misfit, blame)


def _whitened(
    cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], right: Array, drift: float
) -> tuple[Array, Array]:
    """Residuals at corner 00, slopes of the levels along s and t, their twist, and the inverse.

    Whitened: L^-1 applied to (cell, reading, column), with log det L.  A reading that does not
    count becomes one of sd 1 that agrees exactly and leans on nothing.
    """
    spread = np.stack([cells.middle(level.slope) for level in levels], axis=1)
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
    a = np.einsum("cn,cn->c", u, u) + _UNIFORM
    b = np.einsum("cn,cn->c", u, w)
    c = np.einsum("cn,cn->c", w, w) + _UNIFORM
    p = np.einsum("cn,cn->c", u, r) + _UNIFORM / 2
    q = np.einsum("cn,cn->c", w, r) + _UNIFORM / 2
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


def _beyond(cells: Cells, datum: Datum, level: Levels, peak: Peak) -> Array:
    """log P(level on the side that was seen), with what is left open inside the cell."""
    corner = cells.corners(level.f)
    f = value_at(corner, peak.s, peak.t)
    slope = cells.middle(level.slope)
    tolerance = np.einsum("cs,cs->c", slope, slope)
    sd = np.sqrt(datum.noise**2 + open_at(corner, peak) + tolerance)
    chance = below(datum.side * (f - datum.y) / sd)
    if datum.floor is not None:
        chance = chance + below((datum.floor - f) / sd)
    return np.log(np.maximum(chance, 1e-12))


def _prior(cells: Cells, peak: Peak) -> Array:
    """log of the prior of the cell, the density of the process taken where the peak lies."""
    width = (1 - peak.s) * (cells.p[:, 1] - cells.p[:, 0]) + peak.s * (
        cells.p[:, 3] - cells.p[:, 2]
    )
    at = process_at(cells, peak)
    reach = np.minimum(width / 2, np.sqrt(3 / np.maximum(peak.precision[:, 1, 1], 1e-9)) * width)
    reach = np.maximum(reach, 1e-6)
    low = value_at(cells.p, peak.s, np.zeros(len(cells)))
    centre = np.clip(at, low + reach, np.maximum(low + reach, low + width - reach))
    mass = cumulative(centre + reach, cells.states) - cumulative(centre - reach, cells.states)
    density = mass / (2 * reach)
    result: Array = np.log(np.maximum(cells.mass * width * density, 1e-300))
    return result
