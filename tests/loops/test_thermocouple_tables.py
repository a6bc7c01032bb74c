"""Thermocouple functions against an independent package and the printed tables of ITS-90.

Sources: the package thermocouple-its90, written by others from the NIST tables (SRD 60), every
degree; the printed values of NIST Monograph 175 and IEC 60584-1 as other packages and the NIST
table files give them, to 1 uV.
"""

from __future__ import annotations

import numpy as np
import pytest
import thermocouple_its90

from diagnose.loops.thermocouple_tables import CLASSES, LETTERS, LOWEST, reference, tolerance

TOP = {"K": 1372, "J": 1200, "T": 400}
PRINTED = {
    "K": {-200: -5.891, -100: -3.554, 25: 1.000, 50: 2.023, 100: 4.096, 200: 8.138, 300: 12.209,
          400: 16.397, 500: 20.644, 600: 24.905, 800: 33.275, 1000: 41.276, 1200: 48.838,
          1300: 52.410, 1372: 54.886},
    "J": {-200: -7.890, -100: -4.633, 25: 1.277, 50: 2.585, 100: 5.269, 200: 10.779, 300: 16.327,
          400: 21.848, 500: 27.393, 600: 33.102, 760: 42.919, 1000: 57.953, 1200: 69.553},
    "T": {-200: -5.603, -100: -3.379, -50: -1.819, 25: 0.992, 50: 2.036, 100: 4.279, 200: 9.288,
          300: 14.862, 400: 20.872},
}  # fmt: skip
"""Type -> degC -> mV, reference junction at 0 degC."""


@pytest.mark.parametrize("letter", LETTERS)
def test_every_degree_of_the_package(letter: str) -> None:
    degrees = np.arange(LOWEST, TOP[letter] + 1.0)
    theirs = [thermocouple_its90.get(letter).emf(float(t)) * 1e-3 for t in degrees]
    assert reference(LETTERS.index(letter)).emf(degrees) == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize("letter", LETTERS)
def test_printed_table(letter: str) -> None:
    curve = reference(LETTERS.index(letter))
    for celsius, millivolts in PRINTED[letter].items():
        assert float(curve.emf(celsius)) * 1e3 == pytest.approx(millivolts, abs=5.1e-4)


@pytest.mark.parametrize("letter", LETTERS)
def test_zero_at_the_ice_point(letter: str) -> None:
    assert float(reference(LETTERS.index(letter)).emf(0.0)) == pytest.approx(0.0, abs=2e-9)


@pytest.mark.parametrize("letter", LETTERS)
def test_the_seebeck_coefficient_is_the_slope(letter: str) -> None:
    """Differences of the package's function over 0.02 K, away from the joints of its pieces."""
    inside = np.arange(-199.5, TOP[letter], 5.0)
    theirs = thermocouple_its90.get(letter)
    slopes = [(theirs.emf(t + 0.01) - theirs.emf(t - 0.01)) / 0.02 * 1e-3 for t in inside]
    ours = reference(LETTERS.index(letter)).seebeck(inside)
    assert ours == pytest.approx(slopes, rel=1e-6)


@pytest.mark.parametrize("letter", LETTERS)
def test_the_inverse_and_the_way_beyond_the_ends(letter: str) -> None:
    """An open circuit gives any voltage: what is shown must rise with it, and come back."""
    curve = reference(LETTERS.index(letter))
    celsius = np.concatenate([np.arange(-5000.0, 9000.0, 13.0), np.arange(-1.0, 1.0, 0.01)])
    celsius.sort()
    volts = curve.emf(celsius)
    assert (np.diff(volts) > 0).all()
    assert curve.temperature(volts) == pytest.approx(celsius, abs=1e-6)


@pytest.mark.parametrize(
    ("celsius", "first", "second"), [(100, 1.5, 2.5), (375, 1.5, 2.8125), (1000, 4.0, 7.5)]
)
def test_tolerance_classes_of_type_k(celsius: float, first: float, second: float) -> None:
    """IEC 60584-1, type K: class 1 1.5 K or 0.4 %, class 2 2.5 K or 0.75 %, the larger."""
    found = [float(tolerance(0, CLASSES.index(grade), celsius)) for grade in CLASSES]
    assert found == pytest.approx([first, second])


@pytest.mark.parametrize(
    ("letter", "celsius", "first", "second"),
    [
        ("J", 100, 1.5, 2.5), ("J", 600, 2.4, 4.5), ("J", -40, 1.5, 2.5),
        ("T", 100, 0.5, 1.0), ("T", 300, 1.2, 2.25), ("T", -40, 0.5, 1.0),
    ],
)  # fmt: skip
def test_tolerance_classes_of_types_j_and_t(
    letter: str, celsius: float, first: float, second: float
) -> None:
    """IEC 60584-1 (from memory): J as K; T 0.5 K or 0.4 %, and 1 K or 0.75 %, the larger."""
    number = LETTERS.index(letter)
    found = [float(tolerance(number, CLASSES.index(grade), celsius)) for grade in CLASSES]
    assert found == pytest.approx([first, second])


@pytest.mark.parametrize("letter", LETTERS)
def test_a_limit_of_error_counts_from_zero_either_way(letter: str) -> None:
    """The share is one of the temperature without its sign: 0.75 % of 400 K is 3 K."""
    found = float(tolerance(LETTERS.index(letter), CLASSES.index("2"), -400.0))
    assert found == pytest.approx(3.0)
