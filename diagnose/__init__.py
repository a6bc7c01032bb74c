"""Finds the failed element of a measuring loop from a few meter readings.

The map of the house.  Each room may import those above it, never those below::

    errors        one root error; children hold facts and write their own sentence
    quantities    what people type <-> floats in SI units; nothing inside knows a unit
    library       finds the shipped models/ and cases/, in a wheel or in a checkout
       |
    loops         WHAT A LOOP IS       kinds with their laws and fault modes; sheets, plants
       |                               a Loop
    circuit       LOOP -> NUMBERS      equations once, then a compiled predictor; netlist; why
       |                               node voltages and currents, with derivatives
    inference     NUMBERS x READINGS -> BELIEF -> ADVICE
       |                               hypotheses, meters, posterior, groups, next step, remedy
    casework      ONE HUNT             events; a case is a fold over them; an append-only file
       |
    review        MANY HUNTS           rates, calibration, priors
    training      LEARNING             drills and replays
       |
    terminal      THE ONLY PLACE THAT KNOWS A SCREEN
    __main__      parses, calls one function, prints

A hunt in a few lines::

    from diagnose.inference.engine import Engine
    from diagnose.inference.readings import parse_lines
    from diagnose.loops.plant import open_plant

    loop = open_plant().load("LT-214")
    readings = parse_lines(["complaint reads high", "V X21:7 X20:0 3.406"], loop)
    ranking = Engine(loop).rank(readings)
"""

from __future__ import annotations

__all__ = ["__version__"]


def __getattr__(name: str) -> str:
    """The version, looked up when it is asked for: reading package metadata takes time."""
    if name == "__version__":
        from diagnose.library import package_version

        return package_version()
    raise AttributeError(f"module 'diagnose' has no attribute '{name}'")
