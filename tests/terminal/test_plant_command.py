"""``plant``, ``sheet`` and ``find`` as typed: answers, files written, one line for a slip."""

import json
import re
from pathlib import Path

import pytest
from openpyxl import Workbook

from diagnose.__main__ import main
from diagnose.library import models
from diagnose.loops.plant import open_plant

INDEX = """\
Tag No.;Service;Typical;Range;Cable length (m)
LT-1;lye tank level;2W;0-1800 mm;120
PT-2;lye pressure;barrier-input;0-6 bar;12O
"""


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    made = tmp_path / "works"
    assert main(["plant", "new", str(made), "--name", "Invented works", "--unit", "unit 7"]) == 0
    capsys.readouterr()
    (tmp_path / "list.csv").write_text(INDEX, encoding="cp1252")
    return made


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch):
    import io
    import sys

    def type_(*lines: str) -> None:
        text = "".join(f"{line}\n" for line in lines).encode()
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text)))

    return type_


def test_a_new_plant_is_one_and_is_never_made_twice(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plant = open_plant(folder)
    assert (plant.name, plant.unit, plant.tags()) == ("Invented works", "unit 7", ())
    before = (folder / "plant.toml").read_bytes()
    assert main(["plant", "new", str(folder)]) == 2
    assert "there is one in it already; nothing was changed" in capsys.readouterr().err
    assert (folder / "plant.toml").read_bytes() == before


def test_the_columns_are_asked_for_once(
    folder: Path, typed, capsys: pytest.CaptureFixture[str]
) -> None:
    file = str(folder.parent / "list.csv")
    typed("servise = Service", "service = Servise", "role = -", "", "too-wire", "two-wire")
    assert main(["plant", "import", file, "--plant", str(folder)]) == 1
    told = capsys.readouterr()
    assert "'servise' is no meaning; did you mean service" in told.err
    assert "no column headed 'Servise'; did you mean Service" in told.err
    assert "no loop type called 'too-wire'; did you mean two-wire-input" in told.err
    assert "Sheets: 2 new, 0 changed, 0 unchanged." in told.out
    assert "'12O': 'O' is no unit of length" in " ".join(told.out.split())
    assert '"2W" = "two-wire-input"' in (folder / "index.toml").read_text(encoding="utf-8")
    typed()
    assert main(["plant", "import", file, "--plant", str(folder)]) == 1
    assert "0 new, 0 changed, 2 unchanged" in capsys.readouterr().out


def test_without_an_answer_it_is_said_how_to_do_without(
    folder: Path, typed, capsys: pytest.CaptureFixture[str]
) -> None:
    typed()
    file = str(folder.parent / "list.csv")
    assert main(["plant", "import", file, "--plant", str(folder)]) == 2
    assert "write index.toml by hand, or add --guess" in capsys.readouterr().err
    assert not (folder / "index.toml").exists()


def test_a_trial_as_json_tells_every_row_and_writes_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = str(folder.parent / "list.csv")
    words = ["plant", "import", file, "--guess", "--trial", "--json", "--plant", str(folder)]
    assert main(words) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["written"] is False
    assert [(row["row"], row["tag"], row["result"]) for row in data["rows"]] == [
        (2, "LT-1", "rejected"), (3, "PT-2", "new"),
    ]  # fmt: skip
    assert sorted(path.name for path in folder.iterdir()) == ["plant.toml", "sheets"]


def test_a_list_that_comes_later_is_told_as_its_lines_of_the_mapping(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The mapping is the user's by then: what to write is told, ready to be taken over."""
    words = ["plant", "import", str(folder.parent / "list.csv"), "--plant", str(folder), "--guess"]
    assert main(words) == 1
    cables = folder.parent / "cables.csv"
    cables.write_text("Cable,Length\nW12,85 m\n", encoding="utf-8")
    capsys.readouterr()
    assert main([*words, "--cables", str(cables)]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert told.endswith('write under [cables]: cable = "Cable", length = "Length"\n')


def test_a_page_is_one_of_the_index_and_not_of_the_lists_beside_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The index is the second page of a workbook; the list of cables, a CSV, has no pages."""
    book = Workbook()
    book.active.append(["notes"])
    page = book.create_sheet("index")
    for line in INDEX.splitlines():
        page.append(line.split(";"))
    file, cables = folder.parent / "list.xlsx", folder.parent / "cables.csv"
    book.save(file)
    cables.write_text("Cable,Length\nW12,85 m\n", encoding="utf-8")
    words = ["plant", "import", str(file), "--page", "index", "--cables", str(cables)]
    assert main([*words, "--guess", "--trial", "--json", "--plant", str(folder)]) == 1
    told = json.loads(capsys.readouterr().out)
    assert {row["tag"] for row in told["rows"]} >= {"LT-1", "PT-2"}


def test_the_report_is_written_for_spreadsheets(folder: Path) -> None:
    report = folder / "import.csv"
    words = ["plant", "import", str(folder.parent / "list.csv"), "--guess", "--report", str(report)]
    assert main([*words, "--plant", str(folder)]) == 1
    assert report.read_bytes().startswith(b"\xef\xbb\xbftable,row,tag")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["plant", "import", "nix.csv", "--plant", "WORKS"], "nix.csv: there is no such file"),
        (["plant", "import", "LIST"], "the demo plant is read-only"),
        (["plant", "make", "x"], "'make' is no job of plant"),
        (["plant", "import", "LIST", "--plant", "WORKS", "--map", "nix.toml"], "no such file"),
        (["plant", "import", "LIST", "--plant", "WORKS", "--page", "2"], "has no pages"),
        (["plant", "new", "WORKS/plant.toml/x"], "cannot be made"),
        (["plant", "new", "x", "--name", "a\x1b"], "is no name"),
        (["sheet", "make"], "'make' is no job of sheet"),
        (["sheet", "show"], "name a loop"),
        (["sheet", "show", "LT-999"], "no loop called 'LT-999'"),
        (["sheet", "new", "LT-1", "--type", "trip"], "the demo plant is read-only"),
        (["sheet", "new", "../x", "--type", "trip", "--plant", "WORKS"], "is no name"),
        (["sheet", "new", "x", "--type", "tripp", "--plant", "WORKS"], "did you mean trip"),
        (["sheet", "new", "x", "--type", "trip", "--set", "a", "--plant", "WORKS"], "FIELD=VALUE"),
        (["sheet", "new", "x", "--type", "trip", "--set", "lenght=1", "--plant", "WORKS"],
         "did you mean length"),
        (["sheet", "new", "x", "--type", "trip", "--set", "coil=1", "--plant", "WORKS"],
         "coil: a trip has none"),
        (["sheet", "new", "x", "--type", "trip", "--range", "0-5", "--plant", "WORKS"],
         "range: the range 0 to 5 has no unit"),
        (["find", "x", "--most", "many"], "--most: 'many' is no whole number from 1 to 100000"),
        (["completion", "tcsh"], "no shell or kind of words called 'tcsh'"),
    ],
)  # fmt: skip
def test_a_slip_is_told_in_one_line(
    words: list[str], told: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    places = {"WORKS": str(folder), "LIST": str(folder.parent / "list.csv")}
    said = [
        text.replace("WORKS", places["WORKS"]).replace("LIST", places["LIST"]) for text in words
    ]
    assert main(said) == 2
    err = capsys.readouterr().err
    assert told in err
    assert len(err.splitlines()) == 1


def test_a_sheet_is_started_by_arguments(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["sheet", "new", "LT-301", "--type", "two-wire-input", "--range", "0-1800 mm"]
    more = ["--service", "receiver level", "--set", "length=90 m", "--set", "box=JB 4"]
    assert main([*words, *more, "--plant", str(folder)]) == 0
    told = capsys.readouterr().out
    assert "[W3+.JB-4] JB-4:1 [W4+.JB-4 W4+]" in told
    loop = open_plant(folder).load("LT-301")
    assert (loop.service, loop.range) == ("receiver level", ("mm", 0.0, 1800.0))
    assert main([*words, "--plant", str(folder)]) == 2
    assert "has a sheet already" in capsys.readouterr().err
    assert main(["check", "--plant", str(folder)]) in (0, 1)


def test_a_sheet_is_started_by_questions(
    folder: Path, typed, capsys: pytest.CaptureFixture[str]
) -> None:
    typed("TT 5", "TT-5", "thermopile", "rtd", "oil", "0-5 bar", "0-200 C", "", "cab 3", "duct",
          "zone 9", "zone 1", "", "80")  # fmt: skip
    assert main(["sheet", "new", "--plant", str(folder)]) == 0
    told = capsys.readouterr()
    for sentence in ("'TT 5' is no name", "no loop type called 'thermopile'",
                     "'bar' is no unit of temp", "'zone 9' is no area"):  # fmt: skip
        assert sentence in told.err
    loop = open_plant(folder).load("TT-5")
    assert (loop.range, loop.place("head").area) == (("degC", 0.0, 200.0), "zone 1")
    assert loop.place("cabinet").title == "cab 3"
    assert "then diagnose troubleshoot TT-5" in told.out


@pytest.mark.parametrize(
    ("answer", "becomes"),
    [("1", "barrier-input"), ("Resistance thermometer", "rtd-input"),
     ("230 V", "solenoid-output-ac"), ("solenoid-output", "solenoid-output"),
     ("3-wire transmitter", "three-wire-input")],
)  # fmt: skip
def test_a_loop_type_is_named_by_number_or_words(
    answer: str, becomes: str, folder: Path, typed, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is one type's name is that type, though it is the beginning of another's."""
    typed("0", "99", "input", answer, *[""] * 15)
    assert main(["sheet", "new", "XX-7", "--plant", str(folder)]) == 0
    asked = capsys.readouterr().err
    assert "'input' can mean barrier-input, " in asked
    assert "no loop type called '0'" in asked
    assert "no loop type called '99'" in asked
    assert open_plant(folder).load("XX-7").type == becomes


def test_a_type_of_the_plant_is_offered_with_what_it_is(
    folder: Path, typed, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "models").mkdir()
    text = (models() / "trip.toml").read_text(encoding="utf-8")
    own = re.sub(r"(?m)^service *=.*$", 'service = "gas alarm of ours"', text, count=1)
    (folder / "models" / "own-trip.toml").write_text(own, encoding="utf-8")
    typed("alarm of ours", *[""] * 15)
    assert main(["sheet", "new", "XX-8", "--plant", str(folder)]) == 0
    assert "own-trip            gas alarm of ours" in capsys.readouterr().err
    assert open_plant(folder).load("XX-8").type == "own-trip"


@pytest.mark.parametrize("tag", open_plant().tags())
def test_each_sheet_of_the_demo_plant_is_drawn(
    tag: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every part that is no latent defect stands in the drawing, in brackets."""
    loop = open_plant().load(tag)
    assert main(["sheet", "show", tag]) == 0
    drawn = capsys.readouterr().out.partition("Told by the sheet")[0]
    assert all(len(line) <= 80 for line in drawn.splitlines())
    words = set(drawn.replace("[", " ").replace("]", " ").split())
    missing = [part.name for part in loop.parts if not part.kind.latent and part.name not in words]
    assert missing == []


def test_finding_answers_and_says_when_there_is_nothing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["find", "which", "loops", "pass", "through", "JB-9?"]) == 0
    assert "JB9:1, JB9:2 in junction box JB9" in " ".join(capsys.readouterr().out.split())
    assert main(["find", "LT-214", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["found"][0]["tag"] == "LT-214"
    assert data["neighbours"] == [
        {"what": "by the sheet", "name": "on the same 24 V supply", "tags": ["LT-216"]}
    ]
    assert main(["find", "solvent", "recever"]) == 1
    assert "No loop is called by 'solvent recever'. Like it:" in capsys.readouterr().out
    assert main(["find", "qqqq"]) == 1
