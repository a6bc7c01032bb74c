"""Insulation in circuits stiff enough to blow their fuse through a short."""

from diagnose.loops.kind import OPEN, FaultMode, Severity, becomes, fixed
from diagnose.loops.kinds.insulation import SHORT, EarthInsulation, Insulation

_BLOWN = fixed("resistance", OPEN, of="fuse")


class FusedInsulation(Insulation, name="fused_insulation"):
    """Insulation between the conductors of a circuit whose ``fuse`` a short blows."""

    references = ("fuse",)
    modes = (
        Insulation.modes[0],
        FaultMode(
            "short",
            "conductors touch, and the fuse is blown by it",
            (becomes("resistance"), _BLOWN),
            0.6,
            SHORT,
            favoured={"work": 3, "rain": 2},
            remedy="separate the conductors (a strand, a crushed cable), then renew the fuse",
            minutes=40,
        ),
    )


class FusedEarthInsulation(EarthInsulation, name="fused_earth_insulation"):
    """Insulation to earth of the fed conductor of a circuit whose ``fuse`` a short blows."""

    references = ("fuse",)
    modes = (
        EarthInsulation.modes[0],
        FaultMode(
            "earthed",
            "fed conductor earthed, and the fuse is blown by it",
            (becomes("resistance"), _BLOWN),
            0.6,
            Severity("resistance", "ohm", 0.05, 20),
            favoured={"work": 3, "rain": 2},
            remedy="find the strand or chafe that earths it, then renew the fuse",
            minutes=40,
        ),
    )
