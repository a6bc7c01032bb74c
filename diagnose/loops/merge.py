"""A sheet laid over its loop type."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from diagnose.errors import did_you_mean
from diagnose.loops.conductor_tables import TABLE_KEYS
from diagnose.loops.names import shown
from diagnose.loops.raw import Entries, Raw, nodes_of
from diagnose.loops.rename import renamed
from diagnose.loops.sheet_text import Problems


def overlay(base: Raw, over: Raw, problems: Problems) -> Raw:
    """The loop type ``base`` with its names changed and the sheet ``over`` laid on it."""
    base = renamed(base, over.rename or {}, problems)
    gone = _omitted(base.parts, over, problems)
    strays = _strays(base.parts, over, problems)
    parts = {
        name: part
        for name, part in _merged(base.parts, over.parts, _part).items()
        if name not in gone | strays
    }
    nodes = nodes_of(parts)
    return Raw(
        loop={**base.loop, **over.loop},
        shares={**base.shares, **over.shares},
        places=_merged(base.places, over.places),
        parts=parts,
        # A point of the type goes with its node: omitted parts, moved pins.
        points=_merged({n: point for n, point in base.points.items() if n in nodes}, over.points),
        neighbours=_merged(base.neighbours, over.neighbours),
    )


def _merged(
    base: Entries,
    over: Entries,
    join: Callable[[dict[str, Any], dict[str, Any]], dict[str, Any]] | None = None,
) -> Entries:
    join = join or (lambda old, new: {**old, **new})
    result = dict(base)
    for name, new in over.items():
        result[name] = join(base[name], new) if name in base else new
    return result


def _part(old: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    """A part of the type with the sheet's keys over it; pins are replaced one by one."""
    if new.get("kind", old.get("kind")) != old.get("kind"):
        return new
    if "resistance" in new:
        old = {key: value for key, value in old.items() if key not in TABLE_KEYS}
    elif any(key in new for key in TABLE_KEYS):
        old = {key: value for key, value in old.items() if key != "resistance"}
    joined = {**old, **new}
    for key in ("pins", "tolerances"):
        if isinstance(old.get(key), dict) and isinstance(new.get(key), dict):
            joined[key] = {**old[key], **new[key]}
    return joined


def _omitted(parts: Entries, over: Raw, problems: Problems) -> set[str]:
    """Parts of the type that the sheet leaves out; ``U2*`` stands for all that begin with U2."""
    gone: set[str] = set()
    for word in over.omit:
        stem = word[:-1] if word.endswith("*") else None
        hits = {n for n in parts if n == word or (stem and n.startswith(stem))}
        if not hits:
            problems.add(
                "omit", f"the loop type has no part '{shown(word)}'{did_you_mean(word, parts)}"
            )
        gone |= hits
    for name in sorted(gone & over.parts.keys()):
        problems.add(f"part {name}", "this part is omitted and described as well; do one of them")
    return gone


def _strays(parts: Entries, over: Raw, problems: Problems) -> set[str]:
    """Parts of the sheet that override nothing and are not complete enough to be new."""
    strays = {n for n, part in over.parts.items() if n not in parts and "kind" not in part}
    for name in sorted(strays):
        problems.add(
            f"part {name}",
            "the loop type has no such part, and a new one needs a kind"
            f"{did_you_mean(name, parts)}",
        )
    return strays
