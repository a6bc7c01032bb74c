"""The drawing of a loop on paper: no lettering over another, nothing over the edge, all named.

How wide lettering becomes is bounded by ``ADVANCE`` of its size for each column; the typefaces of
fixed width that are common (the ones of ``terminal/svg.py``) have 0.55 to 0.602, so what does not
overlap here does not on paper.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from diagnose.circuit.drawing import Marks, drawing
from diagnose.circuit.figure import (
    ADVANCE,
    WIDTH,
    Figure,
    Frame,
    Line,
    Sign,
    columns,
    wrapped,
    written,
)
from diagnose.library import type_names
from diagnose.loops.loop import EARTH, Loop
from diagnose.loops.sheet import load_sheet, load_type

ROOT = Path(__file__).resolve().parents[2]
SHEETS = sorted((ROOT / "cases" / "larkmere" / "sheets").glob("*.toml"))
LAME = {"no_return", "b3_floating"}
"""Sheets of the tests whose circuit makes no sense on purpose: `test_graph` refuses them."""

ODD = sorted((ROOT / "tests" / "sheets").glob("*.toml"))


def loaded(item: str | Path) -> Loop:
    return load_sheet(item) if isinstance(item, Path) else load_type(item)


@pytest.fixture(params=[*type_names(), *SHEETS], ids=lambda item: getattr(item, "stem", item))
def loop(request: pytest.FixtureRequest) -> Loop:
    return loaded(request.param)


def everything_marked(loop: Loop) -> Marks:
    """The fullest drawing: something expected and read everywhere, every part suspected."""
    names = [*(point.name for point in loop.points), *(part.name for part in loop.parts)]
    return Marks(
        dict.fromkeys(names, "-123.456 mV +- 0.12"),
        dict.fromkeys(names, ("(1) read -123.456 mV, differs", "(12) read 20.5 mA")),
        {part.name: "SUSPECT > 99 % open" for part in loop.parts},
    )


def boxes(figure: Figure) -> list[tuple[str, tuple[float, float, float, float]]]:
    return [(text.text, text.box) for text in figure.texts()]


def overlaps(figure: Figure) -> Iterator[tuple[str, str]]:
    for (one, a), (other, b) in combinations(boxes(figure), 2):
        if min(a[2], b[2]) - max(a[0], b[0]) > 1e-6 and min(a[3], b[3]) - max(a[1], b[1]) > 1e-6:
            yield one, other


def over_the_edge(figure: Figure) -> Iterator[object]:
    for text, (left, top, right, bottom) in boxes(figure):
        if left < 0 or top < 0 or right > figure.width or bottom > figure.height:
            yield text
    for shape in figure.shapes:
        if isinstance(shape, Line):
            if any(not (0 <= x <= WIDTH and 0 <= y <= figure.height) for x, y in shape.points):
                yield shape
        elif isinstance(shape, Sign):
            if not (3 <= shape.x <= WIDTH - 3 and 0.9 <= shape.y <= figure.height - 0.9):
                yield shape
        elif isinstance(shape, Frame) and (
            min(shape.x, shape.y) < 0
            or shape.x + shape.width > WIDTH
            or shape.y + shape.height > figure.height
        ):
            yield shape


def crossed(figure: Figure) -> Iterator[str]:
    """Lettering that a wire runs through."""
    for text, (left, top, right, bottom) in boxes(figure):
        for line in (shape for shape in figure.shapes if isinstance(shape, Line)):
            (ax, ay), (bx, by) = line.points
            beside = max(ax, bx) <= left or min(ax, bx) >= right
            if not beside and max(ay, by) > top and min(ay, by) < bottom:
                yield text


@pytest.mark.parametrize("marked", [False, True], ids=["plain", "marked"])
def test_no_lettering_lies_over_another_and_nothing_over_the_edge(loop: Loop, marked: bool) -> None:
    figures = drawing(loop, everything_marked(loop) if marked else None)
    assert sum(len(boxes(figure)) for figure in figures) > len(loop.points)
    for figure in figures:
        assert list(overlaps(figure)) == []
        assert list(over_the_edge(figure)) == []
        assert list(crossed(figure)) == []


def test_every_terminal_and_every_part_is_named(loop: Loop) -> None:
    seen = {text.text for figure in drawing(loop) for text in figure.texts()}
    real = [part for part in loop.parts if not part.kind.latent]
    wired = {node for part in real for node in part.pins.values()}
    # Earth may be reached by leaks alone; any other terminal belongs to a part.
    assert {point.name for point in loop.points} - wired <= {EARTH}
    assert {point.name for point in loop.points} & wired <= seen
    assert {part.name for part in real} <= seen
    assert not {part.name for part in loop.parts if part.kind.latent} & seen


def test_what_is_suspected_is_drawn_and_says_so(loop: Loop) -> None:
    for part in (loop.parts[0], *(part for part in loop.parts if part.kind.latent)):
        figures = drawing(loop, Marks(suspected={part.name: "SUSPECT 62 %"}))
        texts = [text.text for figure in figures for text in figure.texts()]
        assert part.name in "".join(texts)
        assert any(text.startswith("SUSPECT") for text in texts)


def test_figures_fit_a_page(loop: Loop) -> None:
    """A4 is 297 mm high and Letter 279 (ISO 216, ANSI Y14.1); 12 mm of margin and 9 of title."""
    assert max(figure.height for figure in drawing(loop)) <= 279.4 - 2 * 12 - 9


@pytest.mark.parametrize(
    "path", [path for path in ODD if path.stem not in LAME], ids=lambda path: path.stem
)
def test_sheets_that_are_no_ordinary_loop_are_drawn_too(path: Path) -> None:
    for figure in drawing(load_sheet(path)):
        assert [*overlaps(figure), *over_the_edge(figure), *crossed(figure)] == []


def test_long_and_wide_names_are_wrapped(plant: Path) -> None:
    loop = load_sheet(plant / "sheets" / "LT-214.toml")
    long = "W" * 40 + " 高圧 " * 12 + "x" * 120
    parts = tuple(replace(part, title=long) for part in loop.parts)
    places = tuple(replace(place, title=long) for place in loop.places)
    figures = drawing(replace(loop, parts=parts, places=places), everything_marked(loop))
    for figure in figures:
        assert [*overlaps(figure), *over_the_edge(figure), *crossed(figure)] == []


def test_plain_words_keep_to_the_page() -> None:
    figure = written("Cautions", ["word " * 60, "x" * 200])
    assert [*overlaps(figure), *over_the_edge(figure)] == []


def test_lettering_can_be_read_at_arms_length() -> None:
    """Capitals are 0.7 of the size; 1.8 mm is the least of ISO 3098 (from memory)."""
    sizes = {text.size for figure in drawing(load_type("trip")) for text in figure.texts()}
    assert min(sizes) * 0.7 >= 1.8


def test_wrapping_loses_no_word_and_keeps_to_the_room() -> None:
    text = "end of core W3+ in the cabinet-with-a-name-that-does-not-fit-in-one-line 高圧線"
    lines = wrapped(text, 30.0, 3.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert max(columns(line) * ADVANCE * 3.0 for line in lines) <= 30.0
    assert wrapped(text, 30.0, 3.0, most=2)[-1].endswith("...")


def test_the_checks_of_this_file_find_what_they_are_for() -> None:
    figure = drawing(load_type("rtd-input"))[0]
    text = next(figure.texts())
    moved = replace(text, x=text.x + 1, y=text.y + 1)
    out = replace(text, x=WIDTH, anchor="start")
    line = Line(((text.box[0], text.y - 1), (text.box[2], text.y - 1)))
    spoiled = replace(figure, shapes=(*figure.shapes, moved, out, line))
    assert list(overlaps(spoiled))
    assert out.text in list(over_the_edge(spoiled))
    assert text.text in list(crossed(spoiled))
