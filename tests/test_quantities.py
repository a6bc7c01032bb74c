"""Typed quantities: values by hand, the unit table against pint, hostile text."""

import math
import re
import subprocess
import sys

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from diagnose.errors import QuantityError
from diagnose.quantities import LONGEST, format_quantity, parse_number, parse_quantity, registry
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
    ],
)  # fmt: skip
def test_what_people_type_is_understood(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-15)


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
