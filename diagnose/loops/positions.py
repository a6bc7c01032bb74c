"""Where a switch stands between its two states, and what moves it or holds it there."""

from __future__ import annotations

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import Parameter

MOVED = (
    Parameter("reach", "1", "share of the movement that arrives", 1.0, typed=False),
    Parameter("hold", "1", "1 while what moves it stands still", 0.0, typed=False),
    Parameter("held", "1", "position at which that stands", 0.0, typed=False),
    Parameter("stuck", "1", "1 while the switch itself stands still", 0.0, typed=False),
    Parameter("stuck_at", "1", "state in which it stands", 0.0, typed=False),
)
"""Parameters of a kind that also has ``begins`` and ``ends``, the positions of its turning."""


def turned(q: Any, process: Any) -> Any:
    """How far the switch has turned over, 0 to 1, at the position of what moves it."""
    at = q.hold * q.held + (1 - q.hold) * process * q.reach
    free = np.clip((at - q.begins) / (q.ends - q.begins), 0.0, 1.0)
    return q.stuck * q.stuck_at + (1 - q.stuck) * free


def turning(q: Any) -> tuple[Any, ...]:
    """Process values between which the switch turns over; infinite where it does not."""
    gain = (1 - q.hold) * (1 - q.stuck) * q.reach
    with np.errstate(divide="ignore", invalid="ignore"):
        return tuple(np.where(gain > 1e-6, at / gain, np.inf) for at in (q.begins, q.ends))
