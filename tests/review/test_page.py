"""The report as a page: one file, no network, text stays text, tables sort, numbers lead to cases.

Sources: HTML Living Standard (escaping, details, script); WAI-ARIA 1.2 (aria-sort, landmarks); WCAG
2.2, 1.4.3 (contrast) and its formula of relative luminance, both computed here from the style.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

import browser
from diagnose.review.page.axes import ticks
from diagnose.review.page.grid import Cell, Tracer, chance, table
from diagnose.review.page.markup import Markup, el, pct
from diagnose.review.page.whole import page
from review.page_sample import HOSTILE, priors, review, rows


@pytest.fixture(scope="module")
def html() -> str:
    return page(review(), priors(), rows(), HOSTILE[0])


class Outline(HTMLParser):
    """Elements and attributes as a browser sees them; ill-nested ends are counted."""

    VOID = frozenset({"br", "input", "link", "meta"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.wrong = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self.open and self.open[-1] == tag:
            self.open.pop()
        else:
            self.wrong += 1

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]


@pytest.fixture(scope="module")
def outline(html: str) -> Outline:
    return Outline(html)


# -- text ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", HOSTILE)
def test_an_element_shows_what_it_is_given(bad: str) -> None:
    seen = Outline(el("p", bad, title=bad))
    assert [name for name, _ in seen.elements] == ["p"]
    assert seen.wrong == 0
    assert seen.named("p")[0]["title"] == "".join(s if s.isprintable() else "\ufffd" for s in bad)


@pytest.mark.parametrize(
    ("number", "said"), [(0, "0 cases"), (1, "1 case"), (2, "2 cases"), (1204, "1,204 cases")]
)
def test_one_case_is_one_case(number: int, said: str) -> None:
    """A new log has one: it read "1 cases" and "1 of 1 loops make 100 % of 1 calls"."""
    some = review()
    one = replace(some, endings=replace(some.endings, cases=number))
    assert f"<p>{said}. Each number" in page(one, priors(), rows(), "plant")


def test_a_space_of_any_width_is_no_control() -> None:
    """Unicode 15, general categories: Zs is a space; Cc and Cf are not there to be seen."""
    assert el("p", "90\u00a0%\u202fx") == "<p>90\u00a0%\u202fx</p>"
    assert el("p", "\u0085\u202e\x7f") == "<p>\ufffd\ufffd\ufffd</p>"


def test_only_markup_is_markup() -> None:
    assert el("p", el("b", "x"), None, ["<", 1]) == "<p><b>x</b>&lt;1</p>"
    assert isinstance(el("p"), Markup)
    assert el("input", checked=True, disabled=False, value=None) == "<input checked>"


def test_hostile_names_add_no_element(outline: Outline) -> None:
    """One script, one style; no picture, no link but the icon, no handler, no inline style."""
    assert outline.wrong == 0
    assert outline.open == []
    names = [name for name, _ in outline.elements]
    assert (names.count("script"), names.count("style"), names.count("link")) == (1, 1, 1)
    assert {"img", "i", "b", "iframe", "object"}.isdisjoint(names)
    keys = {key for _, attributes in outline.elements for key in attributes}
    assert [key for key in keys if key.startswith("on")] == []
    assert "style" not in keys


def test_on_paper_the_numbers_of_cases_are_told_in_runs() -> None:
    """3, 1, 2, 9, 8 in order are 1 to 3, 8, 9; each case has its own link on the screen."""
    tracer = Tracer({"c": 3, "a": 1, "b": 2, "i": 9, "h": 8})
    shown = str(tracer.count(6, ["c", "a", "b", "i", "h", "elsewhere"]).shown)
    assert '<span class="ranges" aria-hidden="true">1 to 3, 8, 9, elsewhere</span>' in shown
    assert re.findall(r"#case-(\d)", shown) == ["1", "2", "3", "8", "9"]


def test_a_chance_below_its_digits_is_not_called_none() -> None:
    assert chance(0.0000012, 5).shown == "< 0.00001"
    assert chance(0.00002, 5).shown == "0.00002"


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.0, "0"), (0.004, "< 1"), (0.006, "1"), (0.5, "50"), (0.994, "99"), (0.996, "> 99"),
     (1.0, "100")],
)  # fmt: skip
def test_what_is_nearly_sure_or_nearly_never_is_not_called_so(share: float, said: str) -> None:
    """Half a per cent from either end would be rounded to it."""
    assert pct(share) == f"{said}\u00a0%"


def test_links_lead_into_the_page_only(outline: Outline) -> None:
    targets = {attributes.get("id") for _, attributes in outline.elements}
    links = [str(link["href"]) for link in outline.named("a")]
    assert links
    assert [link for link in links if link[0] != "#" or link[1:] not in targets] == []
    assert not any({"src", "srcset", "action"} & set(a) for _, a in outline.elements)


def test_no_two_things_have_one_name(outline: Outline) -> None:
    ids = [attributes["id"] for _, attributes in outline.elements if "id" in attributes]
    assert len(ids) == len(set(ids))


# -- whoever reads it ------------------------------------------------------------------------------


def test_every_table_has_a_caption_and_heads(html: str, outline: Outline) -> None:
    assert html.count("<caption>") == len(outline.named("table"))
    assert {head.get("scope") for head in outline.named("th")} == {"col", "row"}


def test_every_picture_has_its_words(outline: Outline) -> None:
    pictures = [svg for svg in outline.named("svg") if svg.get("role") == "img"]
    assert len(pictures) >= 6
    assert all(len(str(svg["aria-label"])) > 40 for svg in pictures)
    others = [svg for svg in outline.named("svg") if svg.get("role") != "img"]
    assert all(svg.get("aria-hidden") == "true" for svg in others)


def test_every_picture_asks_a_question(html: str) -> None:
    titles = re.findall(r"<figure><h3>(.*?)</h3>", html)
    assert titles
    assert [title for title in titles if not title.endswith("?")] == []


def test_landmarks_and_heads_come_in_order(outline: Outline) -> None:
    names = [name for name, _ in outline.elements]
    assert [names.count(name) for name in ("header", "nav", "main", "footer", "h1")] == [1] * 5
    levels = [int(name[1]) for name in names if re.fullmatch(r"h[1-6]", name)]
    assert all(after - before <= 1 for before, after in pairwise(levels))


PAIRS = [("--ink", "--paper"), ("--faint", "--paper"), ("--link", "--paper"), ("--ink", "--band")]


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_text_stands_out_from_its_ground(html: str, theme: int) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 at least; 1.4.11: 3 to 1 for marks of a picture."""
    found = re.findall(r"(--\w+): light-dark\((#\w{6}), (#\w{6})\)", html)
    colours = {name: luminance(pair[theme]) for name, *pair in found}

    def contrast(a: str, b: str) -> float:
        low, high = sorted((colours[a], colours[b]))
        return (high + 0.05) / (low + 0.05)

    assert min(contrast(a, b) for a, b in PAIRS) >= 4.5
    assert min(contrast(a, "--paper") for a in ("--sure", "--maybe", "--unfound")) >= 3


def test_ticks_are_round_and_reach_the_top() -> None:
    """Heckbert, "Nice numbers for graph labels", Graphics Gems (1990): 1, 2, 5 and tens."""
    assert ticks(3.4) == (0.0, 1.0, 2.0, 3.0, 4.0)
    assert ticks(0.07)[-1] >= 0.07
    assert ticks(0) == (0.0, 1.0)


def test_a_table_without_lines_says_so() -> None:
    assert table("Bad actors", ("loop",), []) == '<p class="none">Bad actors: none.</p>'
    assert 'data-v="2.5"' in table("x", ("a", "b"), [("n", Cell("2.5 V", 2.5, True))])


# -- in the browser --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def driver(html: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[browser.Chrome]:
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_text(html, encoding="utf-8")
    with browser.chromium() as found:
        browser.visit(found, path)
        yield found


@pytest.mark.chromium
def test_it_opens_without_a_word_and_asks_for_nothing(driver: browser.Chrome) -> None:
    assert driver.execute_script("return document.querySelectorAll('thead button').length") > 20
    assert browser.complaints(driver) == []
    assert browser.requests(driver) == []


@pytest.mark.chromium
def test_the_watch_sees_what_it_is_there_for(tmp_path: Path) -> None:
    """A page that asks for a picture and runs a foreign script is caught by both logs."""
    path = tmp_path / "bad.html"
    path.write_text('<img src="http://127.0.0.1:9/x.png"><script>nothing()</script>')
    with browser.chromium() as found:
        browser.visit(found, path)
        assert browser.requests(found) == ["http://127.0.0.1:9/x.png"]
        assert any("nothing is not defined" in line for line in browser.complaints(found))


@pytest.mark.chromium
def test_hostile_text_is_shown_and_does_nothing(driver: browser.Chrome) -> None:
    assert driver.title == f"Review of {HOSTILE[0]}"
    seen = driver.execute_script("return document.getElementById('cases').textContent")
    for bad in HOSTILE:
        assert "".join(sign if sign.isprintable() else "\ufffd" for sign in bad) in seen
    assert driver.execute_script("return document.querySelectorAll('img, b, i').length") == 0


@pytest.mark.chromium
def test_foreign_script_and_style_are_kept_out(driver: browser.Chrome) -> None:
    """Content Security Policy: what is not in the page's own two texts does not run."""
    driver.execute_script(
        "const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
        "document.body.append(s); document.body.setAttribute('style', 'display: none');"
    )
    assert driver.execute_script("return window.ran") is None
    shown = driver.execute_script("return getComputedStyle(document.body).display")
    assert shown == "block"
    assert len(browser.complaints(driver)) >= 2
    driver.execute_script("document.body.removeAttribute('style')")


LIST = "#cases table"


def column(driver: browser.Chrome, number: int) -> list[float]:
    return driver.execute_script(
        "return Array.from(document.querySelectorAll(arguments[0] + ' tbody tr'),"
        " row => Number(row.cells[arguments[1]].dataset.v))", LIST, number
    )  # fmt: skip


def sorted_by(driver: browser.Chrome) -> list[str]:
    return driver.execute_script(
        "return Array.from(document.querySelectorAll(arguments[0] + ' thead th'),"
        " head => head.getAttribute('aria-sort'))", LIST
    )  # fmt: skip


READINGS = 8
"""Column of the case list."""


@pytest.mark.chromium
def test_a_head_sorts_by_the_mouse_and_by_the_keyboard(driver: browser.Chrome) -> None:
    button = driver.find_elements("css selector", f"{LIST} thead button")[READINGS]
    before = column(driver, READINGS)
    button.click()
    assert column(driver, READINGS) == sorted(before, reverse=True) != before
    assert sorted_by(driver)[READINGS] == "descending"
    assert "sorted by readings, descending" in driver.find_element("id", "told").text
    driver.execute_script("arguments[0].focus()", button)
    driver.switch_to.active_element.send_keys("\ue007")  # Enter
    assert column(driver, READINGS) == sorted(before)
    assert sorted_by(driver).count("ascending") == 1
    driver.switch_to.active_element.send_keys(" ")
    assert column(driver, READINGS) == sorted(before, reverse=True)


@pytest.mark.chromium
def test_a_number_opens_into_its_cases(driver: browser.Chrome) -> None:
    summary = driver.find_element("css selector", "#short summary")
    assert not driver.execute_script("return arguments[0].parentNode.open", summary)
    summary.send_keys("\ue007")
    link = driver.find_element("css selector", "#short details a")
    target = str(link.get_attribute("href")).partition("#")[2]
    link.click()
    place = driver.find_element("id", target)
    assert place.text == link.text
    assert driver.execute_script("return arguments[0].matches(':target')", place)


@pytest.mark.chromium
def test_the_theme_can_be_chosen(driver: browser.Chrome) -> None:
    def ground() -> str:
        return driver.execute_script(
            "return getComputedStyle(document.documentElement).backgroundColor"
        )

    seen = set()
    for key in ("light", "dark"):
        driver.find_element("id", f"theme-{key}").click()
        seen.add(ground())
    driver.find_element("id", "theme-auto").click()
    assert len(seen) == 2
    for scheme in ("dark", "light"):
        media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
        assert ground() in seen
        seen.remove(ground())


@pytest.mark.chromium
def test_it_fits_a_narrow_screen(driver: browser.Chrome) -> None:
    narrow = {"width": 360, "height": 800, "deviceScaleFactor": 1, "mobile": True}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", narrow)
    wide = driver.execute_script("return document.documentElement.scrollWidth")
    driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert wide == 360


@pytest.mark.chromium
def test_on_paper_the_cases_behind_numbers_are_open(driver: browser.Chrome) -> None:
    count = "return document.querySelectorAll('td details:not([open])').length"
    closed = driver.execute_script(count)
    assert closed > 0
    driver.execute_script("dispatchEvent(new Event('beforeprint'))")
    assert driver.execute_script(count) == 0
    driver.execute_script("dispatchEvent(new Event('afterprint'))")
    assert driver.execute_script(count) == closed
