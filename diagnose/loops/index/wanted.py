"""What the sheet of one loop is to say, from the cells of its row."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from diagnose.errors import DiagnoseError, QuantityError
from diagnose.loops.assemble import ROLES as LOOP_ROLES
from diagnose.loops.index.cells import area_text, name_text, number_text, quantity_text, range_texts
from diagnose.loops.index.fields import field_of
from diagnose.loops.index.roles import ROLES, Roles
from diagnose.loops.index.rows import PROBLEM, READ_AS, UNUSED
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import LONGEST_TEXT
from diagnose.quantities import find_unit, parse_number, parse_quantity, si

Say = Callable[[str, str, str], None]
"""Field, kind, sentence: what is said of the row."""


class RowError(DiagnoseError):
    """A cell without which a row makes no sheet."""

    def __init__(self, field_: str, reason: str) -> None:
        self.field, self.reason = field_, reason
        super().__init__(reason)


@dataclass(slots=True)
class Wanted:
    """A sheet as it is to be: keys of ``[loop]``, renamings, places, values of parts, neighbours.

    ``values`` are by the names that the loop type has; ``silent`` are the fields that the index
    could have told and did not; ``named`` are the names that it gave, by field.
    """

    loop: dict[str, str | list[str]]
    rename: dict[str, str] = field(default_factory=dict)
    places: dict[str, dict[str, str]] = field(default_factory=dict)
    values: dict[str, dict[str, str]] = field(default_factory=dict)
    neighbours: dict[str, tuple[list[str], str]] = field(default_factory=dict)
    silent: list[str] = field(default_factory=list)
    named: dict[str, str] = field(default_factory=dict)

    @property
    def tag(self) -> str:
        """The tag of the loop."""
        return str(self.loop["tag"])

    @property
    def type(self) -> str:
        """Its loop type."""
        return str(self.loop["type"])


_PARTLY = (
    "device", "gauge", "recorder", "trip", "logger", "supply", "card", "strip", "branch", "box",
    "branch_length", "lift_off", "sense", "coil", "set_point",
)  # fmt: skip
"""Fields that some loop types have no use for."""


def want(
    cells: Mapping[str, str], loop_type: str, mark: str, units: Mapping[str, str], say: Say
) -> Wanted:
    """What the sheet is to say; what is assumed or wrong is said through ``say``.

    ``cells`` are clean; ``mark`` is the decimal mark of the file, ``units`` those of bare numbers.
    Raises RowError where a vital cell is wrong.
    """
    roles = ROLES.get(loop_type, Roles())
    wanted = Wanted({"tag": cells["tag"]})
    _head(wanted, cells, loop_type, say)
    _range(wanted, cells, roles, mark, say)
    _rename(wanted, cells, roles, say)
    _values(wanted, cells, roles, mark, units, say)
    _set_point(wanted, cells, roles, mark)
    _places(wanted, cells, roles, say)
    told = {*roles.names, *roles.values} - {"tag", "low", "high"}
    wanted.silent = sorted(name for name in told if not cells.get(name))
    for name in _PARTLY:
        if cells.get(name) and name not in told:
            say(name, UNUSED, f"a {loop_type} has none")
    return wanted


def _head(wanted: Wanted, cells: Mapping[str, str], loop_type: str, say: Say) -> None:
    service = cells.get("service", "")
    if len(service) > LONGEST_TEXT:
        say("service", PROBLEM, f"it is longer than {LONGEST_TEXT} characters and was cut")
        service = service[:LONGEST_TEXT].rstrip()
    if service:
        wanted.loop["service"] = service
    wanted.loop["type"] = loop_type
    words = cells.get("role", "").casefold().replace(",", " ").replace("+", " ").split()
    unknown = [word for word in words if word not in LOOP_ROLES]
    if unknown:
        say("role", PROBLEM, f"'{shown(unknown[0])}' is no role; write {', '.join(LOOP_ROLES)}")
    elif words:
        wanted.loop["role"] = words


def _range(wanted: Wanted, cells: Mapping[str, str], roles: Roles, mark: str, say: Say) -> None:
    low, high, unit, both = (cells.get(name, "") for name in ("low", "high", "unit", "range"))
    field_ = "range" if both and not (low and high) else "high"
    if not roles.ranged:
        if low or high or both:
            say(field_, UNUSED, f"the range of a {wanted.type} is 0 to 100 %")
        return
    try:
        ends = range_texts(low, high, unit, both, mark)
    except QuantityError as error:
        raise RowError(field_, str(error)) from error
    if ends is None:
        return
    wanted.loop["range"] = list(ends)
    if "low" in roles.values:
        for name, end in zip(("low", "high"), ends, strict=True):
            try:
                parse_quantity(end, "degC")
            except QuantityError as error:
                raise RowError(field_, str(error)) from error
            for part, key in roles.values[name]:
                wanted.values.setdefault(part, {})[key] = end


def _rename(wanted: Wanted, cells: Mapping[str, str], roles: Roles, say: Say) -> None:
    """Names of the plant for those of the loop type; no name is given to two things."""
    given = dict(cells)
    if "tag" not in roles.names and not given.get("device"):
        given["device"] = given["tag"]
    taken: dict[str, str] = {}
    for name, targets in roles.names.items():
        if not given.get(name):
            continue
        try:
            new = name_text(given[name], name)
        except ValueError as error:
            say(name, PROBLEM, f"{error}; the name of the loop type is kept")
            continue
        if new in taken:
            say(name, PROBLEM, f"{new} is the {field_of('index', taken[new]).title} already")
            continue
        taken[new] = name
        wanted.named[name] = new
        wanted.rename |= {old: new + tail for old, tail in targets if old != new + tail}


def make_room(wanted: Wanted, names: Iterable[str], say: Say) -> None:
    """Where the plant gives a name that the loop type has for something else, that is renamed.

    ``names`` are the parts and nodes of the loop type.
    """
    words = {word for name in names for word in re.split(r"[:.]|[+-](?=[:.]|\Z)", name)}
    for new in set(wanted.rename.values()):
        if new in words and new not in wanted.rename:
            other = f"{new}-other"
            wanted.rename[new] = other
            say(
                "",
                READ_AS,
                f"{new} of the loop type is called {other}: {new} is something else here",
            )


def _values(
    wanted: Wanted, cells: Mapping[str, str], roles: Roles, mark: str, units: Mapping[str, str],
    say: Say,
) -> None:  # fmt: skip
    for name, targets in roles.values.items():
        cell = cells.get(name, "")
        if name in ("low", "high", "set_point") or not cell:
            continue
        field_ = field_of("index", name)
        try:
            text = quantity_text(cell, mark, units.get(name, field_.unit), field_.most)
        except QuantityError as error:
            say(name, PROBLEM, f"{error}; the loop type's own is taken")
            continue
        for part, key in targets:
            wanted.values.setdefault(part, {})[key] = text


def _set_point(wanted: Wanted, cells: Mapping[str, str], roles: Roles, mark: str) -> None:
    """A set point in volts, per cent or the unit of the range, as volts of a 1-5 V signal."""
    cell = cells.get("set_point", "")
    if not cell or "set_point" not in roles.values:
        return
    try:
        volts = _volts(number_text(cell, mark), wanted.loop.get("range"))
    except QuantityError as error:
        raise RowError("set_point", str(error)) from error
    if not 1 <= volts <= 5:
        raise RowError("set_point", f"'{shown(cell)}' is outside of the range")
    for part, key in roles.values["set_point"]:
        wanted.values.setdefault(part, {})[key] = f"{volts:.6g} V"


def _volts(text: str, ends: object) -> float:
    number, unit = parse_number(text)
    if unit in ("V", "v"):
        return number
    if unit == "%":
        return 1 + 4 * number / 100
    if not isinstance(ends, list):
        raise QuantityError(text, f"'{shown(text)}' needs a range, or write it in % or V")
    (low, of_range), (high, _) = map(parse_number, ends)
    if unit and unit != of_range:
        one, two = find_unit(unit), find_unit(of_range)
        if one is None or two is None or one[0] != two[0]:
            raise QuantityError(
                text, f"'{shown(text)}' is not in {of_range}, the unit of the range"
            )
        number = (si(number, one[1]) - two[1].offset) / two[1].factor
    return 1 + 4 * (number - low) / (high - low)


def _places(wanted: Wanted, cells: Mapping[str, str], roles: Roles, say: Say) -> None:
    titles = {"cabinet": cells.get("cabinet"), "control room": cells.get("room")}
    box = wanted.rename.get("JB9", wanted.rename.get("JB7", ""))
    if box and "box" in roles.names:
        titles["junction box"] = ", ".join(
            filter(None, (f"junction box {box}", cells.get("box_place")))
        )
    if roles.place:
        titles[roles.place] = cells.get("location")
    for place, title in titles.items():
        if title:
            wanted.places[place] = {"title": title[:LONGEST_TEXT]}
    if cells.get("area") and roles.place:
        try:
            area = area_text(cells["area"])
        except ValueError as error:
            say("area", PROBLEM, f"{error}; the loop type's own is kept")
        else:
            wanted.places.setdefault(roles.place, {})["area"] = area
