"""Choices between values in rows, for the physics of kinds."""

from __future__ import annotations

from typing import Any

import numpy as np

Row = Any


def sel(flag: Row, yes: Row, no: Row) -> Row:
    """``yes`` where a flag (0 or 1) is set, else ``no``."""
    return np.where(np.greater(flag, 0.5), yes, no)


def held(value: Row, least: Row, most: Row) -> Row:
    """A value kept between two limits."""
    return np.minimum(np.maximum(value, least), most)


def between(q: Any, low: str, high: str, value: Row) -> Row:
    """A value as a share of the way from one parameter to another."""
    return (value - q[low]) / (q[high] - q[low])
