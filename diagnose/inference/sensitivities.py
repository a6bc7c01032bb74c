"""How what is observed depends on the parameters of the circuit, on one solved state."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.circuit.predictor import Predictor
from diagnose.circuit.questions import slopes as slopes_of
from diagnose.circuit.rows import Column, State
from diagnose.circuit.signals import Chain, Slopes


class Sensitivities:
    """Derivatives by parameter number, through the circuit and through what follows signals."""

    def __init__(self, machine: Predictor) -> None:
        self.machine = machine

    def chain(self, state: State, wanted: Sequence[int]) -> Chain:
        """How what parts show and hand on depends on the parameters."""

        def circuit(pins: tuple[int, int], gain: Column, numbers: Sequence[int]) -> Slopes:
            response = self.machine.respond(state, {pins[0]: 1.0, pins[1]: -1.0})
            return self.reciprocal(state, [w * gain for w in response], numbers)

        return Chain(self.machine.wiring, state, wanted, circuit)

    def adjoint(self, state: State, probe: list[Column], wanted: Sequence[int]) -> Slopes:
        """d(observed) / d(parameter) from the response to a unit current at the observed place."""
        if not self.machine.wiring.followers or not wanted:
            return self.reciprocal(state, probe, wanted)
        chain = self.chain(state, wanted)
        return chain.through(self.reciprocal(state, probe, chain.numbers))

    def reciprocal(self, state: State, probe: list[Column], wanted: Sequence[int]) -> Slopes:
        """The same with all drives held.

        The reciprocal-network rule: ``-sum_k w_k (dj_k + dg_k v_k)`` over the branches k
        (S. Director and R. Rohrer, IEEE Trans. Circuit Theory CT-16:318, 1969; from memory).
        """
        found: dict[int, Column] = {}
        wires = self.machine.wiring.wires
        every = slopes_of(self.machine, state, wanted)
        pull: dict[tuple[str, int], Column] = {}
        for letter, k in dict.fromkeys(slope[:2] for slope in every):
            wire = wires[k]
            w = probe[wire.b] - probe[wire.a]
            pull[letter, k] = w * (state.v[wire.a] - state.v[wire.b]) if letter == "g" else w
        for letter, k, number, slope in every:
            more = pull[letter, k] * slope
            found[number] = found[number] + more if number in found else more
        return found
