"""Pages of HTML to be printed: self-contained, dark on light, A4 or Letter, every word escaped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from diagnose.circuit.figure import Figure
from diagnose.inference.cautions import CAUTIONS, cautions_of
from diagnose.library import package_version
from diagnose.loops.loop import Loop
from diagnose.review.page.markup import Markup, el, trusted
from diagnose.terminal.svg import inline

MARK = "a page made by diagnose, to be printed"
"""Stands in the head of every file that is written: only such a file is ever written over."""

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""A page fetches nothing and runs nothing, whatever stands in it."""

LEGEND = (
    "A dot is a terminal, with the volts that a sound loop has there; (n) is reading n; "
    "LOW, HIGH and NOT AS DUE mark readings outside of what a sound loop would show. "
    "A circle with a stroke is a wire end in its clamp, two strokes are a core or wire. "
    "Terminals of one name are one terminal. Heavy outline: suspected. Dashed: a leak that may be "
    "there. PE: plant earth."
)
"""How to read a drawing."""


def page(title: str, *body: object) -> str:
    """A whole document."""
    style = (Path(__file__).parent / "print.css").read_text(encoding="utf-8")
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="description", content=MARK),
        el("meta", http_equiv="Content-Security-Policy", content=POLICY),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", title),
        el("style", trusted(style)),
    )
    foot = f"Made by diagnose {package_version()} from the loop sheet; it knows nothing else."
    whole = el("html", head, el("body", *body, el("p", foot, class_="foot")), lang="en")
    return f"<!DOCTYPE html>\n{whole}\n"


def items(lines: Iterable[object], tag: str = "ul") -> Markup:
    """A list, numbered with ``ol``."""
    return el(tag, [el("li", line) for line in lines])


def table(
    head: Sequence[str], rows: Iterable[Sequence[object]], styles: Sequence[str] = ()
) -> Markup:
    """A table; ``styles`` name the style of each column."""
    classes = [style or None for style in styles] or [None] * len(head)

    def row(tag: str, cells: Sequence[object]) -> Markup:
        told = zip(cells, classes, strict=True)
        return el("tr", [el(tag, cell, class_=style) for cell, style in told], "\n")

    return el("table", el("thead", row("th", head)), el("tbody", [row("td", it) for it in rows]))


def figures(drawn: Iterable[Figure]) -> Iterator[Markup]:
    """Drawings, each under its title and in one piece."""
    for figure in drawn:
        yield el("figure", el("figcaption", figure.title), inline(figure))


def cautions(loop: Loop) -> Markup:
    """What must be minded on this loop, in a box."""
    told = items(CAUTIONS[key].text for key in cautions_of(loop))
    return el("div", el("strong", "Cautions"), told, class_="cautions")
