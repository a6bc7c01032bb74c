"""What is kept of past hunts has an end: a worker that goes through thousands does not grow."""

from __future__ import annotations

import gc
from weakref import ref

import numpy as np

from diagnose.inference.engine import OPENINGS, STATES, Engine
from diagnose.inference.measurement import Measurement
from diagnose.inference.readings import parse_line
from diagnose.inference.stages import MOST
from diagnose.loops.plant import open_plant


def hunts(tag: str, lines: tuple[str, ...], count: int) -> Engine:
    """An engine after some hunts that differ in what was read first."""
    loop = open_plant().load(tag)
    engine = Engine(loop)
    for number in range(count):
        first = lines[0].format(30 + 7 * number)
        engine.rank([parse_line(line, loop) for line in (first, *lines[1:])])
    return engine


def test_stages_of_past_hunts_are_let_go() -> None:
    engine = hunts("LT-214", ("LR-214 {} %", "V X21:7 X20:0 3.397"), MOST + 2)
    kept = engine.benches.own.calm._kept
    assert len(kept) == MOST
    last = 30 + 7 * (MOST + 1)
    assert any(datum.y == last / 100 for data in kept for datum in data)


def test_engines_for_past_operating_states_are_let_go() -> None:
    """A faceplate that stands elsewhere takes the loop up anew; the loop of the README has one."""
    engine = Engine(open_plant().load("LIC-214"))
    states = [engine.at([parse_line(f"LIC-214 {n} %", engine.loop)]) for n in (20, 60)]
    assert len({id(state) for state in states} | {id(engine)}) == 3
    assert list(engine._others.values()) == states[-STATES:]


def test_what_is_let_go_is_gone_at_once() -> None:
    """Arrays do not count where a collector decides when to come round: there must be no ring."""
    engine = hunts("LT-214", ("LR-214 {} %", "V X21:7 X20:0 3.397"), 1)
    engine.rank([parse_line("complaint reads high", engine.loop)])
    atlas, part = engine.atlas, engine.atlas.part(np.arange(20))
    part.levels([Measurement("V", ("X21:7", "X20:0"))])
    watched = [ref(item) for item in (engine, atlas, atlas.survey, part, part.survey)]
    gc.disable()
    try:
        del engine, atlas, part
        assert [item() for item in watched] == [None] * 5
    finally:
        gc.enable()


def test_what_is_asked_before_any_reading_is_kept() -> None:
    engine = Engine(open_plant().load("TT-131"))
    told = [parse_line("complaint reads high", engine.loop)]
    first, again = engine.look(told), engine.look(told)
    assert again.belief is first.belief and again.engine is engine
    assert engine.rank(told) == Engine(engine.loop).rank(told)
    for word in ("low", "zero", "is erratic"):
        engine.look([parse_line(f"complaint reads {word}", engine.loop)])
    assert len(engine._openings) == OPENINGS
    assert engine.look(told).belief is not first.belief
