"""Conductor resistances against IEC 60228, ASTM B258 and NEC Chapter 9, Table 8.

IEC 60228:2004 maxima at 20 degC: four secondary pages that reproduce its tables alike; the
standard itself was not seen.  NEC Table 8 (75 degC, uncoated copper): a secondary page.  ASTM B258
diameters: the formula is from memory, and a wire table that was opened (10 AWG 2.588 mm,
3.277 mohm/m) agrees with it.
"""

from __future__ import annotations

from typing import ClassVar

import pytest

from diagnose.loops.conductor_tables import (
    ConductorError,
    at_temperature,
    core_resistance,
    gauge_diameter,
    gauge_resistance,
    table_resistance,
)

IEC_60228 = {
    "class 1": {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41},
    "class 2": {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41},
    "class 2 coated": {0.5: 36.7, 0.75: 24.8, 1.0: 18.2, 1.5: 12.2, 2.5: 7.56},
    "class 5": {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98},
    "class 5 coated": {0.5: 40.1, 0.75: 26.7, 1.0: 20.0, 1.5: 13.7, 2.5: 8.21},
}
ROWS = [(kind, size, ohm) for kind, table in IEC_60228.items() for size, ohm in table.items()]


@pytest.mark.parametrize(("conductor", "area", "ohm_per_km"), ROWS)
def test_iec_60228_2004(conductor, area, ohm_per_km):
    values = {"length": "1000 m", "area": f"{area} mm2", "conductor": conductor}
    assert core_resistance(values) == {"resistance": pytest.approx(ohm_per_km, rel=1e-9)}


def test_plain_class_2_is_meant_where_the_sheet_is_silent():
    assert core_resistance({"length": "1000 m", "area": "0.75 mm2"})["resistance"] == (
        pytest.approx(24.5)
    )


@pytest.mark.parametrize(
    ("number", "millimetres"),
    [(10, 2.588), (12, 2.0525), (14, 1.6277), (16, 1.2908), (18, 1.0237), (20, 0.8118),
     (22, 0.6438), (24, 0.5106)],
)  # fmt: skip
def test_astm_b258_diameters(number, millimetres):
    assert gauge_diameter(number) * 1e3 == pytest.approx(millimetres, abs=3e-4)


def test_ten_gauge_in_an_opened_wire_table():
    assert gauge_resistance(10) * 1e3 == pytest.approx(3.277, rel=1e-3)


FOOT = 0.3048


@pytest.mark.parametrize(
    ("number", "ohm_per_kft"), [(18, 7.77), (16, 4.89), (14, 3.07), (12, 1.93), (10, 1.21)]
)
def test_nec_chapter_9_table_8_solid_at_75_degc(number, ohm_per_kft):
    """Rounded to 0.01 in the table, and its temperature coefficient is 0.00323 at 75 degC."""
    ours = at_temperature(gauge_resistance(number), 75) * 1000 * FOOT
    assert ours == pytest.approx(ohm_per_kft, abs=0.011)


@pytest.mark.parametrize(
    ("number", "ohm_per_kft"), [(18, 7.95), (16, 4.99), (14, 3.14), (12, 1.98), (10, 1.24)]
)
def test_seven_strands_have_about_two_per_cent_more(number, ohm_per_kft):
    ours = at_temperature(gauge_resistance(number), 75) * 1000 * FOOT
    assert 1.01 < ohm_per_kft / ours < 1.03


@pytest.mark.parametrize(
    ("celsius", "factor"), [(5, 1.064), (10, 1.042), (30, 0.962), (45, 0.909), (60, 0.862),
                            (75, 0.820)]
)  # fmt: skip
def test_temperature_against_the_correction_table_of_iec_60228(celsius, factor):
    """The table brings R back to 20 degC; its 250 / (230 + t) differs from 0.00393/K by 0.3 %."""
    assert at_temperature(1.0, celsius) * factor == pytest.approx(1.0, abs=4e-3)


def test_three_hundred_metres_of_pair_by_hand():
    """2 * 0.3 km * 18.1 ohm/km = 10.86 ohm at 20 degC; times 1 + 0.00393 * 30 at 50 degC."""
    pair = {"length": "600 m", "area": "1 mm2"}
    assert core_resistance(pair)["resistance"] == pytest.approx(2 * 0.3 * 18.1)
    warm = core_resistance({**pair, "temperature": "50 degC"})["resistance"]
    assert warm == pytest.approx(10.86 * (1 + 0.00393 * 30))


@pytest.mark.parametrize("text", ["AWG 18", "awg18", "18 AWG", "18awg", " AWG  18 "])
def test_a_gauge_in_any_spelling(text):
    found = core_resistance({"length": "1 km", "area": text})["resistance"]
    assert found == pytest.approx(20.95, abs=0.005)  # 17.241 nohm m / (pi/4 * (1.0237 mm)**2)


@pytest.mark.parametrize(("number", "ohm_per_km"), [(4, 0.8152), (5, 1.028), (30, 338.6)])
def test_the_thickest_and_the_thinnest_gauge(number, ohm_per_km):
    """0.2485, 0.3133 and 103.2 ohm per 1000 ft at 20 degC in handbook tables (from memory)."""
    found = core_resistance({"length": "1 km", "area": f"AWG {number}"})["resistance"]
    assert found == pytest.approx(ohm_per_km, rel=1e-3)


@pytest.mark.parametrize("number", [3, 31])
def test_a_gauge_beyond_them_is_refused(number):
    with pytest.raises(ConductorError, match=f"AWG {number} is outside AWG 4 to AWG 30"):
        core_resistance({"length": "1 km", "area": f"AWG {number}"})


def test_a_class_is_known_in_any_case_of_letters():
    values = {"length": "1 km", "area": "1.5 mm2", "conductor": " Class 5 "}
    assert core_resistance(values)["resistance"] == pytest.approx(13.3)  # IEC 60228, as above


def test_other_values_pass_unchanged():
    assert core_resistance({"resistance": "2 ohm"}) == {"resistance": "2 ohm"}
    kept = core_resistance({"length": "1 m", "area": "1 mm2", "other": "x"})
    assert kept == {"other": "x", "resistance": pytest.approx(0.0181)}


class TestWrong:
    wrong: ClassVar = {
        "nearest": (
            {"length": "1 m", "area": "0.8 mm2"},
            "area",
            (
                "0.8 mm2 is not in the table of IEC 60228 used here; the nearest sizes are "
                "0.75 mm2 and 1 mm2, or give the resistance itself"
            ),
        ),
        "below all": (
            {"length": "1 m", "area": "0.22 mm2"},
            "area",
            (
                "0.22 mm2 is not in the table of IEC 60228 used here; the nearest size is 0.5 mm2, "
                "or give the resistance itself"
            ),
        ),
        "above all": (
            {"length": "1 m", "area": "16 mm2"},
            "area",
            (
                "16 mm2 is not in the table of IEC 60228 used here; the nearest size is 2.5 mm2, "
                "or give the resistance itself"
            ),
        ),
        "area alone": (
            {"area": "1 mm2"},
            "area",
            'area is given without length; add length = "120 m"',
        ),
        "temperature alone": (
            {"temperature": "30 degC"},
            "temperature",
            'temperature is given without length; add length = "120 m"',
        ),
        "no length": (
            {"length": "0 m", "area": "1 mm2"},
            "length",
            "0 m is not between 0.001 m and 100000 m",
        ),
        "hair": (
            {"length": "1 m", "area": "0.0001 mm2"},
            "area",
            "0.0001 mm2 is not between 0.001 mm2 and 10000 mm2",
        ),
        "gauge with class": (
            {"length": "1 m", "area": "AWG 18", "conductor": "class 5"},
            "conductor",
            "conductor classes belong to areas in mm2, not to AWG numbers; leave the conductor out",
        ),
    }

    @pytest.mark.parametrize(("values", "key", "sentence"), wrong.values(), ids=wrong)
    def test_is_told_in_one_sentence(self, values, key, sentence):
        with pytest.raises(ConductorError) as caught:
            core_resistance(values)
        assert (caught.value.key, str(caught.value)) == (key, sentence)

    def test_unknown_area_of_a_known_conductor(self):
        with pytest.raises(ConductorError):
            table_resistance(3.0, "class 5")
