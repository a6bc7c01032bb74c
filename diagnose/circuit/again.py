"""Solving a circuit again where little has changed: only what hangs on the change is found anew.

A part that follows a signal moves one parameter of some hundreds, a diode that lets go the law of
one branch: most laws, and the elimination of most nodes, stay as they were.  What is found anew is
found by the same steps from the same values, and so is the same to the last bit.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.circuit.network import Network
from diagnose.circuit.rows import Column, Picker, Pieces, State, picker
from diagnose.circuit.tape import Compiled, Tape
from diagnose.circuit.wiring import Wiring

Chosen = Callable[[str, int, Sequence[Column], Pieces], Column]
"""The law in force: (letter, branch, all segments, pieces) -> column."""


@dataclass(frozen=True)
class _Plan:
    """What to find anew after a change: segments by place, branches, factors, node voltages."""

    laws: Compiled
    picked: Picker
    places: Sequence[int]
    branches: Sequence[int]
    factor: Compiled
    solve: Compiled


class Again:
    """Plans for one circuit, one for each set of what moves; made when first needed."""

    def __init__(
        self, wiring: Wiring, tapes: Mapping[str, Tape], network: Network, chosen: Chosen
    ) -> None:
        self.wiring, self.tapes, self.network, self.chosen = wiring, tapes, network, chosen
        self._place = {name: place for place, name in enumerate(tapes["laws"].outputs)}
        self._plans: dict[tuple[frozenset[int], frozenset[int]], _Plan] = {}

    def moved(
        self,
        state: State,
        columns: list[Column],
        numbers: Collection[int],
        pieces: Pieces,
        bent: Collection[int],
    ) -> State:
        """A state without meters, where parameters ``numbers`` and pieces of ``bent`` have moved.

        ``columns`` and ``pieces`` are all of the new ones.
        """
        plan = self._plan(frozenset(numbers), frozenset(bent))
        laws, g, j = list(state.laws), list(state.g), list(state.j)
        run = plan.laws[2]
        for place, value in zip(plan.places, run(*plan.picked(columns)), strict=True):
            laws[place] = value
        for k in plan.branches:
            g[k], j[k] = (self.chosen(letter, k, laws, pieces) for letter in "gj")
        factors = _brought_up(plan.factor, state.factors, g)
        v = self.network.again(plan.solve, factors, j, state.v)
        return replace(
            state,
            columns=columns,
            pieces=pieces,
            g=g,
            j=j,
            v=v,
            factors=factors,
            laws=laws,
            notes={},
        )

    def _plan(self, numbers: frozenset[int], bent: frozenset[int]) -> _Plan:
        key = numbers, bent
        if key not in self._plans:
            laws = self.tapes["laws"].after(frozenset(f"p{number}" for number in numbers))
            touched = {int(name[1:].split("_")[0]) for name in laws[1] if name[0] in "gj"}
            branches = sorted(touched | bent)
            factor = self.tapes["factor"].after(frozenset(f"g{k}" for k in branches))
            solve = self.network.after(factor[1], branches)
            places = [self._place[name] for name in laws[1]]
            self._plans[key] = _Plan(laws, picker(laws[0]), places, branches, factor, solve)
        return self._plans[key]


def _brought_up(
    hanging: Compiled, factors: Mapping[str, Column], g: Sequence[Column]
) -> dict[str, Column]:
    inputs, outputs, run = hanging
    given = [g[int(name[1:])] if name[0] == "g" else factors[name] for name in inputs]
    return {**factors, **dict(zip(outputs, run(*given), strict=True))}
