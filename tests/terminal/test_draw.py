"""``draw``, ``expect --html`` and ``cases export --html``: what is written into files for paper.

Well-formed is judged by the XML parser and the HTML parser of the standard library.
"""

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from diagnose.__main__ import main
from diagnose.circuit.drawing import Marks, drawing
from diagnose.library import type_names
from diagnose.loops.loop import Loop
from diagnose.loops.sheet import load_sheet, load_type
from diagnose.terminal.drawing_page import drawing_page
from diagnose.terminal.svg import picture

ROOT = Path(__file__).resolve().parents[2]
SHEETS = sorted((ROOT / "cases" / "larkmere" / "sheets").glob("*.toml"))
SVG = "{http://www.w3.org/2000/svg}"
VOID = {"meta", "br", "link", "input"}
HOSTILE = '<script>alert("x")</script>&amp;]]><!--\x07 \u202e'


class Balanced(HTMLParser):
    """Every element that is opened is closed, in order; which there were, and all text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: set[str] = set()
        self.attributes: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def read_html(page: str) -> Balanced:
    parser = Balanced()
    parser.feed(page)
    parser.close()
    assert parser.open == []
    return parser


def texts(svg: str) -> list[str]:
    root = ElementTree.fromstring(svg.encode())
    assert root.tag == f"{SVG}svg"
    return ["".join(element.itertext()) for element in root.iter(f"{SVG}text")]


def loops() -> Iterator[Loop]:
    yield from (load_type(name) for name in type_names())
    yield from map(load_sheet, SHEETS)


def test_every_loop_becomes_a_sound_picture_and_page() -> None:
    for loop in loops():
        figures = drawing(loop)
        told = texts(picture(figures, loop.tag))
        assert told[0] == loop.tag
        assert {text.text for figure in figures for text in figure.texts()} <= {*told}
        page = read_html(drawing_page(loop, loop.tag, figures))
        assert {"svg", "figure", "figcaption"} <= page.seen
        assert "script" not in page.seen
        assert all(text.strip() in page.text for text in told)


def test_nothing_is_fetched_and_nothing_runs() -> None:
    loop = load_type("two-wire-input")
    page = drawing_page(loop, loop.tag, drawing(loop))
    found = read_html(page)
    assert not {"src", "href", "style"} & found.attributes
    assert not any(name.startswith("on") for name in found.attributes)
    assert "default-src 'none'" in unescape(page)
    assert "url(" not in page
    assert "@import" not in page


def test_hostile_text_stays_text() -> None:
    loop = load_sheet(ROOT / "cases" / "larkmere" / "sheets" / "TT-131.toml")
    parts = tuple(replace(part, title=HOSTILE) for part in loop.parts)
    places = tuple(replace(place, title=HOSTILE) for place in loop.places)
    loop = replace(loop, parts=parts, places=places, service=HOSTILE)
    marks = Marks({loop.parts[0].name: HOSTILE}, {loop.points[0].name: (HOSTILE,)})
    figures = drawing(loop, marks)
    svg = picture(figures, HOSTILE)
    assert any("<script>" in text.replace(" ", "") for text in texts(svg))
    page = read_html(drawing_page(loop, HOSTILE, figures))
    assert "script" not in page.seen
    assert "\x07" not in svg


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    done = capsys.readouterr()
    return code, done.out, done.err


def test_draw_prints_the_loop_in_its_order(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "draw", "LT-214")
    lines = [line.split()[1] for line in out.splitlines() if line[:3] in ("  |", "  o")]
    assert code == 0
    assert lines[:5] == ["G1", "G1:+", "G1+.X20", "X20:1", "F1"]
    # 12 mA in 250 ohm beside four inputs of 1 Mohm: arithmetic on paper.
    assert f"X21:7 {0.012 / (1 / 250 + 4e-6):.3f} V" in " ".join(out.split())


def test_draw_tells_scripts_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "draw", "LT-214", "--at", "900 mm", "--json")
    found = json.loads(out)
    assert found["at"] == {"value": 50.0, "unit": "%"}
    assert found["rings"][0][0] == {"part": "G1", "from": "G1:-", "to": "G1:+"}
    assert found["chains"] == [["T1", "LT-214"], ["LG-214"]]
    assert found["written"] == []


def test_readings_are_drawn_against_a_stated_process(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "loop.svg"
    words = ("process 50 %", "V X21:7 X20:0 3.41", "V X21:3 X20:0 20.38")
    code, out, _ = run(capsys, "draw", "LT-214", *words, "--svg", str(file))
    assert (code, out) == (0, f"Written: {file}\n")
    told = texts(file.read_text(encoding="utf-8"))
    assert "(2) read 3.41 V, HIGH" in told
    assert "(3) read 20.38 V" in told
    assert any(text.startswith("SUSPECT") for text in told)
    assert "proved dead" in " ".join(told)
    assert "licensed person" in " ".join(told)


def test_without_a_process_value_nothing_is_said_to_differ(
    capsys: pytest.CaptureFixture[str],
) -> None:
    _, out, _ = run(capsys, "draw", "LT-214", "V X21:7 X20:0 3.41", "--json")
    assert json.loads(out)["read"] == {"X21:7": ["(1) read 3.41 V"]}


def test_the_sheet_has_table_cautions_and_drawing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "sheet.html"
    assert run(capsys, "expect", "LT-214", "--html", str(file))[0] == 0
    page = read_html(file.read_text(encoding="utf-8"))
    assert {"table", "svg"} <= page.seen
    for wanted in (
        "V X21:7 X20:0",
        "proved dead",
        "gas test",
        "licensed person",
        "JB9:1",
        "100.0 %",
    ):
        assert wanted in page.text


def test_a_case_is_handed_over_as_a_page(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "note.html"
    case = "LT-214_2024-03-12"
    assert run(capsys, "cases", "export", case, "--html", str(file))[0] == 0
    page = read_html(file.read_text(encoding="utf-8"))
    _, note, _ = run(capsys, "cases", "export", case)
    for title in ("Readings", "Confirmed", "Done", "Next"):
        assert f"## {title}" in note
        assert title in page.text
    assert "CAUSE leakage" in page.text
    [clamped] = re.findall(r"clamp W4\+ [0-9.]+ mA", note)
    assert clamped in page.text


def test_only_own_files_are_written_over(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    foreign = tmp_path / "notes.html"
    foreign.write_text("mine", encoding="utf-8")
    code, _, said = run(capsys, "draw", "TT-131", "--html", str(foreign))
    assert code == 2
    assert "is no page of this kind; name another file" in said
    assert foreign.read_text(encoding="utf-8") == "mine"
    own = tmp_path / "own.html"
    for loop in ("TT-131", "TT-132"):
        assert run(capsys, "draw", loop, "--html", str(own))[0] == 0
    assert "TT-132" in own.read_text(encoding="utf-8")
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("draw",), "name a loop, or a case with --case"),
        (("draw", "LT-214", "--case", "x"), "a case has its own loop"),
        (("draw", "LT-214", "--svg", "nowhere/loop.svg"), "there is no folder"),
        (("draw", "LT-214", "--svg", "."), "is a folder; name a file in it"),
        (("draw", "LT-214", "--at", "900 psi"), "--at"),
        (("draw", "LT-214", "V X21:7"), "X21:7"),
        (("draw", "LT-214", "--html", "a\0b"), "cannot be written"),
        (("expect", "LT-214", "--html", "nowhere/sheet.html"), "there is no folder"),
        (("cases", "list", "--html", "x.html"), "--html belongs to"),
        (("cases", "export", "LT-214_2024-03-12", "--html", "x", "--markdown"), "choose one"),
    ],
)
def test_bad_words_get_one_clear_line(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    words: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, complaint = run(capsys, *words)
    assert (code, out) == (2, "")
    assert said in complaint
    assert [*tmp_path.iterdir()] == []


@pytest.mark.chromium
def test_the_sheet_prints_on_few_pages_of_the_right_size(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Printed by a browser: A4 where the paper is A4, and every figure whole on its page."""
    file, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    assert run(capsys, "expect", "TT-131", "--html", str(file))[0] == 0
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or "chromium"
    done = subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={pdf}", str(file)],
        capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    count = pdf.read_bytes().count(b"/Type /Page\n")
    assert 2 <= count <= 4
