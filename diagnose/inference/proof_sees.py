"""Which proof readings would show a fault that is still there, and which would pass all the same.

A signal that is driven by hand goes past the process connection and past what drives it otherwise,
and volts across the sense resistor say nothing of the wire to a recorder.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.measurement import Applied, scale_of, states_of
from diagnose.inference.ranking import Proof
from diagnose.inference.readings import parse_measurement
from diagnose.inference.views import Points, sight
from diagnose.loops.states import STATES

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

Fault = tuple[str | None, str]
"""Part and mode."""

SIZES = (0.05, 0.5, 0.95)
"""Severities at which it is tried, as shares of their range."""

PROCESS = (0.2, 0.8)
"""Process values at which it is tried."""


def showing(
    engine: Engine, part: str | None, fault: str, proofs: Sequence[Proof]
) -> tuple[Proof, ...]:
    """Those of some proof readings that are out of their limits with a fault of some size.

    All of them for what is no single fault of the loop: nothing is known of it.
    """
    table = _table(engine, [(part, fault)], proofs)
    if table is None:
        return tuple(proofs)
    return tuple(proof for proof, row in zip(proofs, table, strict=True) if row.any())


def unseen(engine: Engine, faults: Sequence[Fault], proofs: Sequence[Proof]) -> tuple[Fault, ...]:
    """Those of some faults that none of the proof readings would show, whatever their size."""
    tables = ((fault, _table(engine, [fault], proofs)) for fault in faults)
    return tuple(fault for fault, table in tables if table is not None and not table.any())


def fewest(engine: Engine, faults: Sequence[Fault], proofs: Sequence[Proof]) -> tuple[Proof, ...]:
    """The points that prove the repair of some faults; those that add nothing are left out.

    What is driven elsewhere and shows none of them goes; of points on a scale the ends and the
    middle do, where these show a fault of every size that all of them would.  A trip, or an output
    that is on or off, is proved by the whole of its proof.
    """
    table = _table(engine, faults, proofs)
    if table is None or any(proof.unit in STATES for proof in proofs):
        return tuple(proofs)
    series: dict[tuple[str, ...], list[int]] = {}
    for n, proof in enumerate(proofs):
        series.setdefault(_driven(proof, engine), []).append(n)
    showing_it = [points for points in series.values() if table[points].any()]
    found: list[int] = []
    for points in showing_it or series.values():
        some = [points[0], points[len(points) // 2], points[-1]]
        enough = (table[some].any(axis=0) == table[points].any(axis=0)).all()
        found += dict.fromkeys(some) if enough else points
    return tuple(proofs[n] for n in found)


def _driven(proof: Proof, engine: Engine) -> tuple[str, ...]:
    """What is read, and what is driven meanwhile, of a proof reading."""
    measurement = parse_measurement(proof.text, engine.loop)
    driven = (item.part for item in measurement.condition if isinstance(item, Applied))
    return (measurement.function, *measurement.points, *driven)


def _table(engine: Engine, faults: Sequence[Fault], proofs: Sequence[Proof]) -> Array | None:
    """Which reading is out of its limits with which fault at which size: (proof, place).

    None where there is nothing to prove, or some of it is no single fault of the loop.
    """
    known = {h.key: h for h in engine.hypotheses if h.mode is not None}
    if not proofs or not faults or not known.keys() >= {*faults}:
        return None
    wanted = [parse_measurement(proof.text, engine.loop) for proof in proofs]
    numbers = [known[fault].number for fault in faults]
    h, x, p = (axis.ravel() for axis in np.meshgrid(numbers, SIZES, PROCESS))
    level = sight(engine.atlas, Points(h, x, p, np.ones(len(x))), wanted).level
    rows = []
    for proof, measurement, seen in zip(proofs, wanted, level, strict=True):
        state = states_of(measurement, engine.loop) is not None
        shown = (seen > 0) * 1.0 if state else scale_of(measurement, engine.loop).value(seen)
        rows.append((shown < proof.low) | (shown > proof.high))
    return np.stack(rows)
