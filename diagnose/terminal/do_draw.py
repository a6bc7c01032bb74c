"""``draw``: the loop as it runs, with what is expected, what was read and what is suspected."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from diagnose.circuit.drawing import Marks, drawing
from diagnose.circuit.figure import Figure
from diagnose.circuit.figure import written as text_figure
from diagnose.circuit.store import topology
from diagnose.circuit.strands import Strand, Strands, strands
from diagnose.errors import DiagnoseError
from diagnose.inference.measurement import Reading
from diagnose.loops.loop import Loop
from diagnose.loops.plant import Plant
from diagnose.quantities import format_quantity
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.as_json import Json, scaled
from diagnose.terminal.find_changes import at
from diagnose.terminal.find_evidence import evidence
from diagnose.terminal.find_loop import find_loop, meter_of, plant_of
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.render_drawing import render

if TYPE_CHECKING:
    from diagnose.casework.log import CaseFile
    from diagnose.inference.due import Basis
    from diagnose.inference.meters import Meter
    from diagnose.inference.ranking import Ranking


@dataclass(frozen=True)
class Drawn:
    """What is to be drawn: a loop, a process value, readings by number, what is believed."""

    loop: Loop
    meter: Meter
    known: Basis
    readings: Mapping[int, Reading] = field(default_factory=dict)
    ranking: Ranking | None = None
    cause: tuple[str, str] | None = None

    def marks(self) -> Marks:
        """What is written into the drawing."""
        from diagnose.inference.drawing_marks import marks_of

        return marks_of(self.loop, self.meter, self.known, self.readings, self.ranking, self.cause)

    @property
    def title(self) -> str:
        """Tag and process value."""
        tag, at = self.loop.tag, format_quantity(self.known.middle, "1")
        return f"{tag} drawn at {at}" + (f": {self.loop.service}" if self.loop.service else "")


def draw(arguments: Namespace) -> Outcome:
    """Draw a loop on the screen, or into a file of SVG or HTML."""
    plant = plant_of(arguments)
    drawn = _of_case(arguments, plant) if arguments.case else _of_loop(arguments, plant)
    marks = drawn.marks()
    written = write(drawn, marks, arguments.svg, arguments.html)
    found = strands(drawn.loop, topology(drawn.loop), marks.suspected)
    data = {**as_json(drawn, found, marks), "written": written}

    def lines(look: Look) -> Iterator[str]:
        if written:
            yield from (f"Written: {name}" for name in written)
        else:
            yield from render(drawn.loop, drawn.title, found, marks, look)

    return Outcome(data, lines)


def write(drawn: Drawn, marks: Marks, svg: str | None, html: str | None) -> list[str]:
    """Write the drawing to the files that are named; their names."""
    if not (svg or html):
        return []
    from diagnose.terminal.drawing_page import MARK, drawing_page
    from diagnose.terminal.svg import picture
    from diagnose.terminal.write_file import write_file

    figures = drawing(drawn.loop, marks)
    written = []
    if svg:
        whole = picture([*figures, *_notes(drawn.loop)], drawn.title, MARK)
        written.append(str(write_file(svg, whole, MARK)))
    if html:
        written.append(str(write_file(html, drawing_page(drawn.loop, drawn.title, figures), MARK)))
    return written


def _notes(loop: Loop) -> Iterator[Figure]:
    """What a picture needs beside the drawing, where no page is round it."""
    from diagnose.inference.cautions import CAUTIONS, cautions_of
    from diagnose.terminal.html_page import LEGEND

    yield text_figure("How to read it", [LEGEND])
    yield text_figure("Cautions", [CAUTIONS[key].text for key in cautions_of(loop)])


def _of_loop(arguments: Namespace, plant: Plant) -> Drawn:
    if arguments.loop is None:
        raise UsageError("name a loop, or a case with --case")
    loop = find_loop(arguments.loop, plant)
    said = evidence(arguments, loop) if arguments.readings or arguments.file else []
    readings = [item for item in said if isinstance(item, Reading)]
    meter = meter_of(plant, arguments.meter)
    known = _known(arguments.at, loop, readings)
    ranking = None
    if said:
        from diagnose.inference.engine import Engine

        ranking = Engine(loop, meter).rank(said)
    return Drawn(loop, meter, known, dict(enumerate(readings, 1)), ranking)


def _of_case(arguments: Namespace, plant: Plant) -> Drawn:
    from diagnose.casework.log import CaseFile
    from diagnose.terminal.do_cases import find_case, ranking_of

    if arguments.loop or arguments.readings or arguments.file or arguments.meter:
        raise UsageError("a case has its own loop, readings and meter: leave them out with --case")
    file = CaseFile.open(find_case(arguments.case, plant), write=False)
    return drawn_case(file, None if file.case.cause else ranking_of(file), arguments.at)


def drawn_case(file: CaseFile, ranking: Ranking | None, value: str | None = None) -> Drawn:
    """The drawing of a case; readings have the numbers that the hand-over note gives them.

    Suspects are those of the ranking, unless a cause was confirmed.
    """
    from diagnose.inference.readings import parse_line

    case, loop = file.case, file.loop
    readings = {}
    for number, taken in enumerate(case.readings, 1):
        if taken.withdrawn is None:
            try:
                item = parse_line(taken.text, loop)
            except DiagnoseError:
                continue
            if isinstance(item, Reading):
                readings[number] = item
    cause = case.cause
    names = {part.name for part in loop.parts}
    told = (cause.part, cause.fault) if cause and cause.part in names else None
    known = _known(value, loop, readings.values())
    return Drawn(loop, file.meter, known, readings, ranking, told)


def _known(text: str | None, loop: Loop, readings: Iterable[Reading]) -> Basis:
    """The process value that was asked for, else what readings tell, else an example."""
    from diagnose.inference.due import Basis, basis

    if text is not None:
        value = at(text, loop)
        return Basis(value, value, value, "as told")
    told = basis(readings, loop)
    example = 1.0 if loop.states else 0.5
    return told if told.known else Basis(example, example, example)


def as_json(drawn: Drawn, found: Strands, marks: Marks) -> Json:
    """The order of the parts, and what is written at them."""
    return {
        "schema": SCHEMA,
        "tag": drawn.loop.tag,
        "at": {"value": scaled(drawn.known.middle, "1"), "unit": "%"},
        "rings": [_strand(strand) for strand in found.rings],
        "branches": [_strand(strand) for strand in found.branches],
        "chains": [list(chain) for chain in found.chains],
        "expected": dict(marks.expected),
        "read": {name: list(lines) for name, lines in marks.read.items()},
        "suspected": dict(marks.suspected),
    }


def _strand(strand: Strand) -> list[Json]:
    return [{"part": step.part, "from": step.a, "to": step.b} for step in strand.steps]
