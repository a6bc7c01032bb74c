"""Figures as SVG: plain lines and text, dark on light, every word escaped."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from html import escape

from diagnose.circuit.figure import BIG, Figure, Frame, Line, Shape, Sign, Text
from diagnose.terminal.svg_signs import sign

FONT = "DejaVu Sans Mono, Liberation Mono, Consolas, Menlo, Courier New, monospace"
"""Typefaces of fixed width; none of them is wider than the layout allows for."""

HEADING = 9.0
"""Height of a figure's title, mm."""

STYLES = {
    "wire": 'stroke-width="0.45"',
    "thin": 'stroke-width="0.2"',
    "dashed": 'stroke-width="0.45" stroke-dasharray="2 1.2"',
    "arrow": 'stroke-width="0.35"',
}


def picture(figures: Sequence[Figure], title: str) -> str:
    """One SVG document with all figures one below the other, each under its title."""
    wide = max(figure.width for figure in figures)
    tall = sum(figure.height + HEADING for figure in figures)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        _open(wide, tall),
        f"<title>{text(title)}</title>",
        f'<rect width="{wide:g}" height="{tall:.1f}" fill="white" stroke="none"/>',
    ]
    y = 0.0
    for figure in figures:
        y += HEADING
        lines.append(_lettering(Text(0.5, y - 3, figure.title, BIG + 0.7, len(figure.title))))
        lines += [f'<g transform="translate(0 {y:.2f})">', *_shapes(figure), "</g>"]
        y += figure.height
    return "\n".join([*lines, "</svg>"]) + "\n"


def inline(figure: Figure) -> str:
    """One figure as an element for a page of HTML; the page sets its title."""
    label = f"<title>{text(figure.title)}</title>"
    return "\n".join([_open(figure.width, figure.height), label, *_shapes(figure), "</svg>"])


def text(foreign: str) -> str:
    """Text as XML and HTML take it; what may stand in neither is replaced."""
    fit = (mark if mark.isprintable() else "\N{REPLACEMENT CHARACTER}" for mark in foreign)
    return escape("".join(fit))


def _open(wide: float, tall: float) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{tall:.1f}mm" '
        f'viewBox="0 0 {wide:g} {tall:.1f}" font-family="{FONT}" fill="none" stroke="black">'
    )


def _shapes(figure: Figure) -> Iterator[str]:
    return (_DRAW[type(shape)](shape) for shape in figure.shapes)


def _lettering(it: Text) -> str:
    strong, rest = text(it.text[: it.strong]), text(it.text[it.strong :])
    bold = f'<tspan font-weight="bold">{strong}</tspan>' if strong else ""
    return (
        f'<text x="{it.x:.2f}" y="{it.y:.2f}" font-size="{it.size:g}" text-anchor="{it.anchor}" '
        f'fill="black" stroke="none" xml:space="preserve">{bold}{rest}</text>'
    )


def _line(it: Line) -> str:
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in it.points)
    drawn = f'<polyline points="{points}" {STYLES[it.style]}/>'
    if it.style != "arrow":
        return drawn
    x, y = it.points[-1]
    return f'{drawn}<path d="M{x:.2f} {y:.2f} l-1.2 -2.4 h2.4 z" fill="black" stroke="none"/>'


def _frame(it: Frame) -> str:
    weight = 'stroke-width="0.9"' if it.suspected else 'stroke-width="0.25"'
    return (
        f'<rect x="{it.x:.2f}" y="{it.y:.2f}" width="{it.width:.2f}" height="{it.height:.2f}" '
        f"{weight}/>"
    )


_DRAW: dict[type[Shape], Callable[..., str]] = {
    Text: _lettering,
    Line: _line,
    Frame: _frame,
    Sign: sign,
}
