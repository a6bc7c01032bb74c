"""One cell of an index: blank or not, a name, a quantity, a range, an area."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from diagnose.errors import QuantityError
from diagnose.loops.index.tables import Exact
from diagnose.loops.names import NAME, name_fault, shown
from diagnose.quantities import find_scale, find_unit, parse_number, parse_quantity, plain, si

BLANK = {"", "-", "--", "---", "n/a", "na", "n.a.", "none", "nil", "tbd", "tba", "?", "??"}
"""What stands in a cell that says nothing (common practice, no source)."""

POINT, COMMA, EITHER = "point", "comma", "either"
"""Which decimal mark a file uses; ``either``: both stand in it, or neither."""

_HYPHENS = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2212\u2043\ufe63\uff0d", "-"))
_NUMBER = re.compile(r"[+-]?\d{1,3}(?:[.,' ]\d{3})+(?:[.,]\d+)?|[+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+")
_RANGE = re.compile(
    rf"\s*(?P<low>{_NUMBER.pattern})\s*(?P<unit>[^\d\s.,;:-][^\s\d]*[23]?(?:/\S+?)?)?\s*"
    rf"(?:\bto\b|\.{{2,3}}|\u2026|-|/|;|:)\s*(?P<high>{_NUMBER.pattern})\s*(?P<last>\S.*?)?\s*"
)
_GAUGE = re.compile(r"(?:awg|ga|gauge)\s*#?\s*(\d{1,2})|#?\s*(\d{1,2})\s*(?:awg|ga)", re.IGNORECASE)
_TIMES = re.compile(r"(?:\d+\s*(?:prs?\b|pairs?\b|x|\u00d7|\*)\s*(?:(?:x|\u00d7|\*)\s*)?)+", re.I)


def cleaned(cell: str) -> str:
    """A cell on one line, printable, without blanks around; empty where it says nothing."""
    if isinstance(cell, Exact):
        return cell
    text = unicodedata.normalize("NFKC", cell).translate(_HYPHENS)
    text = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return "" if text.casefold() in BLANK else text


def habit(cells: Iterable[str]) -> str:
    """The decimal mark of a file, by the numbers that can be read in one way only."""
    comma = point = False
    for cell in cells:
        if isinstance(cell, Exact):
            continue
        for found in _NUMBER.findall(cell):
            digits = found.lstrip("+-")
            comma |= bool(re.fullmatch(r"\d*,(?!\d{3}$)\d+|\d{1,3}(?:\.\d{3})+,\d+", digits))
            point |= bool(re.fullmatch(r"\d*\.(?!\d{3}$)\d+|\d{1,3}(?:,\d{3})+\.\d+", digits))
    return EITHER if comma == point else COMMA if comma else POINT


def number_text(text: str, mark: str) -> str:
    """A text with its number written with a point and without groups.

    ``1.250,5 m`` is ``1250.5 m``.  A number that two readers would read in two ways raises
    QuantityError, unless the rest of the file tells which mark it uses.
    """
    if isinstance(text, Exact):
        return str(text)
    text = plain(text)
    found = _NUMBER.search(text)
    if not found:
        return text
    digits = found[0]
    kept = _point(digits, mark)
    if kept is None:
        both = " or ".join((re.sub(r"[.,' ]", "", digits), digits.replace(",", ".")))
        raise QuantityError(text, f"'{shown(text)}' can mean {both}: write one of them")
    return text[: found.start()] + kept + text[found.end() :]


def _point(digits: str, mark: str) -> str | None:
    """A number with a point as its decimal mark; None where it can be read in two ways."""
    tail = re.search(r"[.,](\d+)\Z", digits)
    marks = set(re.findall(r"[.,]", digits))
    if len(marks) == 2 and tail:  # the last one is the decimal mark
        return f"{re.sub(r'[^0-9+-]', '', digits[: tail.start()])}.{tail[1]}"
    if not tail or len(re.findall(r"[.,]", digits)) > 1:
        return re.sub(r"[^0-9+-]", "", digits)
    grouped = re.fullmatch(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", digits)
    sign = {".": POINT, ",": COMMA}[digits[tail.start()]]
    if not grouped or mark == sign:
        return re.sub(r"[' ]", "", digits).replace(",", ".")
    return None if mark == EITHER else re.sub(r"[.,]", "", digits)


def quantity_text(cell: str, mark: str, unit: str, most: float = 0.0) -> str:
    """A quantity as a sheet holds it, ``120 m``; a number without a unit counts in ``unit``.

    Raises QuantityError: no quantity, another unit, or more than ``most`` of ``unit``.
    """
    text = _TIMES.sub("", cell, count=1) if unit == "mm2" else cell
    gauge = _GAUGE.fullmatch(text.strip()) if unit == "mm2" else None
    if gauge:
        return f"AWG {gauge[1] or gauge[2]}"
    text = _squeezed(number_text(text, mark))
    number, suffix = parse_number(text)
    base = _base(unit)
    value = parse_quantity(text if suffix else f"{number:.12g} {unit}", base)
    limit = most * parse_quantity(f"1 {unit}", base)
    if value < 0 or (most and value > limit):
        raise QuantityError(text, f"'{shown(cell)}' is not between 0 and {most:g} {unit}")
    return f"{number:.12g} {suffix or unit}"


def _base(unit: str) -> str:
    found = find_unit(unit)
    return found[0] if found else unit


def known_unit(unit: str, base: str) -> bool:
    """Whether a text is a unit of the quantity that ``base`` is a unit of."""
    return bool(unit) and find_scale(plain(unit).strip(), _base(base)) is not None


def _squeezed(text: str) -> str:
    """Units that are written with blanks: ``deg C``, ``mm 2``."""
    text = re.sub(r"\b(?:deg|Grad)\.? *(C|F)\b", r"deg\1", text)
    return re.sub(r"\bsq\.? *mm\b|\bmm *\^? *2\b|\bqmm\b", "mm2", text)


def range_texts(low: str, high: str, unit: str, both: str, mark: str) -> tuple[str, str] | None:
    """Both ends of a range with one unit; None where nothing is said.

    ``both`` is a range in one cell.  Raises QuantityError.
    """
    if both and not (low and high):
        found = _RANGE.fullmatch(_squeezed(plain(both)))
        if not found:
            raise QuantityError(both, f"'{shown(both)}' is no range; write 0-1800 mm")
        low = f"{found['low']} {found['unit'] or ''}"
        high, unit = f"{found['high']} {found['last'] or ''}", unit or ""
    if not low.strip() and not high.strip():
        return None
    if not low.strip() or not high.strip():
        raise QuantityError(low or high, "one end of the range is missing")
    ends = [parse_number(_squeezed(number_text(text.strip(), mark))) for text in (low, high)]
    return _one_unit(ends, _squeezed(plain(unit)).replace(" ", ""))


def _one_unit(ends: list[tuple[float, str]], unit: str) -> tuple[str, str]:
    (low, first), (high, last) = ends
    unit = _usual(last or unit or first)
    first = _usual(first or unit)
    if not unit and (low, high) == (0, 100):
        unit = first = "%"
    if unit == "mA":
        raise QuantityError("", f"{low:g}-{high:g} mA is the signal; write what it stands for")
    if not unit:
        raise QuantityError("", f"the range {low:g} to {high:g} has no unit")
    if first != unit:
        low = _converted(low, first, unit)
    if low == high:
        raise QuantityError("", f"both ends of the range are {low:g} {unit}")
    return f"{low:.12g} {unit}", f"{high:.12g} {unit}"


def _usual(unit: str) -> str:
    return {"C": "degC", "F": "degF", "\u2103": "degC"}.get(unit, unit)


def _converted(value: float, unit: str, other: str) -> float:
    """A number of one unit in another of the same quantity."""
    one, two = find_unit(unit), find_unit(other)
    if one is None or two is None or one[0] != two[0]:
        raise QuantityError("", f"the ends of the range are in {shown(unit)} and {shown(other)}")
    return float(f"{(si(value, one[1]) - two[1].offset) / two[1].factor:.12g}")


AREAS = {
    "safe": "safe", "safe area": "safe", "non hazardous": "safe", "unclassified": "safe",
    "non ex": "safe", "nh": "safe", "ordinary": "safe",
}  # fmt: skip
_ZONE = re.compile(r"(?:ex )?(?:zone|z)? ?(0|1|2|20|21|22)\Z")


def area_text(cell: str) -> str:
    """``Zone1``, ``Z 1`` or ``zone 1`` as a sheet holds it; ValueError if it is none."""
    word = " ".join(re.sub(r"[-_.]", " ", cell.casefold()).split())
    found = _ZONE.match(word)
    if found:
        return f"zone {found[1]}"
    if word not in AREAS:
        raise ValueError(f"'{shown(cell)}' is no area; write safe, zone 0, 1, 2, 20, 21 or 22")
    return AREAS[word]


LETTERS = {"cable": "W", "branch": "W", "supply": "G", "card": "A", "strip": "X", "box": "JB"}
"""Letters for what an index calls by a number alone: the classes of IEC 81346-2, and JB."""


def name_text(cell: str, field: str = "") -> str:
    """A cell as a name of a sheet: blanks become hyphens, a bare number gets its letter.

    Raises ValueError with the sentence.
    """
    name = re.sub(r"\s*([-:+._])\s*|\s+", lambda found: found[1] or "-", cell)
    if field in LETTERS and name.isdigit():
        name = LETTERS[field] + name
    fault = name_fault(NAME, name)
    if fault:
        raise ValueError(fault)
    return name
