"""The page: head, summary, sections, and the policy that keeps it to itself."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence
from hashlib import sha256
from pathlib import Path

from diagnose.library import package_version
from diagnose.review.comparison import Comparison
from diagnose.review.in_short import in_short
from diagnose.review.page.case_list import (
    LIST_TITLE,
    OPEN_TITLE,
    case_list,
    listing,
    still_open,
)
from diagnose.review.page.grid import Tracer, table
from diagnose.review.page.how_often import TITLE as OFTEN
from diagnose.review.page.how_often import how_often
from diagnose.review.page.markup import Markup, counted, el, trusted
from diagnose.review.page.what_changed import TITLE as CHANGED
from diagnose.review.page.what_changed import what_changed
from diagnose.review.page.what_failed import TITLE as FAILED
from diagnose.review.page.what_failed import stands, what_failed
from diagnose.review.page.what_it_cost import TITLE as COST
from diagnose.review.page.what_it_cost import what_it_cost
from diagnose.review.page.what_was_learned import TITLE as LEARNED
from diagnose.review.page.what_was_learned import what_was_learned
from diagnose.review.page.what_was_said import TITLE as SAID
from diagnose.review.page.what_was_said import what_was_said
from diagnose.review.priors import Priors
from diagnose.review.rows import CaseRow
from diagnose.review.tables import Review

HERE = Path(__file__).parent

Section = tuple[str, str, Iterable[object]]


def page(
    review: Review,
    priors: Priors,
    rows: Sequence[CaseRow],
    plant: str,
    other: Comparison | None = None,
) -> str:
    """The report on a review, and on the rates learned from it, as one HTML document.

    ``rows`` are its cases in the order of time, or those that its numbers name (`page.listed`);
    ``other`` is another period to set beside it.
    Whatever stands in tags, notes and names is shown as text.
    """
    tracer = listing(rows)
    sections: list[Section] = [
        ("failed", FAILED, what_failed(review, rows, tracer)),
        ("often", OFTEN, how_often(review, tracer)),
        *([("changed", CHANGED, what_changed(review, other))] if other else []),
        ("cost", COST, what_it_cost(review, rows, tracer)),
        ("said", SAID, what_was_said(review, rows, tracer)),
        ("learned", LEARNED, what_was_learned(priors, rows, tracer)),
        ("open", OPEN_TITLE, still_open(rows, tracer)),
        ("cases", LIST_TITLE, case_list(rows, review.endings.cases)),
    ]
    title = f"Review of {plant}"
    body = el("body", el("a", "To the report", href="#report", class_="skip"), _patterns(),
              _header(title, review), _contents(sections),
              el("main", _summary(review, rows, tracer, other), *map(_section, sections),
                 id="report"),
              el("footer", el("p", f"Made by diagnose {package_version()}. Rates, priors and "
                                   "rankings remind; site procedures and competent people "
                                   "decide.")),
              el("div", role="status", class_="unseen", id="told"),
              el("script", trusted(_file("report.js"))))  # fmt: skip
    document = el("html", _head(title), body, lang="en")
    return f"<!doctype html>\n{document}\n"


def _file(name: str) -> str:
    return (HERE / name).read_text(encoding="utf-8")


def _head(title: str) -> Markup:
    style, script = _file("report.css"), _file("report.js")
    policy = (f"default-src 'none'; style-src '{_digest(style)}'; script-src '{_digest(script)}'; "
              "img-src data:; base-uri 'none'; form-action 'none'")  # fmt: skip
    return el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=policy),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name="color-scheme", content="light dark"),
        el("meta", name="referrer", content="no-referrer"),
        el("link", rel="icon", href="data:,"),
        el("title", title),
        el("style", trusted(style)),
    )


def _digest(text: str) -> str:
    """How a policy names the one text that it lets through."""
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"


def _header(title: str, review: Review) -> Markup:
    window = review.window
    days = f"{window.first:%d %B %Y} to {window.last:%d %B %Y}"
    choices = (("auto", "as the system"), ("light", "light"), ("dark", "dark"))
    inputs = (
        el("label", el("input", type="radio", name="theme", id=f"theme-{key}",
                       checked=key == "auto"), f" {name}") for key, name in choices
    )  # fmt: skip
    which = "; ".join((days, *review.filters.chosen))  # a page must not look whole if it is not
    return el("header", el("h1", title), el("p", which, class_="lead"),
              el("fieldset", el("legend", "Colours"), *inputs, class_="theme"))  # fmt: skip


def _contents(sections: Sequence[Section]) -> Markup:
    links = (el("li", el("a", title, href=f"#{key}")) for key, title, _ in sections)
    return el("nav", el("ul", *links), aria_label="Sections")


def _section(section: Section) -> Markup:
    key, title, children = section
    return el("section", el("h2", title, id=f"{key}-title"), *children, id=key,
              aria_labelledby=f"{key}-title")  # fmt: skip


def _summary(
    review: Review, rows: Sequence[CaseRow], tracer: Tracer, other: Comparison | None
) -> Markup:
    ends = review.endings
    names: dict[str, list[str]] = {}
    for row in rows:
        names.setdefault(stands(row), []).append(row.name)
    lines: tuple[tuple[str, int, list[str]], ...] = (
        ("cause confirmed", ends.confirmed, names.get("confirmed", [])),
        ("suspected only: open, or handed over", ends.suspected, names.get("suspected", [])),
        ("no fault found", ends.no_fault_found, names.get("sound", [])),
        ("cause not found", ends.not_found, names.get("unfound", [])),
    )
    if ends.unreadable:
        lines = (*lines, ("could not be read", ends.unreadable, names.get("unread", [])))
    found = table("How the cases stand", ("stands", "cases"),
                  [(title, tracer.count(count, some)) for title, count, some in lines])  # fmt: skip
    unread = (f" {ends.unreadable:,} of them could not be read and are in no other number."
              if ends.unreadable else "")  # fmt: skip
    lead = (f"{counted(ends.cases, 'case')}. Each number opens into the cases behind it; each case "
            f"has its line at the end.{unread}")  # fmt: skip
    notes = el("ul", *(el("li", note) for note in review.notes)) if review.notes else None
    told = in_short(review, other)
    answer = el("ul", *(el("li", sentence) for sentence in told)) if told else None
    return el("section", el("h2", "In short", id="short-title"), answer, el("p", lead), found,
              notes, id="short", aria_labelledby="short-title")  # fmt: skip


def _patterns() -> Markup:
    """Patterns of bars, so that they can be told apart without colour and on grey paper."""
    lines = el("pattern", el("rect", width="6", height="6", class_="ground"),
               el("path", d="M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2", class_="stroke"),
               id="hatch", width="6", height="6", patternUnits="userSpaceOnUse")  # fmt: skip
    dots = el("pattern", el("rect", width="5", height="5", class_="ground"),
              el("circle", cx="2.5", cy="2.5", r="1.1", class_="spot"),
              id="dots", width="5", height="5", patternUnits="userSpaceOnUse")  # fmt: skip
    return el("svg", el("defs", lines, dots), width="0", height="0", aria_hidden="true",
              focusable="false", class_="patterns")  # fmt: skip
