"""The full screen as a whole: keys through a pipe, the same talk, nothing lost, nothing frozen."""

import asyncio
import re
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from io import StringIO
from pathlib import Path
from threading import Event

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.completion import CompleteEvent
from prompt_toolkit.data_structures import Size
from prompt_toolkit.document import Document
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output.vt100 import Vt100_Output

from diagnose.loops.loop import Loop
from diagnose.loops.plant import open_plant
from diagnose.terminal.full_screen import FullScreen
from diagnose.terminal.full_screen_parts import STYLE, Offers, _foot
from diagnose.terminal.hunt_view import HuntView
from diagnose.terminal.pane_layout import laid_out
from diagnose.terminal.panes import _STYLES, Pane, lines
from diagnose.terminal.session_commands import SHOWS, WORDS
from terminal.answers import DONE
from terminal.full_screen_stand import _typed, screen_of, seen, typed
from terminal.session_stand import BY_HAND, Answers, by_hand, talk_on


@pytest.fixture(scope="module")
def loop() -> Loop:
    return open_plant().load("LT-214")


@pytest.fixture
def opened(tmp_path: Path, loop: Loop) -> Iterator[HuntView]:
    """A new case at its first question."""
    talk = talk_on(tmp_path, loop, lambda: Answers(BY_HAND, loop))
    yield HuntView(talk, new=True)
    talk.hunt.file.close()


@pytest.fixture
def advised(tmp_path: Path, loop: Loop) -> Iterator[HuntView]:
    """A case with a step in hand: ``mA X21:3 X21:4``."""
    talk = by_hand(tmp_path, loop)
    yield HuntView(talk, new=False)
    talk.hunt.file.close()


def flat(screen: Sequence[str]) -> str:
    return " ".join(" ".join(screen).split())


def test_a_session_is_typed(opened: HuntView) -> None:
    keys = ["2\r", "rain\r", "\r", "\r", "\r", "\r", "\r", "\r", "12.0\r", "quit\r"]
    shown = typed(opened, keys)
    assert "asked: context" in flat(shown[0])
    assert "mA X21:3 X21:4 = " in flat(shown[7])
    assert opened.talk.hunt.case.evidence == (
        "complaint reads high", "context rain", "mA X21:3 X21:4 12.0 mA",
    )  # fmt: skip
    assert opened.over


def test_a_bare_number_answers_the_advised_step(advised: HuntView) -> None:
    [shown] = typed(advised, ["12.0\r"])
    assert "Reading 1: mA X21:3 X21:4 12.0 mA" in flat(shown)
    assert "altered and not yet put back: opened for the meter" in flat(shown)


def test_lines_that_are_pasted_are_taken_one_by_one(advised: HuntView) -> None:
    """A terminal sends what is pasted in one piece: they are as many readings as lines."""
    pasted = "complaint reads high\r\n\r\nLIC-214 62 %\nV X99:1 X20:0 3\nLR-214 61 %\n"
    [shown] = typed(advised, [f"\x1b[200~{pasted}\x1b[201~"])
    assert advised.talk.hunt.case.evidence == (
        "complaint reads high", "LIC-214 62 %", "LR-214 61 %",
    )  # fmt: skip
    assert "> V X99:1 X20:0 3 Not understood" in flat(shown)  # none is lost without a word
    assert "Reading 2: LR-214 61 %" in flat(shown)


def test_one_line_that_is_pasted_waits_for_enter(advised: HuntView) -> None:
    shown = typed(advised, ["\x1b[200~12.0\n\x1b[201~", "\r"])
    assert shown[0][-2] == "mA X21:3 X21:4 = 12.0"
    assert advised.talk.hunt.case.evidence == ("mA X21:3 X21:4 12.0 mA",)


def test_ctrl_c_clears_the_line_and_ctrl_d_leaves(advised: HuntView) -> None:
    shown = typed(advised, ["note half a wo", "\x03", "\x04"])
    assert shown[0][-2].endswith("note half a wo")
    assert shown[1][-2] == "mA X21:3 X21:4 = "
    assert advised.over
    assert not advised.talk.hunt.case.notes


def test_the_prompt_is_seen_again_after_a_line_longer_than_the_screen(advised: HuntView) -> None:
    with screen_of(advised) as (screen, pipe):
        rows: list[str] = []

        def line(_: object) -> None:
            drawn = screen.app.renderer.last_rendered_screen
            if drawn is not None:
                row = drawn.data_buffer[screen.size()[1] + 1]
                rows.append("".join(row[column].char for column in range(80)))

        screen.app.after_render += line
        asyncio.run(_typed(screen, pipe, [f"note {'R1 renewed ' * 20}", "\r"], []))
    screen.worker.shutdown(wait=True)
    assert any(row.startswith("newed R1") or "renewed R1" in row for row in rows)
    assert rows[-1].startswith("mA X21:3 X21:4 = ")


def test_the_foot_begins_with_its_keys_while_nothing_else_is_known_yet(advised: HuntView) -> None:
    with screen_of(advised) as (screen, _):
        assert _foot(screen, 80).startswith(" Tab completes | PgUp PgDn scroll")
        screen.shown.look()
        assert _foot(screen, 80).startswith(" nothing open | at cabinet | Tab completes")


def test_up_brings_back_what_was_read(advised: HuntView) -> None:
    typed(advised, ["12.0\r"])
    advised.talk.over = False
    assert advised.known == ["mA X21:3 X21:4 12.0 mA"]
    shown = typed(advised, ["\x1b[A"])
    assert shown[0][-2].endswith("mA X21:3 X21:4 12.0 mA")


def test_a_pane_is_made_large_and_small_again(advised: HuntView) -> None:
    large, other, small = typed(advised, ["\x1bOQ", "\x1bOQ", "\x1b"])
    assert large[1].startswith("-- next")
    assert not any(row.startswith("-- faults") for row in large)
    assert other[1].startswith("-- faults")
    assert any(row.startswith("-- next") for row in small)


def test_a_long_answer_is_scrolled_and_put_away(advised: HuntView) -> None:
    first, second, away = typed(advised, ["help all\r", "\x1b[6~", "\x1b"])
    assert "1 to" in first[1]
    assert second[1] != first[1]
    assert not away[1].startswith("-- answer")


def test_an_answer_that_was_asked_for_comes_before_the_picture_of_the_loop(
    advised: HuntView,
) -> None:
    """Seven rows are left of 24 beside head, foot, five titles and the step: they are the answer's.

    ``close`` showed seven of its eleven things to put back, and three rows of the loop below.
    """
    shown = typed(advised, ["help\r", "\x1b"])
    title = next(row for row in shown[0] if row.startswith("-- answer to: help"))
    loop = next(n for n, row in enumerate(shown[0]) if row.startswith("-- loop:"))
    assert title.endswith("1 to 7 of 11 --")
    assert shown[0][loop + 1].startswith("-- readings")  # its title says the gist meanwhile
    loop = next(n for n, row in enumerate(shown[1]) if row.startswith("-- loop:"))
    assert not shown[1][loop + 1].startswith("-- readings")


def test_cautions_that_are_to_be_agreed_are_read_in_full(tmp_path: Path, loop: Loop) -> None:
    """Half of them stood above ``ok?>``: a STOP was agreed to that nobody had seen."""
    talk = by_hand(tmp_path, loop, DONE)
    view = HuntView(talk, new=False)
    lines = ["bypass shift lead\r", "manual operator\r", "proof\r", "\x1b[6~"]
    *_, first, rest = typed(view, lines)
    assert first[-2] == "ok?> "
    assert sum(line.startswith("  STOP:") for line in first) == 6
    assert "Type ok once this is dealt with." in flat(rest)
    talk.hunt.file.close()


def test_a_stop_stays_on_the_screen_until_it_is_agreed_to(tmp_path: Path, loop: Loop) -> None:
    """Any other line put the answer that held it away: ``ok?>`` stood there alone."""
    talk = by_hand(tmp_path, loop, DONE)
    view = HuntView(talk, new=False)
    lines = ["bypass shift lead\r", "manual operator\r", "proof\r", "all of it\r", "help ok\r"]
    for screen in typed(view, lines)[2:]:
        assert screen[-2] == "ok?> "
        assert sum(line.startswith("  STOP:") for line in screen) == 6
    talk.hunt.file.close()


def test_what_is_not_understood_changes_nothing(advised: HuntView) -> None:
    shown = typed(advised, ["V X99:9 3\r", "\x07\x1b[99~\u2126\r"])
    assert "Not understood" in flat(shown[0])
    assert advised.talk.hunt.case.evidence == ()


def test_the_completer_replaces_the_word_being_typed(advised: HuntView) -> None:
    with screen_of(advised) as (screen, _):
        found = list(Offers(screen).get_completions(Document("V X21:7 X2"), CompleteEvent()))
    screen.worker.shutdown()
    assert "X20:0" in [item.text for item in found]
    assert {item.start_position for item in found} == {-2}


def test_panes_are_hidden_where_a_view_wants_that(advised: HuntView) -> None:
    advised.hidden = frozenset({"faults", "step"})
    [shown] = typed(advised, ["list\r"])
    assert not any(row.startswith(("-- faults", "-- next")) for row in shown)


class Slow:
    """A view that answers when it is told to."""

    title, known, over, halved = "slow", (), False, False

    def __init__(self) -> None:
        self.go, self.heard = Event(), []

    def fit(self, width: int) -> None: ...

    def greeting(self) -> Iterator[str]:
        yield "hello"

    def panes(self) -> tuple[Pane, ...]:
        return (Pane("one", f"heard: {len(self.heard)}", lambda look: ["text"]),)

    def prompt(self) -> str:
        return "> "

    def foot(self) -> str:
        return "foot"

    def hear(self, line: str) -> Iterator[str]:
        self.heard.append(line)
        assert self.go.wait(30)
        yield f"heard {line}"

    def shows(self, line: str) -> bool:
        return line in ("rank", "list")

    def offers(self, text: str) -> list[str]:
        return []


@asynccontextmanager
async def computing(view: Slow) -> AsyncIterator[tuple[FullScreen, PipeInput]]:
    """A screen that has heard its first line and computes."""
    with screen_of(view) as (screen, keys):
        running = asyncio.ensure_future(screen.app.run_async(pre_run=screen.begin))
        await asyncio.sleep(0.05)
        keys.send_text("first\r")
        while not screen.busy:
            await asyncio.sleep(0.005)
        yield screen, keys
        screen.app.exit()
        await running
        screen.worker.shutdown()


def test_the_keyboard_is_not_frozen_while_something_is_computed() -> None:
    """Keys arrive while the answer waits for them: no clock decides."""
    view = Slow()

    async def work() -> None:
        async with computing(view) as (screen, keys):
            keys.send_text("second\r")
            while screen.app.current_buffer.text != "second":
                await asyncio.sleep(0.005)
            busy = seen(screen)
            assert "computing" in busy[0]
            assert busy[-2].startswith("(computing")
            assert view.heard == ["first"]  # a line is kept, not answered by what is not yet seen
            view.go.set()
            while screen.shown.began is not None:
                await asyncio.sleep(0.005)
            assert "heard first" in flat(seen(screen))
            assert screen.app.current_buffer.text == "second"
            assert seen(screen)[-2].startswith("(not entered; Enter) ")
            keys.send_text("\r")
            while len(view.heard) < 2 or screen.busy:
                await asyncio.sleep(0.005)
            assert not screen.shown.kept

    asyncio.run(work())
    assert view.heard == ["first", "second"]


def test_what_only_shows_something_waits_for_its_turn() -> None:
    """It is as right after what is being computed; a value may then answer another question."""
    view = Slow()

    async def work() -> None:
        async with computing(view) as (screen, keys):
            keys.send_text("rank\rlist\r3.02\r")
            while not screen.shown.kept:
                await asyncio.sleep(0.005)
            keys.send_text("\x03rank\r")  # Ctrl-C: the line, and all that waits
            while screen.shown.ahead != ["rank"]:
                await asyncio.sleep(0.005)
            assert seen(screen)[-2] == "(computing; then rank) "
            keys.send_text("list\r")
            while len(screen.shown.ahead) < 2:
                await asyncio.sleep(0.005)
            assert seen(screen)[-2] == "(computing; then rank and 1 more) "
            view.go.set()
            while len(view.heard) < 3 or screen.busy or screen.shown.began is not None:
                await asyncio.sleep(0.005)
            shown = flat(seen(screen))  # what was said before is not wiped off
            assert all(f"heard {line}" in shown for line in view.heard)

    asyncio.run(work())
    assert view.heard == ["first", "rank", "list"]


def test_a_session_knows_what_only_shows_something(advised: HuntView) -> None:
    """With words behind it a command may be the answer to what is asked then."""
    assert all(advised.shows(line) for line in ("rank", "RANK", "why", "ranking", "?", "list"))
    no = (
        "",
        "3.02",
        "ok",
        "undo",
        "done",
        "close",
        "other",
        "why X21:7",
        "help me",
        "quit",
        "note",
    )
    assert not any(advised.shows(line) for line in no)
    assert {word.name for word in WORDS} > SHOWS


def test_two_values_do_not_become_a_third_one() -> None:
    """A line that was sent too early is not lengthened: a new one takes its place."""
    view = Slow()

    async def work() -> None:
        async with computing(view) as (screen, keys):
            keys.send_text("\r")
            await asyncio.sleep(0.1)
            assert seen(screen)[-2] == "(computing) "  # nothing was typed: nothing is kept
            keys.send_text("12\r")
            while not screen.shown.kept:
                await asyncio.sleep(0.005)
            keys.send_text("34")
            await asyncio.sleep(0.1)
            assert seen(screen)[-2] == "(computing; not entered, Enter again after it) 12"
            view.go.set()
            while screen.shown.began is not None:
                await asyncio.sleep(0.005)
            keys.send_text("56\r")
            while len(view.heard) < 2 or screen.busy:
                await asyncio.sleep(0.005)

    asyncio.run(work())
    assert view.heard == ["first", "56"]


def test_ctrl_d_leaves_once_what_is_computed_is_answered() -> None:
    view = Slow()

    async def work() -> None:
        async with computing(view) as (screen, keys):
            keys.send_text("\x04")
            while not screen.leaving:
                await asyncio.sleep(0.005)
            assert view.heard == ["first"]
            view.go.set()
            while view.heard != ["first", "quit"] or screen.busy:
                await asyncio.sleep(0.005)

    asyncio.run(work())
    assert view.heard == ["first", "quit"]


def test_tab_completes_what_is_typed(advised: HuntView) -> None:
    shown = typed(advised, ["hand", "\t", "\t"])
    assert shown[-1][-2].endswith("handover")


def test_a_mistake_of_the_program_is_not_swallowed() -> None:
    class Wrong(Slow):
        def hear(self, line: str) -> Iterator[str]:
            raise RuntimeError("a mistake")
            yield ""

    with pytest.raises(RuntimeError, match="a mistake"):
        typed(Wrong(), ["x\r"])


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (120, 40), (200, 60), (40, 10), (20, 5)])
def test_every_size_is_filled_exactly(advised: HuntView, size: tuple[int, int]) -> None:
    columns, rows = size
    [shown] = typed(advised, ["12.0\r"], columns, rows)
    assert len(shown[1:-2]) == max(1, rows - 3)
    assert {len(row) for row in shown[1:-2]} == {columns}
    assert len(shown[0]) == columns


def test_every_style_of_a_line_is_known(advised: HuntView) -> None:
    """A style that is misspelt would be seen nowhere."""
    told = {style.removeprefix("class:") for style, _ in STYLE.style_rules}
    used = set(_STYLES.values()) | {"title", "faint"}
    with screen_of(advised) as (screen, _):
        screen.shown.look()
        used |= {piece.style for row in screen.laid_out().rows for piece in row} - {""}
    screen.worker.shutdown()
    assert used <= told


def test_without_colour_none_is_sent(advised: HuntView, monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR (no-color.org): no code of ECMA-48, 8.3.117, for a colour: 30 to 49, 90 on."""
    sent = {}
    for declined in ("", "1"):
        monkeypatch.setenv("NO_COLOR", declined)
        out = StringIO()
        output = Vt100_Output(out, lambda: Size(24, 80), term="xterm", enable_cpr=False)
        with create_pipe_input() as keys, create_app_session(input=keys, output=output):
            screen = FullScreen(advised)
            keys.send_text("cautions\r\x04")
            screen.run()
        codes = re.findall(r"\x1b\[([0-9;]*)m", out.getvalue())
        numbers = {int(n) for code in codes for n in code.split(";") if n}
        assert all("\x1b" not in text for text in screen.said())
        sent[declined] = numbers & {*range(30, 50), *range(90, 108)}
        advised.talk.over = False
    assert sent["1"] == set()
    assert sent[""]


def test_lines_that_are_too_long_are_folded_between_words() -> None:
    found = lines(["\033[33mone two  three\033[0m", "x" * 9, ""], 8)
    assert [(line.text, line.style) for line in found] == [
        ("one two", "warning"), ("three", "warning"), ("xxxxxxxx", ""), ("x", ""), ("", ""),
    ]  # fmt: skip


def panes(*many: int) -> list[Pane]:
    """Panes of so many lines, each with two that are kept."""
    return [
        Pane(f"p{n}", f"pane {n}", lambda look, count=count: [f"line {k}" for k in range(count)], 2)
        for n, count in enumerate(many)
    ]


def test_rows_go_to_the_first_panes_and_each_keeps_its_least() -> None:
    laid = laid_out(panes(10, 10, 1), 40, 12)
    assert [item.rows for item in laid.placed] == [6, 2, 1]
    assert laid.moving() is laid.placed[0]
    assert [item.rows for item in laid_out(panes(1, 1, 1), 40, 12).placed] == [1, 1, 1]
    assert [item.rows for item in laid_out(panes(9, 9, 9), 40, 3).placed] == [0, 0, 0]


def test_what_must_be_read_whole_takes_the_rows_of_titles_without_lines() -> None:
    """Nine lines in twelve rows: own title, two titles are left of four, none of them empty."""
    stop = Pane("asked", "ok?", lambda look: ["STOP"] * 9, least=9, whole=True)
    rest = [Pane(name, name, lambda look: ["x"] * 5, least=2) for name in "abcd"]
    names = [item.pane.name for item in laid_out([stop, *rest], 80, 12).placed]
    assert names == ["asked", "a", "b"]
    loose = [replace(stop, whole=False), *rest]
    placed = laid_out(loose, 80, 12).placed
    assert len(placed) == 5
    assert placed[0].clipped
    assert len(laid_out([stop, *rest], 80, 30).placed) == 5


def test_the_focus_stays_in_sight_unless_it_was_moved() -> None:
    [pane] = panes(30)
    [placed] = laid_out([replace(pane, focus=20)], 40, 10).placed
    assert placed.first <= 20 < placed.first + placed.rows
    [moved] = laid_out([replace(pane, focus=20)], 40, 10, scrolled={"p0": 99}).placed
    assert moved.first + moved.rows == 30


def test_opening_questions_have_the_whole_width_until_the_loop_stands_beside_them(
    opened: HuntView, advised: HuntView
) -> None:
    """At 160 columns a question of one sentence is one line; an answer beside the loop is not."""
    [shown] = typed(opened, ["\r"], 160, 45)
    asked = next(n for n, row in enumerate(shown) if row.startswith("-- asked: context"))
    assert any("better with its size: moving 3 %" in row for row in shown[asked:])
    [shown] = typed(advised, ["help\r"], 160, 45)
    assert max(len(row.rpartition(" | ")[2].rstrip()) for row in shown[2:20]) <= 79


def test_wide_screens_have_two_columns() -> None:
    one, two = panes(3, 4)
    laid = laid_out([one, replace(two, left=True)], 120, 10)
    text = ["".join(piece.text for piece in row) for row in laid.rows]
    assert text[0].startswith("-- pane 1")
    assert " | -- pane 0" in text[0]
    assert {len(row) for row in text} == {120}
