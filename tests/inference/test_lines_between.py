"""Finer lines are laid between their neighbours only where no bend of the circuit comes near.

Sources: none outside; the judge is the search for bends itself, on the same lines.
"""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.inference import grid
from diagnose.inference.engine import Engine
from diagnose.inference.grid import BENDS, EDGE, Strips, lines_between, place_nodes
from diagnose.loops.plant import open_plant

WINDOWS = ((0.3, 0.35), (0.55, 0.6), (0.95, 1.02))


@pytest.mark.parametrize("tag", ["LT-214", "FT-118", "TT-131", "LV-214"])
def test_no_bend_stands_where_nodes_were_not_searched_for(
    tag: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    atlas = Engine(open_plant().load(tag)).atlas
    wide = np.flatnonzero(atlas.strips.low != atlas.strips.high)
    rng = np.random.default_rng(3)
    strips = rng.choice(wide, 60, replace=False)
    sides = Strips(atlas.strips.low[strips], atlas.strips.high[strips])
    low, high = atlas.lines.x[sides.low], atlas.lines.x[sides.high]
    x = low + rng.uniform(0.2, 0.8, len(strips)) * (high - low)
    exact, _ = place_nodes(atlas.ground, atlas.lines.h[sides.low], x)
    searched: list[int] = []

    def counted(ground: grid.Ground, h: np.ndarray, x: np.ndarray) -> object:
        searched.append(len(h))
        return place_nodes(ground, h, x)

    monkeypatch.setattr(grid, "place_nodes", counted)
    for window in WINDOWS:
        between = np.tile(window, (len(strips), 1))
        found = lines_between(atlas.ground, atlas.lines, sides, x, between)
        ends = atlas.lines.p[sides.low], atlas.lines.p[sides.high]
        laid = np.flatnonzero(~grid._bent(atlas.ground, *ends, between))
        bends = exact.p[laid][:, BENDS]
        inside = (bends > window[0]) & (bends < window[1])
        # A bend that does not move with the severity has its nodes on either side all the same.
        off = np.abs(found.p[laid][:, BENDS] - bends)
        assert (off[inside] < EDGE / 2).all()
        assert (np.diff(found.p, axis=1) >= -1e-12).all()
    assert sum(searched) < 0.5 * len(WINDOWS) * len(strips)
