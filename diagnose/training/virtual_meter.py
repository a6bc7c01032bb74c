"""A hand-held meter put to a simulated loop, with everything that a real one does.

It loads the circuit, adds its burden, rounds to its resolution, stays within its stated limit of
error, shorts the points when the lead is left in the current jack, and reads nothing through a
blown fuse.  Errors are rectangular within the limit (JCGM 100:2008, 4.3.7), so that a display is
never further off than ``percent`` of reading plus ``counts``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, log, log10
from typing import TYPE_CHECKING

import numpy as np

from diagnose.casework.hunt_task import with_value
from diagnose.circuit.rows import Attachment
from diagnose.inference.ammeter import opens
from diagnose.inference.hum import LOUD, QUIET, SCATTER, SIGNALLING
from diagnose.inference.measurement import Applied, Measurement, Reading, is_hum
from diagnose.inference.meters import Meter
from diagnose.inference.readings import describe, value_text
from diagnose.training.displays import display

if TYPE_CHECKING:
    from diagnose.training.scene import Scene

FUSE = 0.44
"""Current that blows the meter's milliampere fuse, A (0.4 to 0.5 A: common practice, no source)."""

FLOATING = 1e6
"""Resistance behind a pair of points above which ghost volts stand on them, ohm (assumption)."""

GHOST, GHOST_AC = (0.02, 0.4), (3.0, 60.0)
"""Ghost volts on an open core, V direct and V rms alternating (common practice, no source)."""

VOLTS = ("V", "Vlow", "VAC", "ohm")
"""Functions for which the lead belongs in the volts jack."""

STREAMS = {"V": 1, "Vlow": 2, "VAC": 3, "mA": 4, "clamp": 5, "ohm": 6}


@dataclass(frozen=True)
class Shown:
    """What came of one measurement.

    ``display`` is what the meter or the display shows; ``line`` the reading as it is entered, empty
    where it shows nothing that could be one; ``ideal`` the level without any error.  ``mistakes``
    are keys of ``safety.MISTAKES``; ``remarks`` what would be noticed.  ``clips`` are what lay
    across points while it was read; ``opened`` says that the loop was opened for the meter.
    """

    display: str
    line: str = ""
    ideal: float = 0.0
    mistakes: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    clips: tuple[Attachment, ...] = ()
    opened: bool = False


@dataclass
class VirtualMeter:
    """A multimeter with its clamp: which jack the lead is in, whether its fuse is whole.

    ``minds_jacks`` moves the lead by itself, for beginners.
    """

    meter: Meter
    seed: int
    jack: str = "V"
    whole: bool = True
    minds_jacks: bool = False
    _gain: dict[str, float] = field(default_factory=dict)

    def read(self, scene: Scene, wanted: Measurement, minute: float, number: int) -> Shown:
        """Take a measurement, the ``number``-th of the hunt, in the state that it names."""
        if wanted.function in ("shows", "process"):
            return self._displayed(scene, wanted, minute, number)
        if self.minds_jacks and wanted.function != "clamp":
            self.jack = "mA" if wanted.function == "mA" else "V"
        if wanted.function in VOLTS and self.jack == "mA":
            return self._short(scene, wanted, minute)
        if wanted.function == "mA" and (self.jack == "V" or not self.whole):
            return self._nothing(scene, wanted)
        if wanted.function == "ohm" and not _dead(scene, wanted):
            return self._live_ohms(scene, wanted, minute)
        return self._metered(scene, wanted, minute, number)

    def limit(self, function: str, value: float) -> float:
        """The limit of error at a value, SI (ohms as ohms)."""
        return self.meter.functions[function].limit(value)

    # -- mistakes ------------------------------------------------------------------------------

    def _short(self, scene: Scene, wanted: Measurement, minute: float) -> Shown:
        """Volts with the lead in the current jack: the points are joined by the burden."""
        if not self.whole:
            text = "The lead is in the mA jack, and the fuse behind it is blown."
            return Shown("0.000 V", mistakes=("wrong jack",), remarks=(text,))
        a, b = wanted.points
        clip = Attachment(a, b, 1 / max(self.meter.burden, 1e-3))
        state = scene.state(wanted.condition, minute, (clip,))
        amperes = abs(float(np.ravel(state.attached)[0])) * clip.conductance
        self.whole = amperes <= FUSE
        text = f"The lead was in the mA jack: a short, {amperes * 1e3:.0f} mA went through."
        blown = () if self.whole else ("The meter's fuse has blown.",)
        return Shown(
            "0.000 V", mistakes=("short", "wrong jack"), remarks=(text, *blown), clips=(clip,)
        )

    def _nothing(self, scene: Scene, wanted: Measurement) -> Shown:
        """No current through the meter: the lead is in the volts jack, or the fuse is blown."""
        mistake = "wrong jack" if self.jack == "V" else "blown fuse"
        line = with_value(describe(wanted, scene.loop), "0.00 mA")
        return Shown("0.00 mA", line, 0.0, (mistake,), opened=opens(wanted, scene.loop))

    def _live_ohms(self, scene: Scene, wanted: Measurement, minute: float) -> Shown:
        """Ohms on a live loop: what the loop's volts make of the display is no resistance."""
        ohms = float(self.meter.ohms(scene.level(wanted, minute)))
        text = "OL" if not np.isfinite(ohms) else _ohms(ohms, self._count("ohm", ohms))
        return Shown(f"{text}, unsteady", mistakes=("live ohms",))

    # -- sound readings ------------------------------------------------------------------------

    def _metered(self, scene: Scene, wanted: Measurement, minute: float, number: int) -> Shown:
        level = scene.level(wanted, minute, scene.drifted(number))
        if wanted.function == "ohm":
            level = np.inf if self.meter.outrun(level) else float(self.meter.ohms(level))
            if not np.isfinite(level):
                return self._shown(scene, wanted, "OL", level)
        elif is_hum(wanted, scene.loop):
            level = self._hum(scene, wanted, minute)
        elif wanted.function == "V" and self._floats(scene, wanted, minute):
            return self._ghost(scene, wanted, level, number)
        value = self.off(wanted.function, level, number)
        count = self._count(wanted.function, value)
        return self._shown(scene, wanted, _text(wanted.function, value, count), level)

    def _shown(self, scene: Scene, wanted: Measurement, text: str, level: float) -> Shown:
        line = with_value(describe(wanted, scene.loop), text)
        return Shown(text, line, level, opened=opens(wanted, scene.loop))

    def off(self, function: str, level: float, number: int) -> float:
        """A level with the meter's errors, rounded to what the display resolves."""
        spec = self.meter.functions[function]
        if function not in self._gain:
            rng = np.random.default_rng([self.seed, 17, STREAMS[function]])
            self._gain[function] = float(rng.uniform(-1, 1)) * spec.percent / 100
        count = self._count(function, level)
        reach = max(spec.counts - 0.5, 0.0)  # the half count is what rounding may add
        noise = float(np.random.default_rng([self.seed, 19, number]).uniform(-reach, reach))
        value = round((level * (1 + self._gain[function])) / count + noise) * count
        return max(value, 0.0) if function == "ohm" else value + 0.0

    def _count(self, function: str, value: float) -> float:
        return float(self.meter.functions[function].resolution(np.array(value)))

    def _floats(self, scene: Scene, wanted: Measurement, minute: float) -> bool:
        a, b = wanted.points
        return scene.behind(a, b, wanted.condition, minute) > FLOATING

    def _ghost(self, scene: Scene, wanted: Measurement, level: float, number: int) -> Shown:
        """Unsteady volts where a wire ends in the air: the meter's input is all that holds it."""
        size = self._drawn(GHOST, 23)
        ends = (self.off("V", at, number) for at in (level - 0.2 * size, level + size))
        low, high = (_text("V", end, self._count("V", level)) for end in ends)
        text = f"{low.removesuffix(' V')}..{high}"
        line = with_value(describe(wanted, scene.loop), text)
        remark = "The display never settles; it moves with your hand on the lead."
        return Shown(f"{text}, unsteady", line, level, remarks=(remark,))

    def _hum(self, scene: Scene, wanted: Measurement, minute: float) -> float:
        """Alternating volts on a loop that has none of its own, V rms."""
        if self._floats(scene, wanted, minute):
            return self._drawn(GHOST_AC, 29)
        let_in = scene.present(minute) and any(fault.mode.hum for fault in scene.faults)
        rng = np.random.default_rng([self.seed, 31])
        quiet = QUIET * exp(SCATTER * float(rng.normal()))
        hum = self._drawn(LOUD, 37) if let_in else quiet
        volts = Measurement("V", wanted.points, wanted.condition)
        sway = abs(scene.level(volts, minute, 1.0) - scene.level(volts, minute, 0.0))
        carried = sway * SIGNALLING if scene.loop.signalling else 0.0
        return float(np.hypot(hum, carried))

    def _drawn(self, ends: tuple[float, float], stream: int) -> float:
        """A size between two ends, uniform in its logarithm; the same all through a hunt."""
        rng = np.random.default_rng([self.seed, stream])
        return exp(float(rng.uniform(log(ends[0]), log(ends[1]))))

    def _displayed(self, scene: Scene, wanted: Measurement, minute: float, number: int) -> Shown:
        level = scene.level(wanted, minute, scene.drifted(number))
        reading: Reading = display(scene.loop, wanted, level, self.seed, number)
        line = describe(reading, scene.loop)
        return Shown(value_text(reading, scene.loop), line, level)


def _dead(scene: Scene, wanted: Measurement) -> bool:
    """Whether all that feeds the loop is off, so that ohms can be read."""
    from diagnose.inference.reading_names import supplies

    off = {i.part for i in wanted.condition if isinstance(i, Applied) and i.action == "off"}
    return {part.name for part in supplies(scene.loop)} <= off


def _text(function: str, value: float, count: float) -> str:
    """A value as a display has it, with its unit."""
    if function == "ohm":
        return _ohms(value, count)
    scale, unit = (1e3, "mA") if function in ("mA", "clamp") else (1.0, "V")
    return f"{value * scale + 0.0:.{_decimals(count * scale)}f} {unit}"


def _ohms(value: float, count: float) -> str:
    scale, unit = next(
        ((s, u) for s, u in ((1e-6, "Mohm"), (1e-3, "kohm")) if value * s >= 0.6), (1.0, "ohm")
    )
    return f"{value * scale:.{_decimals(count * scale)}f} {unit}"


def _decimals(count: float) -> int:
    return max(0, round(-log10(count)))
