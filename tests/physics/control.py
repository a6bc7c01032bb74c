"""A controller's output for ngspice: a number that stands where it is put."""

from __future__ import annotations

from collections.abc import Mapping


def _output(q: Mapping[str, float], volts: float, given: float) -> float:
    told = q["held"] if q["hold"] else q["output"]
    told = q["typed"] if q["by_hand"] else told
    return min(max(told, q["low_limit"]), q["high_limit"])


SIGNALS = {"controller": _output}
