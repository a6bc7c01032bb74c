"""An index becomes sheets that load, every row is accounted for, and no hand edit is lost."""

import csv
import io
import tomllib
from pathlib import Path

import pytest

from diagnose.errors import SheetError
from diagnose.library import models, type_names
from diagnose.loops import catalogue as catalogue_module
from diagnose.loops.cells import inert
from diagnose.loops.index.handwork import digest_of, found_at, stamped
from diagnose.loops.index.importing import Imported, import_index
from diagnose.loops.index.mapping import Mapped, read_mapping
from diagnose.loops.index.mapping import mapping_text as text_of
from diagnose.loops.index.report import report_csv
from diagnose.loops.index.roles import ROLES
from diagnose.loops.index.tables import Grid, read_grid
from diagnose.loops.new_plant import new_plant
from diagnose.loops.plant import open_plant
from diagnose.loops.raw import nodes_of, structure
from diagnose.loops.sheet_text import Problems
from messy_index import LETTERS, Messy, mapping_text, messy


def bring(folder: Path, rows: str, mapped: Mapped | None = None, **more: object) -> Imported:
    """Import an index of a few rows; its first line holds the meanings themselves."""
    lines = [tuple(cell.strip() for cell in line.split("|")) for line in rows.strip().splitlines()]
    grid = Grid(Path("index.csv"), tuple(lines), "CSV")
    mapped = mapped or Mapped({"index": {name: name for name in lines[0]}})
    return import_index(folder, mapped, {"index": grid}, **more)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new_plant(tmp_path / "plant", "Invented works")
    return tmp_path / "plant"


TWO = """
tag    | service        | type           | low | high | unit | length | cable | supply
LT-1   | lye tank level | two-wire-input | 0   | 1800 | mm   | 390 ft | W7    | G4
PT-2   | lye pressure   | barrier-input  | 0   | 6    | bar  |        | W8    | G4
"""


def texts(done: Imported, number: int) -> str:
    return " ".join(f"{note.column}: {note.text}" for row in done.rows if row.number == number
                    for note in row.notes)  # fmt: skip


def results(done: Imported) -> list[str]:
    return [row.result for row in done.rows]


# -- what a sheet says


def test_a_row_becomes_a_loop(folder: Path) -> None:
    """390 ft are 118.872 m (1 ft = 0.3048 m exactly, NIST SP 811, B.8); the type has 120 m."""
    assert results(bring(folder, TWO)) == ["new", "new"]
    plant = open_plant(folder)
    loop, usual = plant.load("LT-1"), plant.load("PT-2")
    assert (loop.service, loop.range) == ("lye tank level", ("mm", 0.0, 1800.0))
    assert loop.place_of("LT-1:+") == "transmitter"
    ratio = loop.part("W7+").values["resistance"] / usual.part("W8+").values["resistance"]
    assert ratio == pytest.approx(118.872 / 120, rel=1e-6)
    assert [(item.tag, sorted(item.through)) for item in loop.neighbours] == [
        ("PT-2", ["G4", "G4+.X20", "G4-.X20"])
    ]


def test_an_empty_cell_is_told_with_what_is_taken(folder: Path) -> None:
    done = bring(folder, TWO)
    assert texts(done, 3) == "length: as the loop type has it"
    assert "#   length of the cable from the cabinet" in (
        folder / "sheets" / "PT-2.toml"
    ).read_text(encoding="utf-8")


def test_a_default_of_the_mapping_is_taken_and_told(folder: Path) -> None:
    columns = {name: name for name in TWO.split("\n")[1].replace(" ", "").split("|")}
    mapped = Mapped({"index": columns}, by_type={"barrier-input": {"length": "60 m"}})
    assert texts(bring(folder, TWO, mapped), 3) == "length: 60 m, by the mapping file"
    assert 'length = "60 m"' in (folder / "sheets" / "PT-2.toml").read_text(encoding="utf-8")


def test_a_set_point_is_put_on_the_signal(folder: Path) -> None:
    """900 mm of 0-1800 mm is 50 %, on 1-5 V that is 3 V (IEC 60381-2: 1 to 5 V for 0 to 100 %)."""
    done = bring(folder, """
        tag  | type | low  | high | unit | set_point
        LA-1 | trip | 0    | 1800 | mm   | 900
        LA-2 | trip | 0    | 1800 | mm   | 0.9 m
        LA-3 | trip | 0    | 1800 | mm   | 50 %
        LA-4 | trip | 0    | 1800 | mm   | 3 V
        LA-5 | trip | 0    | 1800 | mm   | 2 bar
    """)  # fmt: skip
    assert results(done) == ["new"] * 4 + ["rejected"]
    plant = open_plant(folder)
    for tag in ("LA-1", "LA-2", "LA-3", "LA-4"):
        assert plant.load(tag).part(tag).values["set_point"] == pytest.approx(3.0)


def test_a_name_that_the_type_has_for_something_else_makes_room(folder: Path) -> None:
    done = bring(folder, "tag | type | cable\nLT-1 | two-wire-input | W4\n")
    assert results(done) == ["new"]
    assert "W4 of the loop type is called W4-other" in texts(done, 2)
    names = {part.name for part in open_plant(folder).load("LT-1").parts}
    assert {"W4+", "W4-other+"} <= names


# -- rows that make no sheet


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("../LT-9 | two-wire-input | ", "is no name"),
        ("..\\\\LT-9 | two-wire-input | ", "is no name"),
        ("CON | two-wire-input | ", "keep for a device"),
        ("LT-9. | two-wire-input | ", "full stop"),
        (" | two-wire-input | ", "no tag"),
        ("LT-9 | two-wire-inputt | ", "did you mean two-wire-input"),
        ("LT-9 |  | ", "no loop type"),
    ],
)
def test_a_row_that_cannot_be_trusted_makes_no_sheet(folder: Path, row: str, told: str) -> None:
    before = sorted(folder.parent.rglob("*"))
    done = bring(folder, f"tag | type | service\n{row} level\n")
    assert results(done) == ["rejected"]
    assert told in texts(done, 2)
    assert sorted(folder.parent.rglob("*")) == before


def test_a_tag_told_in_two_ways_is_told_by_neither(folder: Path) -> None:
    done = bring(folder, """
        tag   | type           | service
        LT-1  | two-wire-input | level
        lt 1  | two-wire-input | flow
        LT-2  | two-wire-input | level
        LT-2  | two-wire-input | level
    """)  # fmt: skip
    assert results(done) == ["rejected", "rejected", "new", "rejected"]
    assert "stands in row 3 as well, with another service; keep one" in texts(done, 2)
    assert "stands in row 4 already, told the same way" in texts(done, 5)


def test_what_the_sheet_check_finds_rejects_the_row(folder: Path) -> None:
    done = bring(folder, "tag | type | lift_off\nLT-1 | two-wire-input | 0\n")
    assert results(done) == ["rejected"]
    assert "too small" in texts(done, 2)


# -- importing again


def test_only_what_changed_is_written_again(folder: Path) -> None:
    bring(folder, TWO)
    paths = [folder / "sheets" / f"{tag}.toml" for tag in ("LT-1", "PT-2")]
    before = [path.stat().st_mtime_ns for path in paths]
    done = bring(folder, TWO.replace("lye tank", "resin tank"))
    assert results(done) == ["changed", "unchanged"]
    assert '-service = "lye tank level"\n+service = "resin tank level"' in texts(done, 2)
    assert [path.stat().st_mtime_ns == old for path, old in zip(paths, before, strict=True)] == [
        False,
        True,
    ]


def test_a_hand_edit_is_never_written_over(folder: Path) -> None:
    bring(folder, TWO)
    path = folder / "sheets" / "LT-1.toml"
    edited = path.read_text(encoding="utf-8").replace("lye tank level", "lye tank, east")
    path.write_text(edited, encoding="utf-8")
    same = bring(folder, TWO)
    other = bring(folder, TWO.replace("1800", "2000"))
    assert results(same)[0] == results(other)[0] == "kept"
    assert path.read_text(encoding="utf-8") == edited
    assert (same.problems, other.problems) == (0, 1)
    assert '+range   = ["0 mm", "2000 mm"]' in texts(other, 2)
    taken = bring(folder, TWO.replace("1800", "2000"), take=["lt-1"])
    assert results(taken)[0] == "changed"
    assert open_plant(folder).load("LT-1").range[2] == 2000
    assert (folder / "sheets" / "LT-1.toml.old").read_text(encoding="utf-8") == edited
    assert open_plant(folder).tags() == ("LT-1", "PT-2")


def test_a_sheet_written_by_hand_is_kept(folder: Path) -> None:
    path = folder / "sheets" / "LT-1.toml"
    path.write_text('[loop]\ntag = "LT-1"\ntype = "two-wire-input"\n', encoding="utf-8")
    assert "written by hand" in texts(bring(folder, TWO), 2)
    assert path.read_text(encoding="utf-8").startswith("[loop]")


def test_a_sheet_in_other_capitals_is_the_same_one(folder: Path) -> None:
    path = folder / "sheets" / "lt-1.toml"
    path.write_text('[loop]\ntag = "lt-1"\ntype = "two-wire-input"\n', encoding="utf-8")
    assert "written by hand" in texts(bring(folder, TWO), 2)
    assert results(bring(folder, TWO, take=["all"])) == ["changed", "unchanged"]
    assert open_plant(folder).tags() == ("PT-2", "lt-1")
    assert open_plant(folder).load("LT-1").service == "lye tank level"


def test_the_folder_of_the_sheets_need_not_be_there(folder: Path) -> None:
    (folder / "sheets").rmdir()
    assert results(bring(folder, TWO)) == ["new", "new"]


def test_what_was_made_is_found_without_being_read(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring(folder, TWO)
    plant = open_plant(folder)
    afresh = {tag: catalogue_module._card(tag, path) for tag, path in plant.sheets().items()}
    monkeypatch.setattr(catalogue_module, "_card", None)
    assert catalogue_module.catalogue(plant) == afresh


def test_line_ends_are_no_edit_and_a_comment_is_one(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    text = stamped('[loop]\ntag = "A"\n')
    for content, untouched in (
        (text, True), (text.replace("\n", "\r\n"), True), (f"# mine\n{text}", False),
        (f"{text}# mine\n", False),
    ):  # fmt: skip
        path.write_bytes(content.encode())
        found = found_at(path)
        assert found is not None
        assert found.untouched is untouched
        assert found.digest == digest_of('[loop]\ntag = "A"\n')


def test_a_trial_writes_nothing_and_a_tag_that_is_gone_is_named(folder: Path) -> None:
    assert results(bring(folder, TWO, dry=True)) == ["new", "new"]
    assert open_plant(folder).tags() == ()
    bring(folder, TWO)
    done = bring(folder, "\n".join(TWO.splitlines()[:3]))
    assert done.left == ("PT-2",)
    assert open_plant(folder).tags() == ("LT-1", "PT-2")


# -- the mess of a whole plant, small


@pytest.fixture(scope="module")
def mess(tmp_path_factory: pytest.TempPathFactory) -> tuple[Messy, Imported, Path]:
    folder = tmp_path_factory.mktemp("mess")
    new_plant(folder, "Invented works")
    (folder / "index.toml").write_text(mapping_text(), encoding="utf-8")
    made = messy(60, seed=2, every=3)
    grids = {name: read_grid(path) for name, path in made.write(folder).items()}
    return made, import_index(folder, read_mapping(folder / "index.toml"), grids), folder


def test_each_planted_mistake_is_found_and_named(mess: tuple[Messy, Imported, Path]) -> None:
    made, done, _ = mess
    rows = {(row.table, row.number): row for row in done.rows}
    assert len({mistake.word for mistake in made.mistakes}) > 18
    for mistake in made.mistakes:
        row = rows[mistake.table, mistake.row]
        assert any(mistake.word in note.text for note in row.notes), mistake
        assert (row.result == "rejected") == (mistake.result == "rejected"), mistake


def test_nothing_else_is_called_wrong(mess: tuple[Messy, Imported, Path]) -> None:
    made, done, _ = mess
    planted = {(mistake.table, mistake.row) for mistake in made.mistakes}
    wrong = {(row.table, row.number) for row in done.rows
             if any(note.kind == "problem" for note in row.notes)}  # fmt: skip
    # The first loop names the cable that the list tells in two ways.
    assert wrong - planted == {("index", 4)}


def test_every_sheet_of_the_mess_loads_and_all_types_are_there(
    mess: tuple[Messy, Imported, Path],
) -> None:
    _, done, folder = mess
    plant = open_plant(folder)
    made = [row.tag for row in done.rows if row.table == "index" and row.result == "new"]
    assert sorted(made) == list(plant.tags())
    assert {plant.load(tag).type for tag in made} == set(LETTERS) == set(ROLES)


def test_a_terminal_list_gives_the_terminals(mess: tuple[Messy, Imported, Path]) -> None:
    """The types come in turn: the second two-wire loop has terminals 11 and 12 by the list."""
    turn = len(LETTERS)
    loop, box = open_plant(mess[2]).load(f"LT-{1000 + turn}"), f"JB{turn // 6 + 1}"
    for sign, terminal in (("+", 11), ("-", 12)):
        end = loop.part(f"W{3000 + turn}{sign}.X{1000 + turn}")
        assert end.pins["terminal"] == f"X{1000 + turn}:{terminal}"
    assert loop.part(f"W{3000 + turn}+.{box}").pins["terminal"].startswith(f"{box}:")


def test_the_report_as_csv_holds_every_row_and_no_formula(
    mess: tuple[Messy, Imported, Path],
) -> None:
    _, done, _ = mess
    rows = list(csv.reader(io.StringIO(report_csv(done))))
    assert {tuple(row[:2]) for row in rows[1:]} == {(r.table, str(r.number)) for r in done.rows}
    assert not [cell for row in rows for cell in row if cell[:1] in tuple("=+-@\t\r")]


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@x", "\t=1", " =1", "|x", "%x"])
def test_a_cell_that_begins_like_a_formula_is_made_inert(cell: str) -> None:
    """OWASP, CSV Injection: = + - @ tab and carriage return begin a formula."""
    assert inert(cell) == f"'{cell}"
    assert inert("LT-1") == "LT-1"


# -- the mapping file and the table of roles


def test_a_mapping_file_reads_back_what_was_written(tmp_path: Path) -> None:
    mapped = Mapped({"index": {"tag": 'Tag "No."', "length": "Länge"}}, {"2W": "two-wire-input"})
    path = tmp_path / "index.toml"
    path.write_text(text_of(mapped), encoding="utf-8")
    assert read_mapping(path) == mapped


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[index]\nservice = 'x'\n", "index: tag: it is missing"),
        ("[index]\ntag = 'x'\nlenght = 'y'\n", "did you mean length"),
        ("[index]\ntag = 1\n", "index: tag: a bare number stands here"),
        ("[index]\ntag = 'x'\n[types]\n2W = 'two-wire'\n", "there is no loop type 'two-wire'"),
        ("[index]\ntag = 'x'\n[units]\nlength = 'kg'\n", "'kg' is no unit of it"),
        ("[index]\ntag = 'x'\n[reading]\ndecimal = ';'\n", "write point, comma or either"),
        ("[index]\ntag = 'x'\n[reading]\nfill_down = ['suply']\n", "did you mean supply"),
        ("[index]\ntag = 'x'\n[defaults.two-wire]\nlength = '1 m'\n", "no such loop type"),
        ("[index]\ntag = 'x'\n[defaults]\nlenght = '1 m'\n", "did you mean length"),
    ],
)
def test_what_is_wrong_in_a_mapping_file_is_told(text: str, told: str, tmp_path: Path) -> None:
    path = tmp_path / "index.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SheetError, match=told.replace("[", r"\[")):
        read_mapping(path)


@pytest.mark.parametrize("name", type_names())
def test_each_loop_type_has_its_roles_and_they_name_what_is_there(name: str) -> None:
    table = tomllib.loads((models() / f"{name}.toml").read_text(encoding="utf-8"))
    raw, roles = structure(table, Problems(name)), ROLES[name]
    nodes = nodes_of(raw.parts)
    for targets in roles.names.values():
        for old, _ in targets:
            begins = (f"{old}:", f"{old}.", f"{old}+", f"{old}-")
            assert any(
                item == old or item.startswith(begins) or item.endswith(f".{old}")
                for item in (*raw.parts, *nodes)
            )
    assert {part for targets in roles.values.values() for part, _ in targets} <= set(raw.parts)
    assert {end for ends in roles.cores.values() for end in ends if end} <= set(nodes)
    assert roles.place in raw.places


def test_a_word_far_from_all_loop_types_is_told_where_to_be_explained(folder: Path) -> None:
    done = bring(folder, TWO.replace("barrier-input", "Pt100 3W       "))
    assert texts(done, 3).startswith(
        "type: 'Pt100 3W' is no loop type; say under [types] in index.toml which one it means"
    )
    assert results(done) == ["new", "rejected"]
