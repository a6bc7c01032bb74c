"""Who answers a measurement: the virtual meter on the simulated loop, or first a logged case."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.circuit.rows import Attachment
from diagnose.inference.ammeter import opens
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.readings import describe, parse_line, value_text
from diagnose.training.virtual_meter import Shown

if TYPE_CHECKING:
    from diagnose.loops.loop import Loop
    from diagnose.training.scene import Scene
    from diagnose.training.virtual_meter import VirtualMeter

LOGGED = "As it was read then."
"""What is remarked on an answer from the log of a case."""


class Answers:
    """Answers measurements: from the readings of a case where it has them, else from the meter."""

    def __init__(self, loop: Loop, logged: tuple[str, ...] = ()) -> None:
        found = (parse_line(line, loop) for line in logged)
        self._logged = {
            item.measurement: item
            for item in found
            if isinstance(item, Reading) and item.sort != "impossible"
        }

    def read(
        self, meter: VirtualMeter, scene: Scene, wanted: Measurement, minute: float, number: int
    ) -> Shown:
        """What comes of a measurement, the ``number``-th of the hunt.

        A mistake with the meter is one in a replay too: then the log does not answer.
        """
        shown = meter.read(scene, wanted, minute, number)
        known = self._logged.get(wanted)
        if known is None or shown.mistakes:
            return shown
        line, text = describe(known, scene.loop), value_text(known, scene.loop)
        return Shown(text, line, known.value, remarks=(LOGGED,), opened=opens(wanted, scene.loop))


def clips(wanted: Measurement, low: float) -> tuple[Attachment, ...]:
    """What a reading lays across points so that the plant notices: low-impedance volts.

    ``low`` is the resistance of the meter then, ohm; its ten megohms otherwise are not noticed.
    """
    if wanted.function != "Vlow":
        return ()
    a, b = wanted.points
    return (Attachment(a, b, 1 / low),)
