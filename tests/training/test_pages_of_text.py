"""Pages handed out to trainees: what people wrote is shown as text, in whichever place it stands.

Sources: HTML Living Standard, escaping of text (read by the parser of Python's library);
CommonMark, backslash escapes and fenced code (from memory).
"""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from diagnose.training import pages

HOSTILE = "<img src=x onerror=\"alert(1)\"> & 'q'"
PLACES = {
    "h1": pages.title(HOSTILE), "h2": pages.head(HOSTILE), "p": pages.text(HOSTILE),
    "p.warn": pages.warn(HOSTILE), "li": pages.points([HOSTILE]), "pre": pages.sums([HOSTILE]),
    "th": pages.table([HOSTILE, "b"], [["1", "2"]]),
    "td": pages.table(["a", "b"], [["1", HOSTILE]]),
    "td first": pages.table(["a", "b"], [[HOSTILE, "2"]]),
}  # fmt: skip


class Seen(HTMLParser):
    """Elements and text as a browser sees them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[str] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("place", PLACES)
def test_what_people_wrote_is_no_element_of_a_page(place: str) -> None:
    seen = Seen(pages.html([PLACES[place]], "page"))
    assert "img" not in seen.elements
    assert place.split(".")[0].split()[0] in seen.elements
    assert HOSTILE in seen.text


def test_a_title_of_the_window_is_text_as_well() -> None:
    html = pages.html([], "</title><script>x</script>")
    assert "<script>" not in html
    assert "&lt;/title&gt;&lt;script&gt;x" in html


@pytest.mark.parametrize("place", [name for name in PLACES if name != "pre"])
def test_what_people_wrote_is_no_markup_of_markdown(place: str) -> None:
    """Every sign that Markdown or HTML reads has a backslash before it."""
    text = pages.markdown([PLACES[place]])
    assert r"\<img src=x onerror=" in text
    assert r"\& 'q'" in text
    assert not re.search(r"(?<!\\)[<>&]", text)


def test_a_cell_cannot_add_a_column_and_a_line_no_row() -> None:
    text = pages.markdown([pages.table(["a", "b"], [["x | y", "1\n| 2 |"]])])
    assert text.splitlines() == ["| a | b |", "| --- | --- |", r"| x \| y | 1 \| 2 \| |"]


def test_formulas_stand_in_a_fence_that_they_cannot_close() -> None:
    """A fence is closed by as many signs as opened it: there are more than in any line."""
    assert pages.markdown([pages.sums(["V = R * I"])]) == "```text\nV = R * I\n```\n"
    hostile = pages.markdown([pages.sums(["a", "````", "# b"])]).splitlines()
    assert hostile == ["```````text", "a", "````", "# b", "```````"]


@pytest.mark.parametrize(
    ("word", "number"),
    [("12", True), ("-3.5", True), ("45 %", True), ("0", True), ("12 mA", False), ("", False),
     ("1.2.3", False), ("LT-214", False), ("a", False)],
)  # fmt: skip
def test_numbers_stand_to_the_right_and_names_do_not(word: str, number: bool) -> None:
    html = pages.html([pages.table(["a", "b"], [["7", word]])], "page")
    assert ('<td class="n">' in html) is number
    assert "<td>7</td>" in html  # the first column names a row, though it be a number


def test_each_part_of_a_page_has_its_place_in_markdown() -> None:
    blocks = [pages.title("T"), pages.head("H"), pages.text("a", "", "b"), pages.warn("w"),
              pages.points(["x", "y"])]  # fmt: skip
    assert pages.markdown(blocks) == "# T\n\n## H\n\na b\n\n**w**\n\n- x\n- y\n"


def test_a_short_word_of_a_table_is_not_broken_and_heads_stand_on_each_sheet() -> None:
    """``LT-`` on one line and ``214_01`` on the next is no name of a file."""
    made = pages.html(
        [pages.table(("who", "file"), [("Ann", "LT-214_01"), ("Ben", "two words")])], "x"
    )
    assert '<td class="w">LT-214_01</td>' in made
    assert "<td>two words</td>" in made
    assert "<thead><tr><th>who</th>" in made
