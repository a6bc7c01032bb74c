"""One real loop: parts on nodes, points a lead can reach, places a person must walk to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import sqrt
from types import SimpleNamespace
from typing import Any

from diagnose.loops.facts import DEVICE, SOURCE
from diagnose.loops.kind import Kind, Parameter

MANNED = "control room"
"""Where somebody reads displays out over radio or telephone."""

EARTH = "PE"
"""The node of plant earth; reachable at every place."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a person must stand; ``minutes`` is the walk from the cabinet room.

    ``setup`` are the minutes until a reading can be taken there, ``permit`` those until somebody
    may work there at all: once in a hunt.
    """

    name: str
    title: str
    minutes: float
    area: str = "safe"
    setup: float = 2.0
    permit: float = 0.0


@dataclass(frozen=True, slots=True)
class Point:
    """A node that a meter lead can reach, and the place to reach it from."""

    name: str
    place: str


@dataclass(frozen=True, slots=True)
class Part:
    """One element: its kind, the nodes of its pins, its values (SI).

    ``tolerances`` are limits of error in the unit of the parameter; ``assumed`` names the
    parameters for which the sheet was silent; ``shown_at`` is where people read what it shows, if
    not at its place; ``facts`` what the sheet says that no law uses (SI).
    """

    name: str
    kind: type[Kind]
    pins: Mapping[str, str]
    values: Mapping[str, float]
    place: str
    references: Mapping[str, str] = field(default_factory=dict)
    tolerances: Mapping[str, float] = field(default_factory=dict)
    assumed: frozenset[str] = frozenset()
    title: str = ""
    shown_at: str = ""
    facts: Mapping[str, float] = field(default_factory=dict)

    @property
    def cautions(self) -> tuple[str, ...]:
        """Keys of the cautions of its kind; of intrinsic safety too where the sheet marks it."""
        marked = bool(self.facts) and self.kind.facts in (SOURCE, DEVICE)
        return (*self.kind.cautions, *(("intrinsic safety",) if marked else ()))

    @property
    def read_at(self) -> str:
        """The place where what it shows is read."""
        return self.shown_at or self.place

    def parameter(self, name: str) -> Parameter:
        """The declaration of one of the kind's parameters."""
        return next(item for item in self.kind.parameters if item.name == name)

    def spread(self, name: str) -> float:
        """Standard uncertainty of a parameter: limit / sqrt(3) (JCGM 100:2008, 4.3.7)."""
        return self.tolerances.get(name, 0.0) / sqrt(3)


@dataclass(frozen=True, slots=True)
class Scale:
    """The range that a display shows: its ends in SI; ``1`` for a share of the loop's range.

    What is marked in the unit of the loop's range has that unit, and its ends in it.
    """

    unit: str = "1"
    low: float = 0.0
    high: float = 1.0

    def value(self, fraction: Any) -> Any:
        """What is read off at a fraction of the scale."""
        return self.low + fraction * (self.high - self.low)

    def fraction(self, value: float) -> float:
        """Where on the scale a value lies."""
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another loop that goes through some of the same parts: a supply, a card, a cable."""

    tag: str
    through: frozenset[str]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Shares:
    """How calls on this kind of measurement end, before anything is read.

    The four add up to one.  Assumptions, after the published counts in Koolen (2001), table 8.1:
    most calls on level, flow and pressure are not electrical.
    """

    sound: float = 0.25
    process_connection: float = 0.40
    electrical: float = 0.33
    unmodelled: float = 0.02


@dataclass(frozen=True, slots=True)
class Loop:
    """A loop sheet after checking: everything the other layers need to know of it.

    ``range`` is the process value at 0 and 100 % with its unit as text (``("mm", 0.0, 1800.0)``).
    ``digest`` identifies the sheet for caches; ``role`` holds what the loop does to the plant
    (``trip``, ``control``); ``signalling`` says that a digital signal rides on the current;
    ``states`` that the process value has two states, 0 and 1, and is hardly ever between; ``stray``
    is the standard deviation of volts that no law knows (thermal, picked up) in a reading.
    """

    tag: str
    service: str
    type: str
    range: tuple[str, float, float]
    reference: str
    parts: tuple[Part, ...]
    points: tuple[Point, ...]
    places: tuple[Place, ...]
    shares: Shares = Shares()
    role: frozenset[str] = frozenset()
    signalling: bool = False
    states: bool = False
    drift: float = 0.002
    stray: float = 2e-3
    neighbours: tuple[Neighbour, ...] = ()
    digest: str = ""
    source: str = ""
    _parts: Mapping[str, Part] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Names are looked up often: some hundred times in a look at a large sheet."""
        object.__setattr__(self, "_parts", {part.name: part for part in self.parts})

    def part(self, name: str) -> Part:
        """The part called ``name``; KeyError if there is none."""
        return self._parts[name]

    @property
    def alternating(self) -> bool:
        """Whether the loop is fed with alternating current."""
        return any(part.kind.alternating for part in self.parts)

    def scale(self, name: str) -> Scale:
        """The scale of what a part shows."""
        part = self.part(name)
        shows = part.kind.shows
        if shows is not None and shows.marked and self.range[0] != "%":
            return Scale(*self.range)
        if shows is None or not shows.unit:
            return Scale()
        return Scale(shows.unit, *shows.scale(SimpleNamespace(**part.values)))

    def range_of(self, name: str) -> tuple[str, float, float]:
        """Unit, low and high end in which a display without a unit of its own may be read."""
        shows = self.part(name).kind.shows
        return ("%", 0.0, 100.0) if shows is not None and shows.share else self.range

    def place(self, name: str) -> Place:
        """The place called ``name``; KeyError if there is none."""
        return {place.name: place for place in self.places}[name]

    def place_of(self, node: str) -> str | None:
        """The place from which a node can be reached; None for a node no lead reaches."""
        return {point.name: point.place for point in self.points}.get(node)

    @property
    def nodes(self) -> tuple[str, ...]:
        """All nodes in order of first mention; the reference comes first."""
        names = [self.reference, *(node for part in self.parts for node in part.pins.values())]
        return tuple(dict.fromkeys(names))
