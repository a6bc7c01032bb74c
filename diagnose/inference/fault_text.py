"""``PART:MODE=SEVERITY``: a fault to put into the circuit, as text."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.errors import DiagnoseError, QuantityError, UnknownNameError
from diagnose.inference.reading_names import find_part
from diagnose.loops.kind import FaultMode, Severity
from diagnose.loops.loop import Loop, Part
from diagnose.quantities import format_quantity, parse_quantity

PREFIX = {"A": "m", "1": "%"}
"""What a severity without a unit counts in."""


class FaultError(DiagnoseError):
    """Text that names no fault of the loop."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault that is put into the circuit; ``value`` is what its parameter becomes, SI."""

    part: str
    mode: FaultMode
    severity: float
    value: float | None = None

    def text(self) -> str:
        """``R1 drift 310.0 ohm``."""
        scale = self.mode.size
        if scale is None or self.value is None:
            return f"{self.part} {self.mode.name}"
        return f"{self.part} {self.mode.name} {format_quantity(self.value, scale.unit)}"


def find_fault(text: str, loop: Loop) -> Fault:
    """``PART:MODE`` or ``PART:MODE=SEVERITY``; the severity is what the parameter becomes.

    Raises UnknownNameError for the part or the mode, FaultError for the severity.
    """
    head, equals, size = text.partition("=")
    name, colon, word = head.rpartition(":")
    if not colon:
        raise FaultError(f"{text[:60]!r}: write PART:MODE or PART:MODE=SEVERITY")
    part = find_part(name.strip(), loop)
    if part is None:
        able = (item.name for item in loop.parts if item.kind.modes)
        raise UnknownNameError("part", name.strip(), able)
    mode = _mode(word, part)
    if equals:
        return _sized(part, mode, size.strip())
    if mode.severity is None:
        return Fault(part.name, mode, 0.0)
    severity = _usual(mode.severity)
    return Fault(part.name, mode, severity, _value(part, mode, severity))


def _mode(word: str, part: Part) -> FaultMode:
    wanted = _plain(word)
    for mode in part.kind.modes:
        if _plain(mode.name) == wanted:
            return mode
    if not part.kind.modes:
        raise FaultError(f"{part.name} has no fault modes")
    raise UnknownNameError(
        f"fault mode of {part.name}", word.strip(), (mode.name for mode in part.kind.modes)
    )


def _plain(word: str) -> str:
    """A name without case, hyphens and underscores: ``fixed-output`` is ``fixed output``."""
    return " ".join(word.replace("-", " ").replace("_", " ").split()).casefold()


def _usual(scale: Severity) -> float:
    """The middle of a range, geometric where that fits; half of the top where it spans zero."""
    if scale.logarithmic:
        return float((scale.low * scale.high) ** 0.5)
    return scale.high / 2 if scale.low < 0 < scale.high else (scale.low + scale.high) / 2


def _value(part: Part, mode: FaultMode, severity: float) -> float:
    """The value that the moved parameter takes."""
    offset, slope = _line(part, mode)
    return offset + slope * severity


def _line(part: Part, mode: FaultMode) -> tuple[float, float]:
    """Offset and slope of the moved parameter against the severity; every change is a line."""
    for change in mode.changes:
        nominal = part.values.get(change.parameter, 0.0) if not change.of else 0.0
        zero, one = (float(change.value(nominal, size)) for size in (0.0, 1.0))
        if zero != one:
            return zero, one - zero
    return 0.0, 1.0


def _sized(part: Part, mode: FaultMode, text: str) -> Fault:
    name, scale = f"{part.name} {mode.name}", mode.size
    if scale is None:
        raise FaultError(f"{name} has no size; leave out '={text[:40]}'")
    try:
        value = parse_quantity(text, scale.unit, default_prefix=PREFIX.get(scale.unit, ""))
    except QuantityError as error:
        raise FaultError(f"{name}: {error}") from error
    low, high = sorted(_value(part, mode, end) for end in (scale.low, scale.high))
    slack = 1e-9 * (high - low)
    if not low - slack <= value <= high + slack:
        bounds = _span(low, high, scale.unit)
        raise FaultError(f"{name}: {scale.quantity} '{text[:40]}' is outside of {bounds}")
    offset, slope = _line(part, mode)
    return Fault(part.name, mode, (value - offset) / slope, value)


def _span(low: float, high: float, unit: str) -> str:
    """Two ends as one text; a unit that both have is said once."""
    first, last = format_quantity(low, unit), format_quantity(high, unit)
    number, _, same = first.rpartition(" ")
    return f"{number if last.endswith(f' {same}') else first} to {last}"


def fault_of(part: Part, mode: FaultMode, severity: float) -> Fault:
    """A fault of a part at a severity, with the value that its parameter takes."""
    if mode.severity is None:
        return Fault(part.name, mode, severity)
    return Fault(part.name, mode, severity, _value(part, mode, severity))
