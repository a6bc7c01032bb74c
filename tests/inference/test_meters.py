"""Meter errors against worked examples and the guide to uncertainty; meter tables of a plant."""

from math import log, sqrt

import numpy as np
import pytest

from diagnose.errors import SheetError
from diagnose.inference.meters import GENERIC, Meter, MeterFunction, meter_from_table


# The first row is the worked example of a multimeter manual's accuracy section (0.8 % + 5 counts
# of 1 mV at 1.396 V is 0.0162 V); the others are the same arithmetic by hand.
@pytest.mark.parametrize(
    ("percent", "counts", "full", "value", "limit"),
    [
        (0.8, 5, 6.0, 1.396, 0.0162),
        (0.1, 2, 6.0, 3.000, 0.005),
        (0.1, 2, 6.0, 1.000, 0.003),
        (0.1, 2, 6.0, 5.000, 0.007),
        (0.2, 2, 0.06, 0.012, 0.000044),
    ],
)
def test_limit_of_error_is_percent_of_reading_plus_counts(
    percent: float, counts: float, full: float, value: float, limit: float
) -> None:
    found = MeterFunction(percent, counts, (full,)).limit(value)
    assert found == pytest.approx(limit, abs=5e-3 * limit)
    assert MeterFunction(percent, counts, (full,)).limit(-value) == found


def test_limits_become_standard_uncertainties_by_root_three() -> None:
    """JCGM 100:2008, 4.3.7: a rectangular distribution of half width a has variance a^2/3."""
    gain, noise = GENERIC.uncertainty("V", 3.0)
    assert gain == pytest.approx(0.003 / sqrt(3))
    assert noise == pytest.approx(0.002 / sqrt(3))
    even = np.linspace(-0.003, 0.003, 200_001)  # the same by numpy, from the distribution itself
    assert gain == pytest.approx(even.std(), rel=1e-4)


@pytest.mark.parametrize(
    ("value", "count"),
    [(0.3, 1e-4), (0.6, 1e-4), (0.601, 1e-3), (-6.0, 1e-3), (6.1, 1e-2), (60.0, 1e-2), (400.0, 0.1),
     (900.0, 0.1)],
)  # fmt: skip
def test_the_smallest_range_that_holds_the_value_sets_the_count(value: float, count: float) -> None:
    """6000 counts on ranges of 0.6, 6, 60 and 600 V (common practice, no source)."""
    assert GENERIC.functions["V"].resolution(np.asarray(value)) == pytest.approx(count)


@pytest.mark.parametrize(
    ("function", "value", "gain", "noise"),
    [
        ("V", 24.0, 0.024, 0.02),
        ("Vlow", 3.0, 0.03, 0.003),
        ("mA", 0.012, 36e-6, 30e-6),
        ("mA", 0.08, 240e-6, 30e-6),
        ("clamp", 0.012, 24e-6, 50e-6),
    ],
)
def test_the_generic_meter(function: str, value: float, gain: float, noise: float) -> None:
    """Typical hand-held classes (common practice, no source), by hand."""
    found = GENERIC.uncertainty(function, value)
    assert found == pytest.approx((gain / sqrt(3), noise / sqrt(3)))


@pytest.mark.parametrize("ohms", [0.0, 0.3, 85.0, 599.0, 1200.0, 47e3, 5e6, 40e6])
def test_ohms_are_uncertain_in_the_logarithm(ohms: float) -> None:
    """Against the plain difference of ln(R + 1) at the two ends of each error."""
    gain, noise = GENERIC.uncertainty("ohm", ohms)
    count = GENERIC.functions["ohm"].resolution(np.asarray(ohms))
    for found, error in ((gain, 0.005 * ohms), (noise, 2 * float(count))):
        step = 1e-3 * error / sqrt(3)
        change = (log(ohms + step + 1) - log(ohms - step + 1)) / 2e-3
        assert found == pytest.approx(change, rel=1e-4, abs=1e-12)


def test_arrays_and_numbers_agree() -> None:
    values = np.array([-7.0, 0.0, 0.2, 3.0, 59.0])
    for function in GENERIC.functions:
        gain, noise = GENERIC.uncertainties(function, np.abs(values))
        single = np.array([GENERIC.uncertainty(function, abs(float(value))) for value in values])
        assert np.column_stack([gain, noise]) == pytest.approx(single)


def test_an_unknown_function_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        GENERIC.uncertainty("torque", 1.0)


def test_low_impedance_volts_load_the_loop() -> None:
    """10 Mohm and about 3 kohm (common practice, no source)."""
    assert GENERIC.volt_resistance("V") == GENERIC.volt_resistance("VAC") == 10e6
    assert GENERIC.volt_resistance("Vlow") == 3e3


def test_a_plant_names_its_own_meter() -> None:
    meter = meter_from_table(
        "bench",
        {
            "V": {"percent": "0.05 %", "counts": 1, "ranges": ["500 mV", "5 V", "50 V"],
                  "display": 50000},
            "input_resistance": "11.1 Mohm",
            "burden": "2 ohm",
        },
    )  # fmt: skip
    assert meter.name == "bench"
    assert meter.functions["V"].limit(3.0) == pytest.approx(0.0015 + 0.0001)
    assert meter.functions["ohm"] == GENERIC.functions["ohm"]
    assert (meter.input_resistance, meter.burden, meter.lead) == (11.1e6, 2.0, 0.2)


def test_an_empty_table_is_the_generic_meter() -> None:
    assert meter_from_table("generic", {}) == GENERIC == Meter()


@pytest.mark.parametrize(
    ("table", "line"),
    [
        ({"burdn": "4 ohm"}, "burdn: a meter has no such key; did you mean burden?"),
        ({"burden": 4}, "burden: write a text with a unit, for example '10 Mohm' or '0.1 %'"),
        ({"lead": "50 ohm"}, "lead: '50 ohm' is outside of 0.0 ohm to 10.0 ohm"),
        ({"lead": "3 V"},
         "lead: '3 V': 'V' is no unit of resistance; write for example 250 ohm or 4k7"),
        ({"V": 3}, "V: write a table, for example { percent = '0.1 %', counts = 2 }"),
        ({"V": {"percent": "80 %"}}, "V.percent: '80 %' is outside of 0.0 % to 50.0 %"),
        ({"V": {"counts": True}}, "V.counts: write a number from 0 to 1000"),
        ({"V": {"counts": float("nan")}}, "V.counts: write a number from 0 to 1000"),
        ({"V": {"display": 10}}, "V.display: write a number from 100 to 10000000"),
        ({"V": {"ranges": []}},
         "V.ranges: write a list of full scales, for example ['6 V', '60 V']"),
        ({"V": {"ranges": ["6 V", "600 mV"]}},
         "V.ranges: full scales must rise: '600 mV' does not"),
        ({"V": {"rangs": ["6 V"]}},
         "V.rangs: a meter function has no such key; did you mean ranges?"),
    ],
)  # fmt: skip
def test_a_wrong_table_names_file_and_key(table: dict[str, object], line: str) -> None:
    with pytest.raises(SheetError) as caught:
        meter_from_table("mine", table)
    assert str(caught.value) == f"plant.toml: meter.mine.{line}"


def test_all_wrong_keys_are_told_at_once() -> None:
    with pytest.raises(SheetError) as caught:
        meter_from_table("mine", {"V": {"counts": "x", "percent": 1}, "burden": 4}, "my.toml")
    assert [key for _, key, _ in caught.value.problems] == [
        "meter.mine.V.counts", "meter.mine.V.percent", "meter.mine.burden",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("volts", "outrun"), [(-0.1, True), (-1e-3, True), (-1e-6, False), (0.0, False), (0.6, False)]
)
def test_a_source_that_drives_an_ohmmeter_backwards_outruns_it(volts: float, outrun: bool) -> None:
    """Below no resistance by more than its counts, 2 of 0.1 ohm at 0.12 mA: 24 uV (Ohm's law)."""
    assert GENERIC.outrun(volts) == outrun
    assert GENERIC.functions["ohm"].counts == 2
    assert GENERIC.ohm_source / GENERIC.ohm_resistance == pytest.approx(0.12e-3)
