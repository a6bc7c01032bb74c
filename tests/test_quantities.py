"""Typed quantities: values by hand, the unit table against pint, hostile text."""

import math
import re
import subprocess
import sys

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from diagnose.errors import QuantityError
from diagnose.quantities import (
    LONGEST,
    find_unit,
    format_quantity,
    parse_number,
    parse_quantity,
    plain,
    registry,
    shown,
    si,
    whole_number,
)
from diagnose.unit_table import LIMITS, UNITS, scales_of

HOSTILE = (
    "9**9**9**9", "9**9**9", "__import__('os').system('x')", "().__class__", "nan", "NaN mA", "inf",
    "-inf V", "infinity", "1e999", "1e-9999999", "1e99999999", "\x00", "3\x00", "3\x1b[2J", "3\n",
    "../../etc/passwd", "C:\\con", "a" * 10_000, "1" * 10_000, "milli" * 4_000, "(" * 60,
    "mA*mA*mA", "mA**99999999", "0x10", "1_000", "\u0663 V", "\u00bd V", "\ud800", "\u202e3 V",
    "3 V; 4 V", "%s%s%n",
    "{0}", "$(id)", "1,2,3", "1.2.3", "--3", "+-3", ".", ",", "-", "e3", "\u221e",
)  # fmt: skip
"""No quantity in any unit (traps met in trials of general unit parsers, and the usual tricks)."""


# SI brochure (9th edition, 2019), tables 7 and 8, for prefixes and units outside the SI;
# letter as decimal mark and R for ohm after IEC 60062:2016, clause 5.
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("250 ohm", "ohm", 250.0), ("250R", "ohm", 250.0), ("250 Ohms", "ohm", 250.0),
        ("4k7", "ohm", 4700.0), ("4K7", "ohm", 4700.0), ("0R5", "ohm", 0.5), ("1M2", "ohm", 1.2e6),
        ("2.2k", "ohm", 2200.0), ("2.2 k\u03a9", "ohm", 2200.0), ("2,2 k\u2126", "ohm", 2200.0),
        ("20 Mohm", "ohm", 20e6), ("20 MOHM", "ohm", 20e6), ("5 mohm", "ohm", 0.005),
        ("100 Gohm", "ohm", 1e11),
        ("24 V", "V", 24.0), ("24v", "V", 24.0), ("24 V DC", "V", 24.0), ("24VDC", "V", 24.0),
        ("88 mV", "V", 0.088), ("3V3", "V", 3.3), ("\u22120.5 V", "V", -0.5), ("+3", "V", 3.0),
        ("3,02 V", "V", 3.02), ("0,250 V", "V", 0.25), (".5", "V", 0.5), ("3.", "V", 3.0),
        ("1.2e1 V", "V", 12.0),
        ("8.03 mA", "A", 0.00803), ("12 ma", "A", 0.012), ("12 MA", "A", 0.012),
        ("12,3 mA", "A", 0.0123), ("20 \u00b5A", "A", 20e-6), ("20 uA", "A", 20e-6),
        ("12 uS", "S", 12e-6),
        ("120 m", "m", 120.0), ("1800 mm", "m", 1.8), ("1 ft", "m", 0.3048), ("2 in", "m", 0.0508),
        ("0.75 mm2", "m2", 0.75e-6), ("0,75 mm\u00b2", "m2", 0.75e-6),
        ("2 min", "s", 120.0), ("1 h", "s", 3600.0),
        ("25 degC", "degC", 25.0), ("25 \u00b0C", "degC", 25.0), ("298.15 K", "degC", 25.0),
        ("100 kPa", "Pa", 1e5), ("1 bar", "Pa", 1e5), ("0.1 MPa", "Pa", 1e5),
        ("0.1 %", "1", 0.001), ("45%", "1", 0.45), ("0.45", "1", 0.45), ("45 percent", "1", 0.45),
        ("3k3", "V", 3300.0), ("3m3", "V", 0.0033), ("24v5", "V", 24.5), ("470u5", "V", 470.5e-6),
        ("4m7", "A", 0.0047), ("20u5", "A", 20.5e-6), ("-0R5", "ohm", -0.5),
        ("1M5", "ohm", 1.5e6), ("123456789012 ohm", "ohm", 123456789012.0),
        ("\u20130.5 V", "V", -0.5), ("\u20120.5 V", "V", -0.5), ("3\u202fV", "V", 3.0),
        ("3\u2009V", "V", 3.0), ("3\tV", "V", 3.0), ("32 degF", "degC", 0.0),
        ("212 F", "degC", 100.0), ("9 degF", "K", 5.0),
    ],
)  # fmt: skip
def test_what_people_type_is_understood(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-15, abs=1e-13)


def test_powers_of_ten_are_exact() -> None:
    """8.03 mA is the float nearest to 0.00803, not a product that misses it."""
    assert parse_quantity("8.03 mA", "A") == 0.00803
    assert parse_quantity("0.1 %", "1") == 0.001


@pytest.mark.parametrize(
    ("text", "unit", "prefix", "value"),
    [("8.03", "A", "m", 0.00803), ("8.03 A", "A", "m", 8.03), ("62", "1", "%", 0.62),
     ("0.62", "1", "%", 0.0062), ("3", "V", "", 3.0)],
)  # fmt: skip
def test_a_bare_number_counts_in_the_default(
    text: str, unit: str, prefix: str, value: float
) -> None:
    assert parse_quantity(text, unit, default_prefix=prefix) == value


@pytest.mark.parametrize(
    ("text", "unit", "reason"),
    [
        ("", "V", "a value is missing; write for example 3.02 V or 88 mV"),
        ("1,234 V", "V", "'1,234 V' can mean 1.234 or 1234: write one of them"),
        ("12,345", "ohm", "'12,345' can mean 12.345 or 12345: write one of them"),
        ("1.234,5 V", "V", "'1.234,5 V' has more than one decimal mark"),
        ("> 20 Mohm", "ohm", "'> 20 Mohm' is a bound, not a value: write the number alone"),
        ("nan", "V", "'nan' is not a number that can be measured"),
        ("1e999", "A", "'1e999' is outside of -10000 A to 10000 A"),
        ("-300 degC", "degC", "'-300 degC' is outside of -273.1 degC to 5000 degC"),
        ("12 apples", "V",
         "'12 apples': 'apples' is no unit of voltage; write for example 3.02 V or 88 mV"),
        ("4k7", "A", "'4k7': 'k7' is no unit of current; write for example 8.03 mA"),
        (">= 20 V", "V", "'>= 20 V' is a bound, not a value: write the number alone"),
        ("< 1 ohm", "ohm", "'< 1 ohm' is a bound, not a value: write the number alone"),
        ("10000.5 A", "A", "'10000.5 A' is outside of -10000 A to 10000 A"),
        ("banana", "ohm",
         "'banana' is not a number with a unit; write for example 250 ohm or 4k7"),
        ("3" * 65, "V", "a quantity has at most 64 characters"),
        ("3 V", "furlong", "'furlong' is no unit of this program"),
    ],
)  # fmt: skip
def test_the_rest_is_refused_with_one_sentence(text: str, unit: str, reason: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, unit)
    assert str(caught.value) == reason


@pytest.mark.parametrize("text", HOSTILE, ids=ascii)
@pytest.mark.parametrize("unit", UNITS)
def test_hostile_text_is_refused(text: str, unit: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, unit)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 200


@given(text=st.text(max_size=90), unit=st.sampled_from(sorted(UNITS)))
@example(text="3\u00a0V", unit="V")
def test_any_text_gives_a_finite_number_or_a_refusal(text: str, unit: str) -> None:
    try:
        value = parse_quantity(text, unit)
    except QuantityError as error:
        assert str(error).isprintable()
    else:
        assert LIMITS[unit][0] <= value <= LIMITS[unit][1]
        assert any(letter in "0123456789" for letter in text)


@given(
    text=st.from_regex(r"[-+]?[0-9.,eE]{0,12} ?[umkMG%]?(ohm|V|A|m2?|s|Pa|R)?", fullmatch=True),
    unit=st.sampled_from(sorted(UNITS)),
)
def test_near_misses_give_a_finite_number_or_a_refusal(text: str, unit: str) -> None:
    try:
        assert math.isfinite(parse_quantity(text, unit))
    except QuantityError as error:
        assert "\n" not in str(error)


PINT_NAMES = {
    "ohm": "ohm", "V": "volt", "A": "ampere", "S": "siemens", "m": "meter", "m2": "meter ** 2",
    "s": "second", "degC": "degree_Celsius", "Pa": "pascal", "1": "dimensionless",
    "ft": "foot", "feet": "foot", "foot": "foot", "in": "inch", "inch": "inch",
    "mm2": "millimeter ** 2", "sqmm": "millimeter ** 2", "cm2": "centimeter ** 2",
    "min": "minute", "h": "hour", "d": "day", "K": "kelvin", "degF": "degree_Fahrenheit",
    "F": "degree_Fahrenheit", "bar": "bar", "mbar": "millibar", "psi": "psi",
    "nF/km": "nanofarad / kilometer", "pF/ft": "picofarad / foot",
    "mH/km": "millihenry / kilometer", "uH/ft": "microhenry / foot",
    "%": "percent", "percent": "percent", "pct": "percent",
}  # fmt: skip
SI_NAMES = PINT_NAMES | {
    "F": "farad", "Hz": "hertz", "W": "watt", "H": "henry", "F/m": "farad / meter",
    "H/m": "henry / meter",
}  # fmt: skip


DIFFERENCES = {
    **dict.fromkeys(("degC", "C"), "delta_degree_Celsius"),
    **dict.fromkeys(("degF", "F"), "delta_degree_Fahrenheit"),
}
"""What pint calls the units of a temperature difference."""


@pytest.mark.parametrize("unit", UNITS)
def test_the_unit_table_agrees_with_pint(unit: str) -> None:
    """pint is a general-purpose library of units; every scale of the table is compared."""
    table, entry = scales_of(unit).exact, UNITS[unit]
    words = PINT_NAMES | (DIFFERENCES if unit == "K" else {})
    theirs = {
        **{pre + name: pre + SI_NAMES[unit] for pre in ["", *entry.prefixes]
           for name in entry.names},
        **{name: words[name] for name, _ in entry.others},
    }  # fmt: skip
    bare = {"", *entry.prefixes} if entry.bare else {""}
    assert set(table) == set(theirs) | bare
    for name, pint_name in theirs.items():
        number = registry().Quantity(7.0, pint_name).to(SI_NAMES[unit]).magnitude
        assert parse_quantity(f"7 {name}", unit) == pytest.approx(number, rel=1e-9), name


def test_the_registry_converts_pressure() -> None:
    """1 psi = 6.894 757 kPa: NIST SP 811 (2008), appendix B.8."""
    assert registry() is registry()
    converted = registry().Quantity(1.0, "psi").to("kPa").magnitude
    assert converted == pytest.approx(6.894757, abs=5e-7)


def test_text_is_read_without_pint() -> None:
    """pint costs a tenth of a second at every start, so nothing loads it before it is asked for."""
    code = (
        "import sys; from diagnose.quantities import parse_quantity as p;"
        "p('4k7', 'ohm'); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (3.02, "V", "3.020 V"), (24.0, "V", "24.00 V"), (0.088, "V", "88.0 mV"),
        (0.99996, "V", "1.000 V"), (0.0, "V", "0.000 V"), (-1e-9, "V", "0.0 mV"),
        (-0.0, "V", "0.000 V"), (-3.02, "V", "-3.020 V"),
        (0.00803, "A", "8.03 mA"), (0.012, "A", "12.00 mA"), (-1e-9, "A", "0.00 mA"),
        (1.5, "A", "1.500 A"),
        (1200.0, "ohm", "1.200 kohm"), (250.0, "ohm", "250.0 ohm"), (999.97, "ohm", "1.000 kohm"),
        (0.05, "ohm", "0.050 ohm"), (1e11, "ohm", "100.0 Gohm"), (math.inf, "ohm", "OL"),
        (0.45, "1", "45.0 %"), (-1e-6, "1", "0.0 %"), (math.nan, "V", "no value"),
        (25.0, "degC", "25.0 degC"), (1e5, "Pa", "100.0 kPa"), (0.75e-6, "m2", "0.750 mm2"),
        (120.0, "m", "120.0 m"),
    ],
)  # fmt: skip
def test_values_are_written_as_a_meter_shows_them(value: float, unit: str, text: str) -> None:
    """A 6000-count display and the units of its front (common practice, no source)."""
    assert format_quantity(value, unit) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (12e3, "V", "12.00 kV"), (2.5e-6, "S", "2.500 uS"), (3.2e-9, "S", "3.200 nS"),
        (83e-9, "F", "83.00 nF"), (150e-12, "F", "150.0 pF"), (4.7e-6, "F", "4.700 uF"),
        (4.2e-3, "H", "4.200 mH"), (1.5e-6, "H", "1.500 uH"), (0.65, "W", "650.0 mW"),
        (2.5, "W", "2.500 W"), (2.5e5, "Pa", "250.0 kPa"), (2.5e6, "Pa", "2.500 MPa"),
        (0.012, "m", "12.00 mm"), (1200.0, "m", "1.200 km"), (0.0, "A", "0.00 mA"),
        (12.34, "ohm", "12.3 ohm"), (5e-6, "A", "0.01 mA"),
        (0.99999, "A", "1.000 A"), (21.37, "degC", "21.4 degC"), (0.4567, "1", "45.7 %"),
        (4106.0, "Pa", "4.1 kPa"), (60564.0, "Pa", "60.6 kPa"), (649.1, "Pa", "649.1 Pa"),
        (-math.inf, "V", "OL"), (4.7e6, "ohm", "4.700 Mohm"), (2e-5, "V", "0.0 mV"),
    ],
)  # fmt: skip
def test_prefixes_are_those_of_the_trade(value: float, unit: str, text: str) -> None:
    """SI prefixes by the table of the SI brochure; a meter ends at mA, mV and tenths of an ohm, and
    shows no current as 0.00 mA (common practice, no source).
    """
    assert format_quantity(value, unit) == text


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("-273.15 degC", "degC", -273.15), ("0 K", "degC", -273.15), ("5000 degC", "degC", 5000.0),
     ("10 kA", "A", None), ("10000 A", "A", 10000.0), ("-10000 A", "A", -10000.0)],
)  # fmt: skip
def test_a_bound_is_within(text: str, unit: str, value: float | None) -> None:
    """Absolute zero can be written; a thousand amperes has no prefix here."""
    if value is None:
        with pytest.raises(QuantityError, match="no unit of current"):
            parse_quantity(text, unit)
    else:
        assert parse_quantity(text, unit) == value


@pytest.mark.parametrize(
    ("text", "number"),
    [("1", 1), ("20", 20), ("7", 7), ("007", 7), ("0", None), ("21", None), ("", None),
     ("-1", None), ("2.0", None), (" 2", None), ("\u00b2", None), ("\u0663", None),
     ("9" * 5000, None)],
)  # fmt: skip
def test_a_whole_number_is_within_its_bounds(text: str, number: int | None) -> None:
    assert whole_number(text, 1, 20) == number


def test_typographic_signs_become_plain_ones() -> None:
    """Unicode names them: plus-minus, en and figure dash, narrow blanks, ohm, micro, degree."""
    assert plain("24\u202fV\u2009\u00b1\u00a05") == "24 V +- 5"
    assert plain("\u2013 \u2012 \u2212 \u2126 \u03a9") == "- - - ohm ohm"
    assert plain("\u00b5 \u03bc \u00b0C m\u00b2") == "u u degC m2"


def test_a_long_or_unprintable_text_is_shown_short() -> None:
    assert shown("x" * 40) == f"'{'x' * 40}'"
    assert shown("x" * 41) == f"'{'x' * 37}...'"
    assert shown("a\x1b[2J") == r"'a\x1b[2J'"


@pytest.mark.parametrize(
    ("suffix", "unit", "number", "value"),
    [("kPa", "Pa", 2.0, 2000.0), ("mm", "m", 1800.0, 1.8), ("degF", "degC", 212.0, 100.0),
     ("K", "degC", 273.15, 0.0), ("bar", "Pa", 1.0, 1e5), ("mV", "V", 88.0, 0.088)],
)  # fmt: skip
def test_a_unit_that_is_written_out_is_found(
    suffix: str, unit: str, number: float, value: float
) -> None:
    """Water boils at 212 degrees Fahrenheit and freezes at 273.15 K."""
    found = find_unit(suffix)
    assert found and found[0] == unit
    assert si(number, found[1]) == pytest.approx(value, abs=1e-12)


@pytest.mark.parametrize("suffix", ["", "%", "k", "M", "u", "apples", "percent"])
def test_a_prefix_alone_or_a_share_is_no_unit_that_is_written_out(suffix: str) -> None:
    assert find_unit(suffix) is None


@given(
    value=st.floats(1e-4, 9e5) | st.floats(-9e5, -1e-4),
    unit=st.sampled_from(["V", "ohm", "Pa", "m"]),
)
def test_what_is_written_reads_back(value: float, unit: str) -> None:
    """To half of the last written digit, and never as minus zero."""
    text = format_quantity(value, unit)
    number = re.match(r"-?[0-9]+\.?([0-9]*)", text)
    assert number
    digit = parse_quantity(f"1{text[number.end() :]}", unit) / 10 ** len(number[1])
    assert parse_quantity(text, unit) == pytest.approx(value, abs=0.5001 * digit)
    assert text.isascii()
    assert not re.match(r"-0\.?0* ", text)


def test_a_number_keeps_its_unit_as_typed() -> None:
    assert parse_number("7,5 m3/h") == (7.5, "m3/h")
    assert parse_number("-3") == (-3.0, "")
    with pytest.raises(QuantityError, match="far too large"):
        parse_number("1e999")
    with pytest.raises(QuantityError, match="at most"):
        parse_number("1" * (LONGEST + 1))
