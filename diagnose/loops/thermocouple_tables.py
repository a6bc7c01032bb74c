"""Thermocouples of types K, J and T: volts from temperature and back, and how far one may be off.

The reference functions are those of ITS-90 (NIST Monograph 175, 1993; IEC 60584-1).  The
coefficients were copied by a program from a published package, digit for digit; a test compares
every degree with it.  Temperatures in degC, voltages in V with the reference junction at 0 degC.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from diagnose.loops.arrays import np

LOWEST = -200.0
"""Below this the functions go on as straight lines, as they do above their last piece, degC."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A polynomial in degC that gives mV, from the zeroth power up, and for type K a bump on it.

    The ``bump`` (a, b, c) adds ``a * exp(b * (t - c)**2)``.
    """

    low: float
    high: float
    powers: tuple[float, ...]
    bump: tuple[float, float, float] | None = None

    def value(self, t: Any) -> Any:
        """Millivolts at ``t``."""
        found: Any = 0.0
        for power in reversed(self.powers):
            found = found * t + power
        return found + self._bump(t)

    def slope(self, t: Any) -> Any:
        """Millivolts per kelvin at ``t``."""
        found: Any = 0.0
        for degree in range(len(self.powers) - 1, 0, -1):
            found = found * t + degree * self.powers[degree]
        if self.bump is not None:
            found = found + 2 * self.bump[1] * (t - self.bump[2]) * self._bump(t)
        return found

    def _bump(self, t: Any) -> Any:
        if self.bump is None:
            return 0.0
        height, width, centre = self.bump
        return height * np.exp(width * (t - centre) ** 2)


@dataclass(frozen=True)
class Reference:
    """The reference function of one type; scalars and arrays alike."""

    letter: str
    pieces: tuple[Piece, ...]

    def emf(self, celsius: Any) -> Any:
        """Volts of a thermocouple whose other junction is at 0 degC."""
        held = np.clip(celsius, LOWEST, self.pieces[-1].high)
        straight = self._pick(held, Piece.slope) * (celsius - held)
        return 1e-3 * (self._pick(held, Piece.value) + straight)

    def seebeck(self, celsius: Any) -> Any:
        """Volts per kelvin."""
        return 1e-3 * self._pick(np.clip(celsius, LOWEST, self.pieces[-1].high), Piece.slope)

    def temperature(self, volts: Any) -> Any:
        """The inverse of ``emf``, by Newton's rule from the nearest degree."""
        t = np.interp(volts, self._table[1], self._table[0])
        for _ in range(2):
            t = t - (self.emf(t) - volts) / self.seebeck(t)
        return t

    @cached_property
    def _table(self) -> tuple[Any, Any]:
        """Every degree and its volts."""
        degrees = np.arange(LOWEST, self.pieces[-1].high + 1)
        return degrees, self.emf(degrees)

    def _pick(self, t: Any, what: Any) -> Any:
        """Of each piece that holds ``t``, its value or slope."""
        found = what(self.pieces[0], t)
        for piece in self.pieces[1:]:
            found = np.where(t > piece.low, what(piece, t), found)
        return found


LETTERS = ("K", "J", "T")
"""Types in the order of the numbers that stand for them in a parameter."""

# fmt: off
_REFERENCES = {
    "K": Reference(
        "K",
        (
            Piece(-270.0, 0.0, (0.0, 0.039450128025, 2.3622373598e-05, -3.2858906784e-07,
                -4.9904828777e-09, -6.7509059173e-11, -5.7410327428e-13, -3.1088872894e-15,
                -1.0451609365e-17, -1.9889266878e-20, -1.6322697486e-23)),
            Piece(0.0, 1372.0, (-0.017600413686, 0.038921204975, 1.8558770032e-05,
                -9.9457592874e-08, 3.1840945719e-10, -5.6072844889e-13, 5.6075059059e-16,
                -3.2020720003e-19, 9.7151147152e-23, -1.2104721275e-26), (0.1185976,
                -0.0001183432, 126.9686)),
        ),
    ),
    "J": Reference(
        "J",
        (
            Piece(-210.0, 760.0, (0.0, 0.050381187815, 3.047583693e-05, -8.568106572e-08,
                1.3228195295e-10, -1.7052958337e-13, 2.0948090697e-16, -1.2538395336e-19,
                1.5631725697e-23)),
            Piece(760.0, 1200.0, (296.45625681, -1.4976127786, 0.0031787103924,
                -3.1847686701e-06, 1.5720819004e-09, -3.0691369056e-13)),
        ),
    ),
    "T": Reference(
        "T",
        (
            Piece(-270.0, 0.0, (0.0, 0.038748106364, 4.4194434347e-05, 1.1844323105e-07,
                2.0032973554e-08, 9.0138019559e-10, 2.2651156593e-11, 3.6071154205e-13,
                3.8493939883e-15, 2.8213521925e-17, 1.4251594779e-19, 4.8768662286e-22,
                1.079553927e-24, 1.3945027062e-27, 7.9795153927e-31)),
            Piece(0.0, 400.0, (0.0, 0.038748106364, 3.329222788e-05, 2.0618243404e-07,
                -2.1882256846e-09, 1.0996880928e-11, -3.0815758772e-14, 4.547913529e-17,
                -2.7512901673e-20)),
        ),
    ),
}
# fmt: on

CLASSES = ("1", "2")
"""Tolerance classes in the order of the numbers that stand for them in a parameter."""

# Class -> (kelvins, share of the temperature): the larger of the two is the limit.  Type K as one
# secondary page reproduces IEC 60584-1; types J and T from memory.
_LIMITS = {
    "K": ((1.5, 0.004), (2.5, 0.0075)),
    "J": ((1.5, 0.004), (2.5, 0.0075)),
    "T": ((0.5, 0.004), (1.0, 0.0075)),
}


def letter_of(number: Any) -> str:
    """The type that a parameter stands for; one type for all rows."""
    return LETTERS[int(np.ravel(number)[0])]


def reference(number: Any) -> Reference:
    """The reference function of the type that a parameter stands for."""
    return _REFERENCES[letter_of(number)]


def tolerance(number: Any, grade: Any, celsius: Any) -> Any:
    """Limit of error of a type and class, K."""
    kelvins, share = _LIMITS[letter_of(number)][int(np.ravel(grade)[0])]
    return np.maximum(kelvins, share * np.abs(celsius))
