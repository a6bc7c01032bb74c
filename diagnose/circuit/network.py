"""The linear network of one regime, eliminated: node voltages from the currents driven into it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.circuit.rows import Column
from diagnose.circuit.tape import Tape
from diagnose.circuit.wiring import Wiring


class Network:
    """Substitution through the factors of the nodal equations, for any currents.

    Columns are scalars or (rows,); what no current reaches stays the scalar 0.
    """

    def __init__(self, wiring: Wiring, tapes: Mapping[str, Tape]) -> None:
        self.wiring, self._solve = wiring, tapes["solve"]
        self._sourced = self._source_nodes(tapes["laws"])
        absent = {f"s{n}" for n in range(len(wiring.nodes)) if n not in self._sourced}
        self._operating = self._solve.driven(absent)

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
        inputs, outputs, run = self._operating
        sources = self._sources(j)
        given = [
            sources.get(int(name[1:]), 0.0) if name[0] == "s" else factors[name] for name in inputs
        ]
        found = dict(zip(outputs, run(*given), strict=True))
        return [0.0, *(found.get(f"v{n}", 0.0) for n in range(1, len(self.wiring.nodes)))]

    def _source_nodes(self, laws: Tape) -> frozenset[int]:
        """Nodes that the source of any branch in any of its pieces drives."""
        driving = {
            int(name[1:].split("_")[0])
            for name, text in laws.steps
            if name[0] == "j" and text not in ("0", "0.0")
        }
        wires = [wire for k, wire in enumerate(self.wiring.wires) if k in driving]
        return frozenset({wire.a for wire in wires} | {wire.b for wire in wires}) - {0}

    def _sources(self, j: Sequence[Column]) -> dict[int, Column]:
        """Currents that the sources of the branches drive into each node."""
        sources: dict[int, Column] = {}
        for wire, current in zip(self.wiring.wires, j, strict=True):
            if isinstance(current, (int, float)) and current == 0:
                continue
            sources[wire.a] = sources.get(wire.a, 0.0) - current
            sources[wire.b] = sources.get(wire.b, 0.0) + current
        sources.pop(0, None)
        return sources
