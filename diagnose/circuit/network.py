"""The linear network of one regime, eliminated: node voltages from the currents driven into it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from diagnose.circuit.rows import Column
from diagnose.circuit.tape import Compiled, Tape
from diagnose.circuit.wiring import Wire, Wiring


class Network:
    """Substitution through the factors of the nodal equations, for any currents.

    Columns are scalars or (rows,); what no current reaches stays the scalar 0.
    """

    def __init__(self, wiring: Wiring, tapes: Mapping[str, Tape]) -> None:
        self.wiring, self._solve = wiring, tapes["solve"]
        self._driving = self._driving_branches(tapes["laws"])
        sourced = {end for _, wire in self._driving for end in (wire.a, wire.b)} - {0}
        absent = frozenset(f"s{n}" for n in range(len(wiring.nodes)) if n not in sourced)
        self._reached = self._solve.without(absent)
        self._operating = self._reached.compiled()

    def injected(
        self, factors: Mapping[str, Column], sources: Mapping[int, Column]
    ) -> list[Column]:
        """Node voltages when ``sources`` (ampere, by node) are driven into the dead network."""
        given = dict(factors)
        given.update((f"s{node}", current) for node, current in sources.items())
        found = self._solve.run(given)
        return [0.0, *(found.get(f"v{n}", 0.0) for n in range(1, len(self.wiring.nodes)))]

    def under_sources(self, factors: Mapping[str, Column], j: Sequence[Column]) -> list[Column]:
        """Node voltages under the sources ``j`` of the branches; compiled, for speed."""
        return self.again(self._operating, factors, j, [0.0] * len(self.wiring.nodes))

    def after(self, factors: Collection[str], branches: Collection[int]) -> Compiled:
        """What of the voltages hangs on some factors and on the sources of some branches."""
        wires = [self.wiring.wires[k] for k in branches]
        ends = {f"s{end}" for wire in wires for end in (wire.a, wire.b)}
        return self._reached.after(frozenset({*factors, *ends}))

    def again(
        self,
        hanging: Compiled,
        factors: Mapping[str, Column],
        j: Sequence[Column],
        v: Sequence[Column],
    ) -> list[Column]:
        """The voltages ``v`` with those found anew that hang on a change (see ``after``)."""
        inputs, outputs, run = hanging
        sources, found = self._sources(j), list(v)
        given = [
            sources.get(int(name[1:]), 0.0)
            if name[0] == "s"
            else v[int(name[1:])]
            if name[0] == "v"
            else factors[name]
            for name in inputs
        ]
        for name, value in zip(outputs, run(*given), strict=True):
            found[int(name[1:])] = value
        return found

    def _driving_branches(self, laws: Tape) -> list[tuple[int, Wire]]:
        """Branches whose law has a source in any of its pieces, by number."""
        driving = {
            int(name[1:].split("_")[0])
            for name, text in laws.steps
            if name[0] == "j" and text not in ("0", "0.0")
        }
        return [(k, self.wiring.wires[k]) for k in sorted(driving)]

    def _sources(self, j: Sequence[Column]) -> dict[int, Column]:
        """Currents that the sources of the branches drive into each node."""
        sources: dict[int, Column] = {}
        for k, wire in self._driving:
            current = j[k]
            if isinstance(current, (int, float)) and current == 0:
                continue
            sources[wire.a] = sources.get(wire.a, 0.0) - current
            sources[wire.b] = sources.get(wire.b, 0.0) + current
        return sources
