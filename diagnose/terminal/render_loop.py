"""The rows of a loop as lines of any width: due, read, and where they part."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from diagnose.inference.due import AS_DUE, Basis, Due
from diagnose.inference.reading_text import shown_text
from diagnose.inference.readings import describe
from diagnose.loops.loop import Loop, Part
from diagnose.loops.states import STATES
from diagnose.quantities import format_quantity
from diagnose.terminal.loop_rows import HEAD, PART, PARTS_HERE, PLACE, POINT, READ, Row, Seen
from diagnose.terminal.naming import place_title
from diagnose.terminal.outcome import Look
from diagnose.terminal.wording import count, percent, span

NAME, DUE = 14, 20
"""Columns of a terminal's name and of what is due."""

NARROW = 0.06
"""Width of a band against its middle up to which the middle says enough."""

NOTHING = 0.005
"""Volts up to which a point has none, if its band holds zero: a thermocouple has not many more."""


def heading(loop: Loop, known: Basis, wrong: int, many: int) -> str:
    """What the drawing is told at, and how the readings stand to it."""
    what, on, off = ("it", "on", "off") if "output" in loop.role else ("process", "high", "low")
    if not known.known:
        at = f"with {what} {on} or {off}" if loop.states else "at 0 to 100 %"
    elif loop.states:
        at = f"with {what} {on if known.middle else off}, {known.source}"
    else:
        at = f"at {format_quantity(known.middle, '1', 3)}, {known.source}"
    told = f"{wrong} of {count(many, 'reading')} not as due" if wrong else "due"
    told = told if wrong or not many else "all readings as due"
    return f"loop: {told} {at}; volts to {loop.reference}"


def loop_lines(rows: Sequence[Row], loop: Loop, look: Look) -> Iterator[str]:
    """One line for each row, none wider than the screen: of what a row tells, what fits."""
    for row in rows:
        told = list(_TEXTS[row.sort](row, loop))
        text = next((text for text in told if len(text) <= look.width), told[-1])
        yield _styled(row, _cut(text, look.width), look)


def _styled(row: Row, text: str, look: Look) -> str:
    if row.sort in (PLACE, PARTS_HERE) or row.next:
        return look.strong(text)
    if row.seen is not None and row.seen.verdict not in ("", AS_DUE):
        return look.warning(text)
    return look.faint(text) if row.sort == HEAD else text


def _cut(text: str, width: int) -> str:
    """A line that fits, cut between words."""
    return text if len(text) <= width else f"{text[: width - 2].rsplit(' ', 1)[0]} .."


def _head(row: Row, loop: Loop) -> Iterator[str]:
    if len(row.names) == 2:
        yield f"branch from {row.names[0]} to {row.names[1]}"
    else:
        yield row.names[0] if row.names else "beside the wires"


def _place(row: Row, loop: Loop) -> Iterator[str]:
    here = ", you are here" if row.next else ""
    yield f"[{place_title(row.names[0], loop)}{here}]"
    yield f"[{row.names[0]}{here}]"


def _parting(row: Row, loop: Loop) -> Iterator[str]:
    was, now = (name if name == AS_DUE else f"reads {name}" for name in row.names)
    yield f"~~~~ they part here: {was} above, {now} below ~~~~"
    yield f"~ parts here: {was} above, {now} below"


def _point(row: Row, loop: Loop) -> Iterator[str]:
    head = f"{'>' if row.next else ' '} o {row.names[0]:<{NAME}}"
    due = f"due {due_text(row.due)}" if row.due else ""
    due = "volts count from here" if row.names[0] == loop.reference else due
    read = _taken(row.seen, loop) if row.seen else ""
    yield f"{head} {due:<{DUE}} {read}".rstrip()
    yield f"{head.rstrip()} {due} {read}".rstrip()
    yield f"{head.rstrip()} {read or due}".rstrip()


def _part(row: Row, loop: Loop) -> Iterator[str]:
    mark = f"{'>' if row.next else ' '} | "
    parts = [loop.part(name) for name in row.names]
    if len(parts) > 1:
        yield mark + ", ".join(row.names)
        yield f"{mark}{row.names[0]} .. {row.names[-1]}"
        return
    part = parts[0]
    suspect = f"<- {percent(row.suspect[0])} {row.suspect[1]}" if row.suspect else ""
    due = f"due {due_text(row.due)}" if row.due else ""
    read = _by(row.seen) + _taken(row.seen, loop) if row.seen else ""
    if part.kind.shows is not None:
        yield f"{mark}{part.name:<{NAME}} {due:<{DUE}} {read} {suspect} {_title(part)}".rstrip()
        yield f"{mark}{part.name:<{NAME}} {due:<{DUE}} {read} {suspect}".rstrip()
    else:
        yield " ".join(filter(None, (f"{mark}{part.name}, {_title(part)}", due, read, suspect)))
    yield " ".join(filter(None, (f"{mark}{part.name}", due, read, suspect)))
    yield " ".join(filter(None, (f"{mark}{part.name}", read or due, suspect)))
    yield " ".join(filter(None, (f"{mark}{part.name}", read or suspect)))


def _by(seen: Seen) -> str:
    """The meter function, where a part was not read off but measured."""
    function = seen.reading.measurement.function
    return "" if function == "shows" else f"{function} "


def _read(row: Row, loop: Loop) -> Iterator[str]:
    """A reading that is not volts to the reference: what it is of stands before it."""
    if row.seen is None:
        return
    what = describe(row.seen.reading.measurement, loop)
    due = f" due {due_text(row.due)}" if row.due else ""
    read = _taken(row.seen, loop)
    yield f"      {what}:{due} {read}"
    yield f"    {what}: {read}"


def _taken(seen: Seen, loop: Loop) -> str:
    """``read 3.12 V (2) LOW``: value, number of the reading, how it stands to what is due."""
    doubt = ", distrusted" if seen.doubted else ""
    return f"read {shown_text(seen.reading, loop)} ({seen.number}{doubt}) {seen.verdict}".rstrip()


def due_text(due: Due) -> str:
    """The middle where the band is narrow, else its ends."""
    if due.unit in STATES:
        states = STATES[due.unit]
        return states.word(due.value) if due.low == due.high else states.either
    near = -10 * NOTHING <= due.low <= 0 <= due.high <= 10 * NOTHING
    if due.unit == "V" and near and abs(due.value) <= NOTHING:
        return "0 V"
    if due.high - due.low <= NARROW * abs(due.value) or (
        due.unit == "1" and due.high - due.low < 0.1
    ):
        return format_quantity(due.value, due.unit, 4 if due.unit != "1" else 3)
    return span(due.low, due.high, due.unit)


def _title(part: Part) -> str:
    return part.title or part.kind.title


_TEXTS: dict[str, Callable[[Row, Loop], Iterator[str]]] = {
    HEAD: _head, PLACE: _place, PARTS_HERE: _parting, POINT: _point, PART: _part, READ: _read,
}  # fmt: skip
