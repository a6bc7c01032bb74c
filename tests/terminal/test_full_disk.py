"""A full disk as typed: what is told, what still works, what is left behind.

That a write fails with "no space left on device" where a disk is full: POSIX.1-2017 write().
"""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.library import write_new, write_whole
from diagnose.loops.plant import open_plant
from small_disk import small_disk

SHEETS = Path(__file__).parents[2] / "cases" / "larkmere" / "sheets"


def fill(folder: Path) -> None:
    """Leave no room on a disk."""
    with (folder / "fill").open("wb", buffering=0) as file:
        try:
            while file.write(bytes(4096)):
                pass
        except OSError as error:
            assert error.errno == errno.ENOSPC


def test_where_no_case_can_be_written_rank_is_named_and_works(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with small_disk(tmp_path) as folder:
        assert main(["plant", "new", str(folder), "--name", "Invented works"]) == 0
        shutil.copy(SHEETS / "LT-214.toml", folder / "sheets")
        fill(folder)
        capsys.readouterr()
        assert main(["troubleshoot", "LT-214", "--plain", "--plant", str(folder)]) == 2
        told = capsys.readouterr().err
        assert "the disk is full: no case is opened" in told
        assert "diagnose rank LT-214" in told and len(told.splitlines()) == 1
        readings = ["complaint reads high", "LT-214 50 %", "V X21:7 X20:0 3.406"]
        assert main(["rank", "LT-214", *readings, "--plant", str(folder)]) == 0
        assert "Next:" in capsys.readouterr().out


def test_no_plant_is_left_half_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty plant file would be "there already" once there is room again."""
    with small_disk(tmp_path) as folder:
        fill(folder)
        works = folder / "works"
        assert main(["plant", "new", str(works), "--name", "Invented works"]) == 2
        assert "cannot be made" in capsys.readouterr().err
        assert not (works / "plant.toml").exists()
        (folder / "fill").unlink()
        assert main(["plant", "new", str(works), "--name", "Invented works"]) == 0
        assert open_plant(works).name == "Invented works"


def test_a_new_file_is_there_as_a_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "new"
    write_new(path, b"whole")
    with pytest.raises(FileExistsError):
        write_new(path, b"other")
    assert path.read_bytes() == b"whole"
    assert os.listdir(tmp_path) == ["new"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
@pytest.mark.parametrize(
    "words",
    [("loops",), ("loops", "--json"), ("--help",), ("loops", "--help"), ("--version",)],
)
def test_an_answer_that_finds_no_room_is_told_in_one_line(words: tuple[str, ...]) -> None:
    """`diagnose loops > file` on a full disk: a traceback; `--help > file`: an empty file, 0."""
    with Path("/dev/full").open("w") as full:
        command = [sys.executable, "-m", "diagnose", *words]
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr == "diagnose: the answer cannot be written: no space left on device\n"


def test_a_link_is_followed_and_a_pipe_stays_a_pipe(tmp_path: Path) -> None:
    """`results --csv /dev/stdout` put a file in the place of the link for the whole machine."""
    (tmp_path / "there").mkdir()
    link, target, pipe = tmp_path / "link", tmp_path / "there" / "file", tmp_path / "pipe"
    link.symlink_to(target)
    for text in (b"new", b"anew"):
        write_whole(link, text)
        assert link.is_symlink() and target.read_bytes() == text
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_whole(pipe, b"through")
        assert os.read(reader, 100) == b"through"
    finally:
        os.close(reader)
    assert pipe.is_fifo()
    assert sorted(os.listdir(tmp_path)) == ["link", "pipe", "there"]
