"""A table is read whatever wrote it: encodings, separators, merged cells, titles above it.

Spreadsheets are written by openpyxl, a general-purpose library; CSV after RFC 4180.
"""

import io
import zipfile
from pathlib import Path

import openpyxl
import pytest

from diagnose.loops.index import tables
from diagnose.loops.index.headings import find_columns, guess, labels_of
from diagnose.loops.index.rows import entries
from diagnose.loops.index.tables import Grid, TableError, read_grid

ROWS = (
    ("Tag", "Service", "Length"),
    ("LT-1", 'räk; "cold", 5 °C', "12,5"),
    ("LT-2", "two\nlines", "13"),
)


def written(separator: str) -> str:
    def cell(text: str) -> str:
        doubled = text.replace('"', '""')
        return f'"{doubled}"'

    return "\r\n".join(separator.join(map(cell, row)) for row in ROWS) + "\r\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_text_in_any_encoding_and_with_any_separator(
    encoding: str, separator: str, tmp_path: Path
) -> None:
    path = tmp_path / "index.csv"
    path.write_bytes(written(separator).encode(encoding))
    assert read_grid(path).rows == ROWS


def test_a_decimal_comma_is_no_separator(tmp_path: Path) -> None:
    path = tmp_path / "index.csv"
    path.write_text("Tag;Length;Size\nLT-1;12,5;0,75\nLT-2;8,5;0,75\n", encoding="utf-8")
    assert read_grid(path).rows[1] == ("LT-1", "12,5", "0,75")


def workbook(path: Path) -> Path:
    book = openpyxl.Workbook()
    book.active.title = "Cover"
    page = book.create_sheet("Index")
    page.append(["Instrument index of unit 7"])
    page.append(["Loop", None, "Cable", None, "Branch", None])
    page.append(["Tag", "Supply", "No.", "Length", "No.", "Length"])
    page.append(["LT-1", "G1", "W1", 120.5, "W2", 8])
    page.append(["LT-2", None, "W3", 1.125, "W4", None])
    page.append([None] * 6)
    page.append(["LT-3", "G2", "W5", "=1+1", "W6", True])
    for cells in ("A1:F1", "A2:B2", "C2:D2", "E2:F2", "B4:B5"):
        page.merge_cells(cells)
    book.save(path)
    return path


def test_a_spreadsheet_with_merged_cells(tmp_path: Path) -> None:
    grid = read_grid(workbook(tmp_path / "index.xlsx"))
    assert [label.full for label in labels_of(grid, 2)] == [
        "Loop / Tag", "Loop / Supply", "Cable / No.", "Cable / Length", "Branch / No.",
        "Branch / Length",
    ]  # fmt: skip
    assert guess(grid, "index") == {
        "tag": "Tag", "supply": "Supply", "cable": "Cable / No.", "length": "Cable / Length",
        "branch_length": "Branch / Length",
    }  # fmt: skip
    wanted = {"tag": "Tag", "supply": "Supply", "length": "Cable / Length"}
    columns = find_columns(grid, "index", wanted)
    rows = list(entries(grid, "index", columns))
    assert [row.number for row in rows] == [4, 5, 7]
    assert [row.cells["supply"] for row in rows] == ["G1", "G1", "G2"]
    assert [row.cells["length"] for row in rows][:2] == ["120.5", "1.125"]


def test_a_page_is_chosen_by_its_name(tmp_path: Path) -> None:
    path = workbook(tmp_path / "index.xlsx")
    assert read_grid(path, "Index").rows == read_grid(path).rows
    with pytest.raises(TableError, match="no page 'Indx'; did you mean Index"):
        read_grid(path, "Indx")


def test_a_stray_value_in_the_last_corner_takes_no_memory(tmp_path: Path) -> None:
    """The largest page of the file format has 1,048,576 rows and 16,384 columns (ECMA-376)."""
    book = openpyxl.Workbook()
    book.active["A1"] = "Tag"
    book.active.cell(1_048_576, 16_384).value = "x"
    book.save(tmp_path / "index.xlsx")
    with pytest.raises(TableError, match="far below or beside its table"):
        read_grid(tmp_path / "index.xlsx")


def grid_of(*rows: tuple[str, ...]) -> Grid:
    return Grid(Path("index.csv"), rows, "CSV")


def test_a_heading_that_is_there_twice_needs_its_group() -> None:
    grid = grid_of(
        ("Cable", "", "Spur", ""), ("Tag", "Length", "No.", "Length"), ("a", "1", "b", "2")
    )
    with pytest.raises(TableError, match="is there 2 times; write Cable / Length or Spur / Length"):
        find_columns(grid, "index", {"tag": "Tag", "length": "Length"})


def test_a_heading_that_is_not_there_is_told() -> None:
    grid = grid_of(("Tag No.", "Service"), ("LT-1", "x"))
    with pytest.raises(TableError, match="no column headed 'Servise'; did you mean Service"):
        find_columns(grid, "index", {"tag": "Tag No.", "service": "Servise"})


def test_units_of_headings_count() -> None:
    grid = grid_of(("TAG", "Length [ft]", "Min (bar)"), ("LT-1", "390", "0"))
    columns = find_columns(grid, "index", {"tag": "tag", "length": "length", "low": "min"})
    assert columns.units == {"length": "ft"}


def test_titles_and_headings_between_the_rows_are_skipped() -> None:
    grid = grid_of(
        ("Tag", "Cable"), ("LT-1", "W1"), ("AREA 2", ""), ("Tag", "Cable"), ("LT-2", "W2")
    )
    columns = find_columns(grid, "index", {"tag": "Tag", "cable": "Cable"})
    found = [(row.tag, row.result) for row in entries(grid, "index", columns)]
    assert found == [("LT-1", "used"), ("AREA 2", "skipped"), ("Tag", "skipped"), ("LT-2", "used")]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\x00\x01\x02", "no text and no spreadsheet"),
        (b"PK\x03\x04 broken", "damaged spreadsheet"),
        (b"\xd0\xcf\x11\xe0 broken", "no spreadsheet"),
    ],
)
def test_what_is_no_table_is_told(content: bytes, told: str, tmp_path: Path) -> None:
    path = tmp_path / "index.xlsx"
    path.write_bytes(content)
    with pytest.raises(TableError, match=told):
        read_grid(path)


def test_absent_and_too_large_files_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(TableError, match="there is no such file"):
        read_grid(tmp_path / "nix.csv")
    path = tmp_path / "index.csv"
    path.write_text("a,b\n" * 50, encoding="utf-8")
    monkeypatch.setattr(tables, "MOST_ROWS", 10)
    with pytest.raises(TableError, match="more than 10 rows"):
        read_grid(path)
    monkeypatch.setattr(tables, "LARGEST", 10)
    with pytest.raises(TableError, match="larger than"):
        read_grid(path)


def test_a_file_that_unpacks_to_far_more_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/workbook.xml", b" " * 200_000)
    path = tmp_path / "index.xlsx"
    path.write_bytes(packed.getvalue())
    monkeypatch.setattr(tables, "UNPACKED", 100_000)
    with pytest.raises(TableError, match="unpacks to more than"):
        read_grid(path)
