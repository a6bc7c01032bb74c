"""Answers as plain JSON objects, schema 1.

Quantities are in SI units with the unit beside them; a share of range is in ``%``.  A bound beyond
the meter is ``null``, because JSON has no infinity.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Any

from diagnose.inference.ranking import Advice, Expects, Ranked, Ranking, Size
from diagnose.terminal.outcome import SCHEMA
from diagnose.terminal.wording import span

Json = dict[str, Any]


def number(value: float) -> float | None:
    """A number with nine significant digits; None for what is none."""
    return float(f"{value:.9g}") if isfinite(value) else None


def probability(value: float) -> float:
    """A probability, kept fine enough that all of them add up to one."""
    return round(value, 12)


def ranking_json(ranking: Ranking, cautions: Mapping[str, str]) -> Json:
    """The whole answer; ``cautions`` gives the sentence of each key."""
    return {
        "schema": SCHEMA,
        "tag": ranking.tag,
        "hypotheses": [_ranked(item) for item in ranking.hypotheses],
        "unexplained": probability(ranking.unexplained),
        "sound": probability(ranking.sound),
        "groups": [
            {
                "group": group.number,
                "probability": probability(group.probability),
                "members": [_key(*member) for member in group.members],
            }
            for group in ranking.groups
        ],
        "suspect_readings": [
            {
                "index": item.index,
                "text": item.text,
                "probability": probability(item.probability),
                "retaken": item.retaken or None,
                "once": item.once,
            }
            for item in ranking.suspects
        ],
        "free": [
            {"text": item.text, "or": item.other or None, "gain_bits": number(item.gain_bits)}
            for item in ranking.free
        ],
        "next": [_advice(item, cautions) for item in ranking.next],
        "resolved": ranking.resolved,
        "stop": ranking.stop,
        "remedy": [
            {
                **_key(item.part, item.fault),
                "action": item.action,
                "place": item.place,
                "probability": probability(item.probability),
                "minutes": number(item.minutes),
            }
            for item in ranking.remedy
        ],
        "proof": [
            {"measurement": item.text, **bounds(item.low, item.high, item.unit)}
            for item in ranking.proof
        ],
        "untested": [_key(*item) for item in ranking.untested],
        "assumptions": list(ranking.assumptions),
        "behind": probability(ranking.behind),
        "notes": dict(ranking.notes),
    }


def _key(part: str | None, fault: str) -> Json:
    return {"part": part, "fault": fault}


def _ranked(item: Ranked) -> Json:
    found: Json = {
        **_key(item.part, item.fault),
        "probability": probability(item.probability),
        "group": item.group,
        "title": item.title,
        "place": item.place,
    }
    if item.size is not None:
        found["severity"] = _size(item.size)
    if item.also:
        found["also"] = [_key(*also) for also in item.also]
    return found


def _size(size: Size) -> Json:
    ends = {name: scaled(getattr(size, name), size.unit) for name in ("median", "low", "high")}
    return {"quantity": size.quantity, "unit": "%" if size.unit == "1" else size.unit, **ends}


def scaled(value: float, unit: str) -> float | None:
    """A value of a unit as it is printed: a share of range in %."""
    return number(value * 100 if unit == "1" else value)


def bounds(low: float, high: float, unit: str) -> Json:
    """A range with its unit, and as text."""
    return {
        "low": scaled(low, unit),
        "high": scaled(high, unit),
        "unit": "%" if unit == "1" else unit,
        "text": span(low, high, unit),
    }


def _expects(item: Expects) -> Json:
    return {
        **_key(item.part, item.fault),
        "probability": probability(item.probability),
        **bounds(item.low, item.high, item.unit),
    }


def _advice(item: Advice, cautions: Mapping[str, str]) -> Json:
    return {
        "measurement": item.text,
        "place": item.place,
        "gain_bits": number(item.gain_bits),
        "minutes": number(item.minutes),
        "permit_minutes": number(item.permit),
        "interrupts_loop": item.interrupts_loop,
        "moves_signal": item.moves_signal,
        "charged_minutes": number(item.charge),
        "healthy": bounds(*item.healthy),
        "healthy_else": bounds(*item.healthy_else) if item.healthy_else else None,
        "cautions": [cautions.get(key, key) for key in item.cautions],
        "needs": list(item.needs),
        "again": item.again or None,
        "expects": [_expects(expected) for expected in item.expects],
        "beside": [
            {
                "measurement": more.text,
                "gain_bits": number(more.gain_bits),
                "minutes": number(more.minutes),
            }
            for more in item.beside
        ],
    }
