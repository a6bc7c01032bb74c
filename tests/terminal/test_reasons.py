"""``rank --explain``: the facts for and against an explanation, as text and as JSON."""

import json

import pytest

from diagnose.__main__ import main

LINES = ("complaint reads low", "V d n 2.361", "clamp TX 12.00", "mA LK2 9.45")
SHEET = "tests/sheets/b3.toml"


def test_each_fact_has_its_bits_and_its_side(
    capsys: pytest.CaptureFixture[str], root: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(str(root))
    assert main(["rank", SHEET, *LINES, "--explain", "R1:drift", "--explain", "sound"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("R1 drift (")
    against = next(line for line in out.splitlines() if "mA LK2 9.45" in line)
    assert against.strip().startswith("-")
    assert "against it; with the rest it predicts" in against
    assert "loop electrically sound" in out


def test_json_holds_the_same(
    capsys: pytest.CaptureFixture[str], root: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(str(root))
    main(["rank", SHEET, *LINES, "--explain", "R1", "--json"])
    (found,) = json.loads(capsys.readouterr().out)["explained"]
    assert (found["part"], found["fault"]) == ("R1", "drift")
    assert [fact["index"] for fact in found["facts"]] == [1, 2, 3, 4]
    total = found["prior_bits"] + sum(fact["bits"] for fact in found["facts"])
    assert total == pytest.approx(found["posterior_bits"], abs=1e-6)


@pytest.mark.parametrize(
    ("word", "says"),
    [("R9", "no part called 'R9'"), ("R1:melted", "no fault mode of R1 called 'melted'")],
)
def test_what_is_not_there_is_one_line(
    word: str, says: str, capsys: pytest.CaptureFixture[str], root: object,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(str(root))
    assert main(["rank", SHEET, LINES[0], "--explain", word]) == 2
    assert says in capsys.readouterr().err
