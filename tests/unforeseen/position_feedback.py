"""Two kinds that the project has not foreseen: a potentiometer on a valve stem, and its card.

Written from DEVELOPERS.md and the head comments of models/ alone; see test_position_feedback.py.
"""

from typing import Any

from diagnose.loops.arrays import np
from diagnose.loops.kind import (
    OPEN,
    Branch,
    FaultMode,
    Kind,
    Parameter,
    Segment,
    Severity,
    Shows,
    becomes,
    fixed,
    ohmic,
)

ENDS = (0.001, 0.999)
"""The slide never leaves the track."""


class Potentiometer(Kind, name="potentiometer"):
    """A track between ``top`` and ``bottom`` with a slide on it, which the stem moves."""

    title = "potentiometer"
    pins = ("top", "slide", "wiper", "bottom")
    driven = ("upper", "lower")
    parameters = (
        Parameter("track", "ohm", "end to end", 5e3, tolerance=0.2, least=10, most=1e6),
        Parameter("share_low", "1", "of the track, at 0 %", 0.05, 0.005, False, least=0, most=1),
        Parameter("share_high", "1", "of the track, at 100 %", 0.95, 0.005, False, least=0, most=1),
        Parameter("upper", "ohm", "from the top to the slide", 2.5e3, typed=False),
        Parameter("lower", "ohm", "from the slide to the bottom", 2.5e3, typed=False),
        Parameter("contact", "ohm", "between slide and track", 5.0, least=1e-3, most=1e4),
        Parameter("broken", "ohm", "a gap at the top of the track", 0.0, typed=False),
        Parameter("cut", "ohm", "a gap at the bottom of the track", 0.0, typed=False),
        Parameter("slipped", "1", "shift of the linkage", 0.0, typed=False),
        Parameter("loose", "1", "1 when the linkage holds no more", 0.0, typed=False),
        Parameter("left_at", "1", "position where it then stays", 0.5, typed=False),
    )
    branches = (
        Branch("top", "slide", (Segment("track", lambda q: (1 / (q.upper + q.broken), 0)),)),
        Branch("slide", "bottom", (Segment("track", lambda q: (1 / (q.lower + q.cut), 0)),)),
        Branch("slide", "wiper", ohmic("contact")),
    )
    modes = (
        FaultMode(
            "track broken at the top",
            "track or its lead broken at the fed end",
            (fixed("broken", OPEN),),
            1.0,
            remedy="renew the potentiometer",
            minutes=60,
        ),
        FaultMode(
            "track broken at the bottom",
            "track or its lead broken at the common end",
            (fixed("cut", OPEN),),
            1.0,
            remedy="renew the potentiometer",
            minutes=60,
        ),
        FaultMode(
            "wiper lifted",
            "wiper does not touch the track: wear, dirt, corrosion",
            (fixed("contact", OPEN),),
            3.0,
            symptoms={"erratic": 0.6},
            remedy="clean or renew the potentiometer",
            minutes=60,
        ),
        FaultMode(
            "linkage slipped",
            "the lever has slipped on its shaft",
            (becomes("slipped"),),
            2.0,
            Severity("shift", "1", -0.5, 0.5, logarithmic=False),
            favoured={"work": 4},
            remedy="set the lever at both ends of the stroke and tighten it",
            minutes=30,
        ),
        FaultMode(
            "linkage loose",
            "the lever has come off, the slide stays where it is",
            (fixed("loose", 1.0), becomes("left_at")),
            1.0,
            Severity("position", "1", 0.0, 1.0, logarithmic=False),
            symptoms={"frozen": 0.9},
            remedy="put the lever back; set it at both ends of the stroke",
            minutes=30,
        ),
    )

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """The two halves of the track."""
        stem = q.loose * q.left_at + (1 - q.loose) * (process + q.slipped)
        share = np.clip(q.share_low + (q.share_high - q.share_low) * stem, *ENDS)
        return {"upper": q.track * (1 - share), "lower": q.track * share}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Stem positions at which the slide comes to an end of the track."""
        span = q.share_high - q.share_low
        return tuple((end - q.share_low) / span - q.slipped for end in ENDS)


class PositionInput(Kind, name="position_input"):
    """A card that feeds a potentiometer and shows where its slide is; a lost wiper reads low."""

    title = "position card"
    pins = ("input", "common", "feed")
    senses = True
    parameters = (
        Parameter("excitation", "V", "fed to the track", 5.0, tolerance=0.002, least=0.5, most=30),
        Parameter("given", "V", "what the feed really gives, less that", 0.0, typed=False),
        Parameter("source", "ohm", "behind the feed", 1.0, least=1e-3, most=1e4),
        Parameter("input_resistance", "ohm", "pulls the input down", 1e6, 0.05, least=1, most=1e12),
        Parameter("share_low", "1", "of the feed, shown as 0 %", 0.05, least=0, most=1),
        Parameter("share_high", "1", "of the feed, shown as 100 %", 0.95, least=0, most=1),
        Parameter("shown_shift", "1", "error of what is shown", 0.0, typed=False),
    )
    branches = (
        Branch(
            "feed",
            "common",
            (
                Segment(
                    "feeding",
                    lambda q: (1 / q.source, -(q.excitation + q.given) / q.source),
                ),
            ),
        ),
        Branch("input", "common", ohmic("input_resistance")),
    )
    shows = Shows(
        "value",
        lambda q, process: (
            1 / (q.excitation * (q.share_high - q.share_low)),
            q.shown_shift - q.share_low / (q.share_high - q.share_low),
        ),
        accuracy=0.003,
    )
    modes = (
        FaultMode(
            "feed dead",
            "card feeds no volts",
            (fixed("source", OPEN),),
            0.7,
            favoured={"lightning": 4},
            remedy="move to a spare channel; renew the card",
            minutes=30,
        ),
        FaultMode(
            "feed low",
            "card feeds too few volts",
            (becomes("given"),),
            0.5,
            Severity("volts missing", "V", -3.0, -0.3, logarithmic=False),
            remedy="read the feed with the field lifted; renew the card",
            minutes=30,
        ),
        FaultMode(
            "input collapsed",
            "input resistance has collapsed and drags the wiper down",
            (becomes("input_resistance"),),
            0.4,
            Severity("input resistance", "ohm", 50, 20e3),
            remedy="move to a spare channel; renew the card",
            minutes=30,
        ),
        FaultMode(
            "scaling",
            "what it shows is wrong: zero, span or scaling",
            (becomes("shown_shift"),),
            0.7,
            Severity("error shown", "1", -0.5, 0.5, logarithmic=False),
            favoured={"work": 4},
            remedy="compare zero and span with both ends of the stroke",
            minutes=30,
        ),
    )
