"""Platinum thermometers against the printed table of IEC 60751.

Source: the table of resistances as reproduced at sensorsci.com/reference.htm (one misprint there,
-160 degC, left out); above 600 degC the equation of the standard worked out apart.  The limits of
class B in ohms: a reproduction of the standard's table.
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.loops.rtd_tables import CLASSES, ratio, slope, temperature, tolerance

PRINTED = {
    -200: 18.52, -150: 39.72, -100: 60.26, -50: 80.31, 0: 100.00, 20: 107.79, 50: 119.40,
    100: 138.51, 150: 157.33, 200: 175.86, 300: 212.05, 400: 247.09, 500: 280.98, 600: 313.71,
    700: 345.28, 800: 375.70, 850: 390.48,
}  # fmt: skip


@pytest.mark.parametrize(("celsius", "ohms"), PRINTED.items())
def test_resistance_of_a_pt100(celsius: float, ohms: float) -> None:
    assert 100 * float(ratio(celsius)) == pytest.approx(ohms, abs=0.0051)


@pytest.mark.parametrize(("celsius", "ohms"), PRINTED.items())
def test_temperature_of_a_pt100(celsius: float, ohms: float) -> None:
    """Half of the last printed digit is about 0.013 K."""
    assert float(temperature(ohms / 100)) == pytest.approx(celsius, abs=0.02)


@pytest.mark.parametrize(
    ("celsius", "ohms_per_kelvin"),
    [(0, 0.3908), (100, 0.3793), (200, 0.3677), (400, 0.3446), (-100, 0.4053), (-200, 0.4323)],
)
def test_steepness_is_the_derivative(celsius: float, ohms_per_kelvin: float) -> None:
    """Source: the equation of IEC 60751 differentiated on paper; below zero C (4 t^3 - 300 t^2) is
    added, 0.0029 ohm/K at -100 degC.
    """
    assert 100 * float(slope(celsius)) == pytest.approx(ohms_per_kelvin, abs=5e-5)


@pytest.mark.parametrize(
    ("celsius", "ohms"), [(0, 0.12), (100, 0.30), (200, 0.48), (400, 0.79), (600, 1.06)]
)
def test_class_b_in_ohms(celsius: float, ohms: float) -> None:
    limit = tolerance(CLASSES.index("B"), celsius) * slope(celsius) * 100
    assert float(limit) == pytest.approx(ohms, abs=0.0051)


@pytest.mark.parametrize(
    ("grade", "at_0", "at_100"), [("AA", 0.1, 0.27), ("A", 0.15, 0.35), ("C", 0.6, 1.6)]
)
def test_the_other_classes_in_kelvins(grade: str, at_0: float, at_100: float) -> None:
    """IEC 60751: AA 0.1 + 0.0017 |t|, A 0.15 + 0.002 |t|, C 0.6 + 0.01 |t|."""
    assert float(tolerance(CLASSES.index(grade), 0.0)) == pytest.approx(at_0)
    assert float(tolerance(CLASSES.index(grade), -100.0)) == pytest.approx(at_100)


def test_the_curve_rises_and_inverts_far_beyond_its_range() -> None:
    """A broken sensor gives any resistance; what is shown must still rise with it."""
    celsius = np.arange(-400.0, 20000.0, 7.0)
    share = ratio(celsius)
    assert (np.diff(share) > 0).all()
    assert temperature(share) == pytest.approx(celsius, abs=1e-6)
