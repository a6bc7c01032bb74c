"""``cases export --html``: the hand-over note with the loop drawn, as a page to be printed."""

from __future__ import annotations

from pathlib import Path

from diagnose.casework.log import CaseFile
from diagnose.terminal.outcome import Outcome


def export_html(path: Path, target: str) -> Outcome:
    """Write the page of the case at ``path`` to the file ``target``."""
    from diagnose.circuit.drawing import drawing
    from diagnose.terminal.do_cases import case_json, ranking_of
    from diagnose.terminal.do_draw import drawn_case
    from diagnose.terminal.handover_page import handover_page
    from diagnose.terminal.html_page import MARK
    from diagnose.terminal.write_file import write_file

    file = CaseFile.open(path, write=False)
    ranking = ranking_of(file)
    drawn = drawn_case(file, ranking)
    figures = drawing(drawn.loop, drawn.marks())
    page = handover_page(file.case, ranking, drawn.loop, figures)
    written = str(write_file(target, page, MARK))
    return Outcome({**case_json(file), "written": [written]}, lambda _: [f"Written: {written}"])
