"""A review of packs says what a review of the same cases in files of their own says.

The judge is the review of the folder before it was packed.
"""

import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.casework import events as e
from diagnose.casework.log import CaseFile
from diagnose.casework.packing import pack_folder, unpack_folder, unpack_one
from diagnose.library import demo_plant
from diagnose.review import digests, from_files
from diagnose.review.records import Records, Source
from diagnose.review.refused import ReviewError
from diagnose.review.rows import CaseRow

LATER = date(2099, 1, 1)


@pytest.fixture
def plant(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo plant, to be packed."""
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    return Path(shutil.copytree(demo_plant(), tmp_path / "plant"))


def rows(folder: Path, keep: bool = True) -> tuple[CaseRow, ...]:
    return Records.open([Source(str(folder), "here")], keep).rows()


def test_the_reports_are_identical(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The answers on the screen, as JSON and as a page; read at first, and from the digest."""
    told = []
    for packed in (False, True):
        if packed:
            assert pack_folder(plant / "cases", LATER).taken > 100
        for _ in range(2):
            assert main(["review", str(plant)]) == 0
            assert main(["review", str(plant), "--json"]) == 0
            told.append(capsys.readouterr().out)
            page = plant / "page.html"
            assert main(["review", str(plant), "--html", str(page)]) == 0
            capsys.readouterr()
            told[-1] += page.read_text(encoding="utf-8")
    assert "How often does it fail?" in told[0]
    assert [text == told[0] for text in told] == [True] * 4


def test_rows_are_identical_however_they_are_shared_out(
    plant: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Small batches go to several processes; one batch is taken apart here."""
    folder = plant / "cases"
    before = rows(folder, keep=False)
    pack_folder(folder, LATER)
    assert rows(folder, keep=False) == before
    monkeypatch.setattr(from_files, "BATCH", 7)
    assert rows(folder, keep=False) == before
    unpack_folder(folder)
    assert rows(folder, keep=False) == before


def test_one_pack_is_a_source(plant: Path) -> None:
    folder = plant / "cases"
    before = {row.name: row for row in rows(folder)}
    packs = pack_folder(folder, LATER).packs
    for path, count in packs.items():
        found = rows(path)
        assert len(found) == count
        assert all(before[row.name] == row for row in found)


def test_a_digest_follows_packs(plant: Path) -> None:
    """Packed, gone on with, packed again, unpacked: each time the rows are those of the cases."""
    folder = plant / "cases"
    for path in sorted(folder.glob("*.jsonl"))[30:]:
        path.unlink()
    before = rows(folder)
    names = [row.name for row in before]
    pack_folder(folder, LATER)
    assert rows(folder) == rows(folder) == before
    path = _packed(folder)
    end = CaseFile.open(path, write=False).case.at
    assert end is not None
    with CaseFile.open(path, clock=lambda: end + timedelta(hours=2)) as file:
        file.append(e.Noted("heard of it again"))
    changed = {row.name: row for row in rows(folder)}
    assert [row.name for row in rows(folder)] == names
    old = {row.name: row for row in before}
    assert {name for name in names if changed[name] != old[name]} == {path.stem}
    assert changed[path.stem].elapsed == pytest.approx(old[path.stem].elapsed + 120)
    assert pack_folder(folder, LATER).taken == 1
    assert {row.name: row for row in rows(folder)} == changed
    unpack_folder(folder)
    assert {row.name: row for row in rows(folder)} == changed
    assert digests.digest_path(folder, "here").is_file()


def test_the_digest_of_one_folder_holds_nothing_of_another(plant: Path) -> None:
    """Also where rows of the first were left out because their cases have files of their own."""
    first, second = plant / "cases", plant / "other"
    second.mkdir()
    for path in sorted(first.glob("*.jsonl"))[:20]:
        path.rename(second / path.name)
    both = [Source(str(first), "here"), Source(str(second), "here")]
    before = Records.open(both, keep=False).rows()
    for folder in (first, second):
        pack_folder(folder, LATER)
    unpack_one(_packed(first))
    for _ in range(2):
        assert Records.open(both).rows() == before
    assert len(rows(first)) == len(before) - 20
    assert len(rows(second)) == 20


def _packed(folder: Path) -> Path:
    """A case in a pack that ended without a fault."""
    from diagnose.casework.log import case_files
    from diagnose.casework.packs import in_pack

    return next(
        path
        for path in case_files(folder)
        if in_pack(path) and CaseFile.open(path, write=False).case.ending == e.SOUND
    )


def test_a_pack_that_is_none_is_told(tmp_path: Path) -> None:
    (tmp_path / "2024-05.cases").write_text("{}\n", encoding="utf-8")
    for where in (tmp_path, tmp_path / "2024-05.cases"):
        with pytest.raises(ReviewError, match="line 1 is not the index of one"):
            rows(where, keep=False)
