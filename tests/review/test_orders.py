"""Import of older records: every line accounted for, nothing mended in silence."""

import errno
from datetime import date
from pathlib import Path

import pytest

from diagnose.errors import SheetError
from diagnose.review.count_table import read_counts
from diagnose.review.export import _reason, export
from diagnose.review.order_map import OrderMap, read_map
from diagnose.review.records import Records, Source
from diagnose.review.refused import ReviewError
from diagnose.review.work_orders import read_orders

# Koolen, Design of Simple and Robust Process Plants (Wiley-VCH 2001), table 8.1, p. 285-286:
# call-outs in 2.5 years by cause.  The printed total of the level column is 629; it adds to 670.
KOOLEN = """\
cause,flow (873),level (923),pressure (1322),temperature (2302)
sensor,27,18,21,46
electric connection,9,6,8,50
electronics,21,5,14,0
electronics grounding,8,2,4,6
signal drift,28,30,13,3
accuracy,12,3,6,1
mechanical,44,30,8,9
impulse line plugging,184,324,131,-
frost,3,6,3,-
system hardware,2,1,1,0
system software,11,4,5,2
installation,8,3,8,3
process,21,14,24,4
other,34,101,33,27
no problem found,106,123,41,31
printed total,518,629,320,182
"""


def test_the_column_of_a_published_table_that_does_not_add_up_is_reported(tmp_path: Path) -> None:
    path = tmp_path / "koolen.csv"
    path.write_text(KOOLEN)
    columns = {column.name: column for column in read_counts(path)}
    assert [name for name, column in columns.items() if not column.adds_up] == ["level"]
    assert columns["level"].problem() == "level: the causes add up to 670, the total says 629"
    # The rates that the source prints, % a year: 23.7, 27.3, 9.7, 3.2.
    rates = [round(100 * (c.rate(2.5, 0.90).value or 0), 1) for c in columns.values()]
    assert rates == [23.7, 27.3, 9.7, 3.2]
    # 28.0 to 35.9 years between failures of a temperature loop, by chi-square.
    hot = columns["temperature"].rate(2.5, 0.90)
    assert hot.low and hot.high
    assert (round(1 / hot.high, 1), round(1 / hot.low, 1)) == (28.0, 35.9)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "a head with populations"),
        ("cause,flow\na,1\n", "names no population"),
        ("cause,flow (3)\na,1,2\n", "line 2 has 3 cells"),
        ("cause,flow (3)\na,-1\n", "is no whole number"),
    ],
)
def test_a_table_of_counts_says_what_is_wrong(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / "counts.csv"
    path.write_text(text)
    with pytest.raises(ReviewError, match=sentence):
        read_counts(path)


ORDERS = """\
number,day,tag,status,fault,mode,mechanism,cause,detection,activity,note
1001,2023-04-05,LT-214,cause confirmed,core: open,no output,open circuit,,alarm,mended,"in JB9, wet"
1002,2023-04-06,LT-216,no fault found,,high output,,,,,
1002,2023-04-06,LT-216,no fault found,,high output,,,,,
1001,2023-05-01,LT-216,open,,,,,,,
1003,06.04.2023,LT-216,open,,,,,,,
1004,2999-01-01,LT-216,open,,,,,,,
1005,2023-04-06,,open,,,,,,,
1006,2023-04-06,LT-216,done,,,,,,,
1007,2023-04-06,LT-216,open,core: opn,,,,,,
1008,2023-04-06,LT-216
,2023-04-06,LT-216,open,,,,,,,

1009,2023-04-07,../../etc,open,,,,,,,
1010,2023-04-08,FT-118,open,supply: dead,,,,,,=HYPERLINK("x")
"""


def test_each_line_is_a_row_or_is_rejected_with_its_reason(tmp_path: Path) -> None:
    path = tmp_path / "orders.csv"
    path.write_text(ORDERS)
    found = read_orders(path, plant="here")
    assert [row.name for row in found.rows] == ["1001", "1002", "1010"]
    assert found.lines == len(found.rows) + len(found.rejects) == 13
    assert [(item.line, item.column) for item in found.rejects] == [
        (4, "number"), (5, "number"), (6, "day"), (7, "day"), (8, "tag"), (9, "status"),
        (10, "fault"), (11, ""), (12, "number"), (14, "tag"),
    ]  # fmt: skip
    reasons = {item.line: item.reason for item in found.rejects}
    assert reasons[4] == "it repeats line 3 ('1002')"
    assert reasons[5] == "it has the number of line 2 ('1001')"
    assert reasons[6] == "'06.04.2023' is no day such as 2024-01-31"
    assert "did you mean open" in reasons[10]


def test_the_fields_stay_apart_and_a_suspected_fault_is_no_confirmed_one(tmp_path: Path) -> None:
    path = tmp_path / "orders.csv"
    path.write_text(ORDERS)
    first, _, last = read_orders(path, plant="here").rows
    assert (first.mode, first.mechanism, first.cause) == ("no output", "open circuit", None)
    assert (first.detection, first.activity, first.note) == ("alarm", "mended", "in JB9, wet")
    assert (first.kind, first.fault, first.day) == ("core", "open", date(2023, 4, 5))
    assert (last.fault, last.suspect_kind, last.suspect_fault) == (None, "supply", "dead")


MAP = """
[columns]
number = "Order"
day = "Reported on"
tag = "Location"
mode = "Code"
status = "State"

[format]
day = "%d.%m.%Y"
separator = ";"

[mode]
"K1" = "no output"

[status]
"TC" = "cause confirmed"
"""


def test_a_company_s_own_columns_and_codes_are_mapped_and_nothing_is_lost(tmp_path: Path) -> None:
    (tmp_path / "map.toml").write_text(MAP)
    (tmp_path / "orders.csv").write_text(
        "Order;Reported on;Location;Code;State\nA;31.01.2024;LT-214;K1;TC\n"
        "B;01.02.2024;LT-214;K9;TC\n"
    )
    found = read_orders(tmp_path / "orders.csv", read_map(tmp_path / "map.toml"))
    first, second = found.rows
    assert (first.mode, first.status) == ("no output", "cause confirmed")
    assert first.note == "status: TC; mode: K1"
    assert second.mode == "K9"
    assert found.unmapped == {("mode", "K9"): 1}


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (('number = "Order"\n', ""), "columns: number"),
        (('separator = ";"', 'separator = ";;"'), "format: separator"),
        (('"TC" = "cause confirmed"', '"TC" = "done"'), "status: TC"),
        (("[mode]", "[modes]"), "modes"),
        (("[mode]", '[fault]\n"E" = "core: opn"\n[mode]'), "fault: E"),
    ],
)
def test_each_mistake_in_a_map_is_told(tmp_path: Path, change: tuple[str, str], key: str) -> None:
    path = tmp_path / "map.toml"
    path.write_text(MAP.replace(*change))
    with pytest.raises(SheetError) as caught:
        read_map(path)
    assert key in [where for _, where, _ in caught.value.problems]


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        (b"number,day\n1,2024-01-01\n", "no column 'tag'"),
        (b"number,day,tag\n1,2024-01-01,L\xffT\n", "line 2 is not UTF-8"),
        (b'number,day,tag\n1,2024-01-01,"LT\n', "line 2"),
        (b"", "no column 'number'"),
    ],
)
def test_a_file_that_is_no_table_of_orders_is_refused(
    tmp_path: Path, raw: bytes, sentence: str
) -> None:
    path = tmp_path / "orders.csv"
    path.write_bytes(raw)
    with pytest.raises(ReviewError, match=sentence):
        read_orders(path, OrderMap())


def test_all_columns_that_lack_are_told_at_once_with_the_cure(tmp_path: Path) -> None:
    """They were told one a run, and nothing said that a map names them."""
    path = tmp_path / "orders.csv"
    path.write_text("Order,date,tag\n1,2024-01-01,LT-214\n")
    with pytest.raises(ReviewError) as caught:
        read_orders(path, OrderMap())
    first, second = str(caught.value).splitlines()
    assert "no column 'number'" in first and "no column 'day'" in second
    assert '--map: [columns] day = "..."' in second


@pytest.mark.parametrize("ending", [".csv", ".json", ".parquet"])
def test_rows_are_exported_whole_and_never_as_formulas(tmp_path: Path, ending: str) -> None:
    (tmp_path / "orders.csv").write_text(ORDERS)
    rows = read_orders(tmp_path / "orders.csv", plant="here").rows
    path = tmp_path / f"out{ending}"
    assert export(Records.of_rows(rows), path) == 3
    if ending == ".parquet":
        assert Records.open([Source(str(path))]).rows() == tuple(
            sorted(rows, key=lambda row: (row.day, row.name))
        )
    else:
        text = path.read_text(encoding="utf-8")
        assert ("'=HYPERLINK" in text) == (ending == ".csv")
        assert "\n=HYPERLINK" not in text
    assert [item.name for item in tmp_path.iterdir() if item.name.startswith(".")] == []


def test_why_an_export_cannot_be_written_is_told_in_words(tmp_path: Path) -> None:
    """A full disk was told as ``Async write failed for range [offset=0, size=418]: {...}``."""
    import duckdb

    (tmp_path / "orders.csv").write_text(ORDERS)
    records = Records.of_rows(read_orders(tmp_path / "orders.csv", plant="here").rows)
    with pytest.raises(
        ReviewError, match=r"out\.csv cannot be written: no such file or directory$"
    ):
        export(records, tmp_path / "none" / "out.csv")
    full = duckdb.IOException(
        'IO Error: Async write failed for range [offset=0, size=418]: {"exception_type":"IO",'
        f'"exception_message":"Could not write file","errno":"{errno.ENOSPC}"}}'
    )
    assert _reason(full) == "no space left on device"


def test_a_database_by_address_is_a_source(tmp_path: Path) -> None:
    """A file of the engine itself stands for a server: the same queries, by address."""
    import duckdb

    (tmp_path / "orders.csv").write_text(ORDERS)
    records = Records.of_rows(read_orders(tmp_path / "orders.csv", plant="here").rows)
    export(records, tmp_path / "out.parquet")
    with duckdb.connect(str(tmp_path / "company.db")) as company:
        company.execute(
            f"create table history as select name, tag, day, status, fault, kind "
            f"from read_parquet('{tmp_path}/out.parquet')"
        )
    found = Records.open([Source(f"duckdb:{tmp_path}/company.db#history")])
    assert found.count() == 3
    assert [row.kind for row in found.rows()] == ["core", None, None]
    with pytest.raises(ReviewError, match="names no table"):
        Records.open([Source(f"duckdb:{tmp_path}/company.db#x; drop table history")])


def test_case_files_by_a_pattern_are_a_source(tmp_path: Path) -> None:
    """``file://`` goes the way of any other address, without a network."""
    from diagnose.library import demo_plant

    found = Records.open([Source(f"file://{demo_plant()}/cases", "demo")])
    assert found.count() >= 5


def test_capitals_do_not_make_another_loop_and_strangers_are_named(tmp_path: Path) -> None:
    path = tmp_path / "orders.csv"
    path.write_text("number,day,tag\n1,2024-01-01,lt-214\n2,2024-01-02,LT-214\n3,2024-01-03,XX-1\n")
    found = read_orders(path, plant="here", tags=("LT-214", "LT-216"))
    assert [row.tag for row in found.rows] == ["LT-214", "LT-214", "XX-1"]
    assert found.strangers == {"XX-1": 1}
    assert not read_orders(path, plant="here").strangers  # no plant, so none is known
