"""Figures as SVG: plain lines and text, dark on light, every word escaped."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from diagnose.circuit.figure import WIDTH, Figure, Frame, Line, Shape, Sign, Text, wrapped
from diagnose.review.page.markup import Markup, el
from diagnose.terminal.svg_signs import sign

FONT = "DejaVu Sans Mono, Liberation Mono, Consolas, Menlo, Courier New, monospace"
"""Typefaces of fixed width; none of them is wider than the layout allows for."""

HEADING = 4.2
"""Size of a figure's title in a picture, mm."""

LINES: dict[str, dict[str, object]] = {
    "wire": {"stroke_width": 0.45},
    "dashed": {"stroke_width": 0.45, "stroke_dasharray": "2 1.2"},
    "arrow": {"stroke_width": 0.35},
}

INK = {"fill": "black", "stroke": "none"}


def picture(figures: Sequence[Figure], title: str, mark: str = "") -> str:
    """One SVG document with all figures one below the other, each under its title.

    ``mark`` is told in its head, for whoever must know what made it.
    """
    shapes: list[Markup] = []
    y = 0.0
    for figure in (Figure(title, 0.0, ()), *figures):
        for line in wrapped(figure.title, WIDTH - 1, HEADING):
            y += HEADING * 1.6
            shapes.append(_text(Text(0.5, y, line, HEADING, len(line))))
        y += HEADING * 0.7
        shapes.append(el("g", _drawn(figure), transform=f"translate(0 {y:.2f})"))
        y += figure.height
    paper = el("rect", width=f"{WIDTH:g}", height=f"{y:.1f}", fill="white", stroke="none")
    head = el("title", title), el("desc", mark)
    whole = _svg(WIDTH, y, (head, paper, shapes))
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{whole}\n'


def inline(figure: Figure) -> Markup:
    """One figure as an element for a page of HTML; the page sets its title."""
    return _svg(figure.width, figure.height, (el("title", figure.title), _drawn(figure)))


def _svg(wide: float, tall: float, children: Iterable[object]) -> Markup:
    return el(
        "svg", *children, xmlns="http://www.w3.org/2000/svg", width=f"{wide:g}mm",
        height=f"{tall:.1f}mm", viewBox=f"0 0 {wide:g} {tall:.1f}", font_family=FONT, fill="none",
        stroke="black", role="img",
    )  # fmt: skip


def _drawn(figure: Figure) -> list[object]:
    return [_DRAW[type(shape)](shape) for shape in figure.shapes]


def _text(it: Text) -> Markup:
    strong, rest = it.text[: it.strong], it.text[it.strong :]
    bold = el("tspan", strong, font_weight="bold") if strong else None
    return el(
        "text", bold, rest, x=f"{it.x:.2f}", y=f"{it.y:.2f}", font_size=f"{it.size:g}",
        text_anchor=it.anchor, **INK, **{"xml:space": "preserve"},
    )  # fmt: skip


def _line(it: Line) -> list[Markup]:
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in it.points)
    drawn = [el("polyline", points=points, **LINES[it.style])]
    if it.style == "arrow":
        x, y = it.points[-1]
        drawn.append(el("path", d=f"M{x:.2f} {y:.2f}l-1.2 -2.4h2.4z", **INK))
    return drawn


def _frame(it: Frame) -> Markup:
    return el(
        "rect", x=f"{it.x:.2f}", y=f"{it.y:.2f}", width=f"{it.width:.2f}",
        height=f"{it.height:.2f}", stroke_width=0.9 if it.suspected else 0.25,
    )  # fmt: skip


_DRAW: dict[type[Shape], Callable[..., object]] = {
    Text: _text,
    Line: _line,
    Frame: _frame,
    Sign: sign,
}
