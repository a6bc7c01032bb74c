"""The two cores of a cable as a pair: they can be swapped where they land."""

from diagnose.loops.kind import OPEN, Branch, FaultMode, Kind, Parameter, fixed, ohmic

STRAIGHT = 1e-3
"""Resistance between a core and the terminal that it belongs to, ohm."""


class WirePair(Kind, name="wire_pair"):
    """Where the two cores of a cable find their terminals, or each the other's."""

    title = "pair"
    pins = ("plus", "minus", "to_plus", "to_minus")
    carries_loop = True
    parameters = (
        Parameter("straight", "ohm", "to its own terminal", STRAIGHT, least=1e-6, most=OPEN),
        Parameter("crossed", "ohm", "to the other terminal", OPEN, least=1e-6, most=1e15),
    )
    branches = (
        Branch("plus", "to_plus", ohmic("straight")),
        Branch("minus", "to_minus", ohmic("straight")),
        Branch("plus", "to_minus", ohmic("crossed")),
        Branch("minus", "to_plus", ohmic("crossed")),
    )
    modes = (
        FaultMode(
            "swapped",
            "the two cores are swapped at one end",
            (fixed("straight", OPEN), fixed("crossed", STRAIGHT)),
            0.15,
            favoured={"work": 20},
            remedy="follow the core numbers from end to end and swap them back",
            minutes=20,
        ),
    )
