"""Lines of an atlas kept on disk, so that a known loop is ready without solving it again.

Numbers only: a damaged or foreign file is not trusted but found anew.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from pathlib import Path
from typing import Any

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.circuit.store import laws_digest, write_quietly
from diagnose.inference import bends, flips, grid, hypotheses, nodes
from diagnose.inference import ground as ground_of_lines
from diagnose.inference.bends import first_lines
from diagnose.inference.grid import Lines, Strips
from diagnose.inference.ground import Ground
from diagnose.inference.nodes import NODES
from diagnose.library import cache_folder


def lines_of(ground: Ground, step: float) -> tuple[Lines, Strips]:
    """The first lines of a loop: from disk where they are known, else found and written."""
    path = cache_folder() / f"{_key(ground, step)}.npz"
    found = _read(path, len(ground.hypotheses))
    if found is None:
        found = first_lines(ground, step)
        _write(path, *found)
    return found


def _key(ground: Ground, step: float) -> str:
    """Changes with the sheet, the laws and fault modes, and the code that places lines."""
    digest = hashlib.sha256(f"{ground.machine.loop.digest} {laws_digest()} {step!r}".encode())
    for module in (bends, flips, grid, ground_of_lines, hypotheses, nodes):
        digest.update(Path(str(module.__file__)).read_bytes())
    for part in ground.machine.loop.parts:
        digest.update(repr((part.name, part.kind.name, sorted(part.values.items()))).encode())
    return digest.hexdigest()[:32]


def _write(path: Path, lines: Lines, strips: Strips) -> None:
    file = io.BytesIO()
    np.savez(file, h=lines.h, x=lines.x, p=lines.p, low=strips.low, high=strips.high)
    write_quietly(path, file.getvalue())


def _read(path: Path, hypotheses_: int) -> tuple[Lines, Strips] | None:
    try:
        with np.load(path, allow_pickle=False) as data:
            h, x, p, low, high = (data[name] for name in ("h", "x", "p", "low", "high"))
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
    if not _whole(h, x, p, low, high, hypotheses_):
        return None
    return Lines(h, x, p), Strips(low, high)


def _whole(h: Any, x: Any, p: Any, low: Any, high: Any, hypotheses_: int) -> bool:
    """Shapes, types and ranges are those of lines."""

    def numbers(a: Array, below: int) -> bool:
        return bool(
            a.ndim == 1 and a.dtype.kind == "i" and len(a) and a.min() >= 0 and a.max() < below
        )

    return bool(
        numbers(h, hypotheses_)
        and x.shape == h.shape
        and p.shape == (len(h), NODES)
        and x.dtype.kind == p.dtype.kind == "f"
        and np.isfinite(x).all()
        and np.isfinite(p).all()
        and numbers(low, len(h))
        and numbers(high, len(h))
        and low.shape == high.shape
    )
