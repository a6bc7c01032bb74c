"""Schemas of single texts: names, quantities with their units, words, plain lines.

A pattern takes what the loader takes, in the dialect that JSON Schema shares with Python (ECMA-262
without lookbehind).  Bounds of a quantity are beyond a pattern: they stand in the description.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

from diagnose.loops.conductor_tables import LARGEST, SMALLEST
from diagnose.loops.sheet_text import LONGEST_TEXT
from diagnose.loops.values import EXAMPLES
from diagnose.quantities import INFIX, LONGEST, SAME_AS
from diagnose.unit_table import UNITS, scales_of

Schema = dict[str, Any]

END = "$(?!\\n)"
"""The end of a text; in Python alone, ``$`` takes a line break behind it as well."""


def _also(plain: str) -> str:
    """What may be typed for some ASCII besides itself, as the inside of a set."""
    return "".join(f"\\u{ord(sign):04x}" for sign, meant in SAME_AS.items() if meant == plain)


BLANK = f"[ {_also(' ')}]"
_SIGN = f"[+\\-{_also('-')}]"
_DIGITS = "(?:[0-9]{1,15}(?:[.,][0-9]{0,15})?|[.,][0-9]{1,15})"
_THOUSANDS = "(?:[1-9][0-9]{0,2},[0-9]{3})(?![0-9])"
_SIGNS = {plain: _also(plain) for plain in ("u", "2", "ohm", "deg")}
"""What may be typed for letters of a unit besides themselves."""


def line(meaning: str = "", empty: bool = True, example: str = "") -> Schema:
    """One line of plain text."""
    found: Schema = {"type": "string", "maxLength": LONGEST_TEXT, "pattern": _printable(empty)}
    return _told(found, meaning, [example] if example else [])


def _printable(empty: bool) -> str:
    plain = "[^\\u0000-\\u001f\\u007f-\\u00a0]"
    visible = "[^\\u0000-\\u0020\\u007f-\\u00a0]"
    return f"^{plain}*{END}" if empty else f"^{plain}*{visible}{plain}*{END}"


def named(pattern: re.Pattern[str], meaning: str = "", example: str = "") -> Schema:
    """A name that follows one of the rules for names."""
    text = pattern.pattern.replace("\\Z", END)
    return _told({"type": "string", "pattern": f"^{text}"}, meaning, [example] if example else [])


def one_of(words: Iterable[str], meaning: str = "") -> Schema:
    """One of some words, as written."""
    return _told({"enum": list(words)}, meaning, [])


def word(words: Iterable[str], meaning: str = "") -> Schema:
    """One of some words, in any capitals and with blanks around it."""
    known = list(words)
    either = "|".join(_spelled(name, "any") for name in known)
    return _told({"type": "string", "pattern": f"^\\s*(?:{either})\\s*{END}"}, meaning, known)


def quantity(unit: str, meaning: str = "", bare: bool = False, example: str = "") -> Schema:
    """Text with a number and a unit of the table; ``bare``: the unit may lack."""
    example = example or EXAMPLES[unit]
    return _told({"$ref": _place("bare" if bare else "quantity", unit)}, meaning, [example])


def tolerance(unit: str, relative: bool) -> Schema:
    """A limit of error: a share, or a quantity of the unit (of a temperature, a difference)."""
    if unit == "1" and not relative:
        return {"$ref": _place("percent", "1")}
    return {"$ref": _place("limit", "K" if unit == "degC" else unit)}


def area(meaning: str) -> Schema:
    """A cross-section, or the number of a gauge."""
    return _told({"$ref": "#/$defs/area"}, meaning, ["0.75 mm2", "AWG 18"])


def definitions() -> Schema:
    """What the texts above refer to."""
    found: Schema = {"area": _area()}
    for unit in UNITS:
        usual = quantity_pattern(unit, unit == "1")
        share = quantity_pattern("1", False)
        found[_key("quantity", unit)] = _text(usual)
        found[_key("bare", unit)] = _text(quantity_pattern(unit, True))
        found[_key("limit", unit)] = _text(usual, share)
    found[_key("percent", "1")] = _text(quantity_pattern("1", False))
    return found


def end_of_range() -> Schema:
    """A number with any unit, as one end of a range is written."""
    unit = "[A-Za-z%][A-Za-z0-9%/]{0,15}(?: ?(?:DC|AC|dc|ac))?"
    signs = f"[A-Za-z0-9%/{''.join(_SIGNS.values())}]"
    either = f"(?:{unit}|{signs}{{1,20}})"
    return _text(f"^{BLANK}*{_number()}{BLANK}*{either}{BLANK}*{END}")


def _number() -> str:
    power = f"(?:[eE]{_SIGN}?[0-9]{{1,4}})?"
    return f"{_SIGN}? ?(?!{_THOUSANDS}){_DIGITS}{power}"


def _key(form: str, unit: str) -> str:
    return f"{form}_{'share' if unit == '1' else unit.replace('/', '_per_')}"


def _place(form: str, unit: str) -> str:
    return f"#/$defs/{_key(form, unit)}"


def _text(*patterns: str) -> Schema:
    found: Schema = {"type": "string", "maxLength": LONGEST}
    some = [{"pattern": pattern} for pattern in dict.fromkeys(patterns)]
    return {**found, **(some[0] if len(some) == 1 else {"anyOf": some})}


def _area() -> Schema:
    numbers = "|".join(str(number) for number in range(LARGEST, SMALLEST + 1))
    letters = _spelled("AWG", "any")
    gauge = f"^\\s*(?:{letters}\\s*0?(?:{numbers})|0?(?:{numbers})\\s*{letters})\\s*{END}"
    return _text(quantity_pattern("m2", False), gauge)


def table(properties: Schema, required: Sequence[str] = ()) -> Schema:
    """A table with these keys and no others."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(required),
        "additionalProperties": False,
    }


def _told(schema: Schema, meaning: str, examples: list[str]) -> Schema:
    more: Schema = {"description": meaning} if meaning else {}
    return {**schema, **more, **({"examples": examples} if examples else {})}


@cache
def quantity_pattern(unit: str, bare: bool) -> str:
    """What `parse_quantity` reads for a unit, as a pattern."""
    scales = scales_of(unit)
    suffixes = {
        *(_spelled(name, "") for name in scales.exact if name),
        *(_spelled(name[0], "") + _spelled(name[1:], "any") for name in scales.first if name),
        *(_spelled(name, "any") for name in scales.folded if name),
    }
    either = "|".join(sorted(suffixes, key=lambda text: (-len(text), text)))
    ways = [f"{_number()}{BLANK}*(?:{either}){'?' if bare else ''}"]
    if unit in INFIX:
        marks = INFIX[unit].replace("u", "u" + _SIGNS["u"])
        ohms = _SIGNS["ohm"]
        ways.append(f"{_SIGN}?[0-9]{{1,9}}[{marks}][0-9]{{1,9}}[A-Za-z{ohms}]{{0,4}}")
    return f"^{BLANK}*(?:{'|'.join(ways)}){BLANK}*{END}"


def _spelled(text: str, case: str) -> str:
    """A unit or word as a pattern, in its own capitals or in any, with the signs for its letters.

    The kind of current may stand apart: ``24 V DC``.
    """
    stem, current = text, ""
    if len(text) > 2 and text[-2:].casefold() in ("dc", "ac"):
        stem, current = text[:-2], " ?" + "".join(_letter(c, case) for c in text[-2:])
    pieces = re.findall("ohm|deg|.", stem)
    return "".join(_piece(piece, case) for piece in pieces) + current


def _piece(piece: str, case: str) -> str:
    plain = "".join(_letter(c, case) for c in piece)
    signs = _SIGNS.get(piece)
    if signs is None:
        return plain
    if len(piece) > 1:
        return f"(?:{plain}|[{signs}])"
    return f"[{plain.strip('[]')}{signs}]"


def _letter(sign: str, case: str) -> str:
    if case and sign.isalpha():
        return f"[{sign.upper()}{sign.lower()}]"
    return f"\\{sign}" if sign in "\\^$.|?*+()[]{}" else sign
