"""Lines that may be typed about a loop: help speaks of terminals and displays that are there."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.inference.ammeter import metered
from diagnose.inference.candidates import HOME, MANNED
from diagnose.inference.measurement import Measurement, states_of, volts_of
from diagnose.inference.reading_bounds import FINE
from diagnose.inference.reading_names import supplies, volts
from diagnose.loops.loop import Loop
from diagnose.quantities import format_quantity


@dataclass(frozen=True, slots=True)
class Examples:
    """Measurements and what each might give; empty where a loop has no such thing.

    ``volts``, ``amps`` and ``ohms`` are without a value, ``off`` is the condition of ``ohms``;
    ``read`` and ``shown`` are the values of ``volts`` and ``display``; ``faults`` are two.
    """

    volts: str
    read: str
    display: str
    shown: str
    ohms: str
    off: str
    amps: str
    faults: tuple[str, ...]

    @property
    def readings(self) -> tuple[str, ...]:
        """Whole lines with their values."""
        lines = (
            f"{self.volts} {self.read}" if self.volts else "",
            f"{self.display} {self.shown}" if self.display else "",
            f"{self.ohms} 1.2k{self.off}" if self.ohms else "",
        )
        return tuple(filter(None, lines))

    @property
    def measurements(self) -> tuple[str, ...]:
        """Lines without values."""
        ohms = f"{self.ohms}{self.off}" if self.ohms else ""
        return tuple(filter(None, (self.volts, self.amps, self.display, ohms)))


def examples(loop: Loop) -> Examples:
    """What may be typed about this loop."""
    at, apart, display = _volts(loop), _apart(loop), _display(loop)
    fed = at[1:] == (loop.reference,) and not loop.alternating  # nobody opens mains for a meter
    series = [p for p in metered(loop) if fed and all(map(loop.place_of, p.pins.values()))]
    return Examples(
        volts=" ".join((volts_of(loop), *at)) if at else "",
        read=_read(loop, at),
        display=display,
        shown=_shown(loop, display) if display else "",
        ohms=" ".join(("ohm", *apart)) if apart else "",
        off=" with supply off" if supplies(loop) else "",
        amps=" ".join(("mA", *series[0].pins.values())) if series else "",
        faults=tuple(f"{p.name} {p.kind.modes[0].name}" for p in loop.parts if p.kind.modes)[:2],
    )


def _volts(loop: Loop) -> tuple[str, ...]:
    """Two terminals: across what senses the current, else in the cabinet to the reference."""
    if loop.place_of(loop.reference):
        sensed = _sensed(loop)
        home = [p.name for p in loop.points if p.place == HOME and p.name != loop.reference]
        if sensed or home:
            return sensed or (home[0], loop.reference)
    return _apart(loop)


def _sensed(loop: Loop) -> tuple[str, ...]:
    pairs = (tuple(part.pins.values()) for part in loop.parts if part.kind.senses)
    return next((pair for pair in pairs if len(pair) == 2 and all(map(loop.place_of, pair))), ())


def _read(loop: Loop, at: tuple[str, ...]) -> str:
    """What volts between two terminals might be."""
    if loop.stray < FINE:  # a resistance that is fed, or a thermocouple
        return "120 mV" if volts(loop) else "12 mV"
    if at == _sensed(loop):
        return "3.02"
    return f"{volts(loop):g}" if volts(loop) and at[1:] == (loop.reference,) else "12 mV"


def _apart(loop: Loop) -> tuple[str, ...]:
    """Two terminals of one place, the farthest."""
    points = [point for point in loop.points if point.place]
    for last in reversed(points):
        here = [point.name for point in points if point.place == last.place]
        if len(here) > 1:
            return here[0], here[1]
    return ()


def _display(loop: Loop) -> str:
    shown = [part for part in loop.parts if part.kind.shows]
    near = [part for part in shown if part.read_at in (MANNED, HOME)]
    return next((part.name for part in (*near, *shown)), "")


def _shown(loop: Loop, display: str) -> str:
    states = states_of(Measurement("shows", (display,)), loop)
    scale = loop.scale(display)
    return states.on if states else format_quantity(scale.value(0.62), scale.unit, 2)
