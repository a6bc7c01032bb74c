"""Derived equations kept on disk as data, so that a known loop starts without sympy."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path

from diagnose.circuit.graph import Topology, check
from diagnose.circuit.tape import Tape, TapeError
from diagnose.circuit.wiring import Wiring
from diagnose.library import cache_folder, installed_version, write_whole
from diagnose.loops.loop import Loop

GENERATOR = 3
"""Raised whenever the derivation changes what it writes."""

_MEMORY: dict[str, dict[str, Tape]] = {}


def tapes(wiring: Wiring) -> dict[str, Tape]:
    """The equations of a circuit: from memory, from disk, else derived and written."""
    key = _key(wiring)
    if key not in _MEMORY:
        path = cache_folder() / f"{key}.json"
        _MEMORY[key] = _read(path) or _derive(wiring, path)
    return _MEMORY[key]


def topology(loop: Loop) -> Topology:
    """How a loop hangs together: from disk where this circuit was found sound before.

    Raises CircuitError where its circuit makes no sense.  A known loop pays for no graph.
    """
    wiring = Wiring(loop)
    known = [wiring.structure(), wiring.names(), wiring.nominal, _reachable(loop)]
    told = json.dumps([GENERATOR, *known])
    path = cache_folder() / f"{hashlib.sha256(told.encode()).hexdigest()[:32]}.json"
    try:
        return Topology.from_dict(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, RecursionError):
        found = check(loop)
    write_quietly(path, json.dumps(found.to_dict()).encode())
    return found


def _reachable(loop: Loop) -> list[str]:
    return [loop.reference, *(point.name for point in loop.points)]


def _key(wiring: Wiring) -> str:
    told = json.dumps([GENERATOR, installed_version("sympy"), laws_digest(), wiring.structure()])
    return hashlib.sha256(told.encode()).hexdigest()[:32]


@cache
def laws_digest() -> str:
    """Changes when the text of any kind changes."""
    from diagnose.loops import kinds

    digest = hashlib.sha256()
    for path in sorted(Path(kinds.__path__[0]).glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _read(path: Path) -> dict[str, Tape] | None:
    """Stored tapes, or None if there are none that can be trusted."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        found = {name: Tape.from_data(data[name]) for name in ("laws", "slopes", "factor", "solve")}
        found["solve"].check_terms()
    except (OSError, ValueError, KeyError, TypeError, TapeError):
        return None
    return found


def _derive(wiring: Wiring, path: Path) -> dict[str, Tape]:
    from diagnose.circuit.equations import derive

    found = derive(wiring)
    write_quietly(path, json.dumps({name: tape.to_data() for name, tape in found.items()}).encode())
    return found


def write_quietly(path: Path, data: bytes) -> None:
    """Write through a temporary file; a folder that cannot be written only costs time."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
    except OSError:
        return
