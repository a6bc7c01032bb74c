"""What a kind of part is: its pins, parameters, law, fault modes, actions and what it shows.

Laws are plain arithmetic on a namespace ``q`` of parameters, so that sympy symbols, floats and
numpy arrays all flow through the same line.  Everything is in SI units; ``1`` marks a fraction.
A fault, a deliberate action and a meter are the same thing to the circuit: a *change* that moves
parameters off their nominal values.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from diagnose.loops.changes import Change, becomes, copies, everywhere, fixed, times
from diagnose.loops.choices import chosen
from diagnose.loops.facts import Fact
from diagnose.loops.states import LIT, States

__all__ = [
    "INTACT",
    "OPEN",
    "SYMBOLS",
    "Action",
    "Branch",
    "Change",
    "FaultMode",
    "Kind",
    "Parameter",
    "Segment",
    "Severity",
    "Shows",
    "becomes",
    "copies",
    "everywhere",
    "fixed",
    "ohmic",
    "times",
]

OPEN = 100e9
"""Resistance of an open contact or a broken core, ohm: far above the 10 Mohm of a meter."""

INTACT = 100e9
"""Resistance of sound insulation, ohm; far above what a hand-held meter can see."""

SYMBOLS = (
    "box", "wire", "clamp", "link", "fuse", "resistor", "diode", "blocking_diode", "source",
    "instrument", "lamp", "coil", "contact", "valve",
)  # fmt: skip
"""Signs of a loop drawing, after the simple ones of IEC 60617 and ISA-5.1."""

Law = Callable[[Any], tuple[Any, Any]]
Value = Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number of a part.

    ``default`` is used (and reported as an assumption) where a sheet is silent; ``None`` means
    that the sheet must say it.  ``tolerance`` is a limit of error, relative if ``relative``,
    taken as a rectangular distribution (JCGM 100:2008, 4.3.7).  ``typed`` parameters may be
    written in a sheet; the others are moved by faults and actions only.  A tolerance that only a
    broken loop shows is ``kept``.
    """

    name: str
    unit: str
    meaning: str
    default: float | None = None
    tolerance: float = 0.0
    relative: bool = True
    least: float | None = None
    most: float | None = None
    typed: bool = True
    kept: bool = False


@dataclass(frozen=True, slots=True)
class Segment:
    """One straight piece of a law: ``i = g * v + j`` up to the voltage ``until``."""

    regime: str
    law: Law
    until: Value | None = None


@dataclass(frozen=True, slots=True)
class Branch:
    """A two-terminal element between two pins; current counts from ``a`` to ``b``.

    The segments follow each other with rising voltage, join without a jump and never fall:
    so the operating point of any network of them is unique.  ``carries``: in a kind that carries
    the loop current, this branch is on its way.
    """

    a: str
    b: str
    segments: tuple[Segment, ...]
    carries: bool = True


def ohmic(parameter: str) -> tuple[Segment, ...]:
    """Ohm's law for the resistance named ``parameter``."""
    return (Segment("conducting", lambda q: (1 / getattr(q, parameter), 0)),)


@dataclass(frozen=True, slots=True)
class Severity:
    """A continuous size of a fault, uniform in its logarithm or in itself.

    One not ``told`` is a tolerance within which the circuit bends, and no size of the fault.
    """

    quantity: str
    unit: str
    low: float
    high: float
    logarithmic: bool = True
    told: bool = True


@dataclass(frozen=True, slots=True)
class FaultMode:
    """A way in which a kind fails.

    ``rate`` is a relative weight among the electrical faults of a loop: an assumption of this
    project (common practice, no source), replaceable by a site's own priors.  ``symptoms`` are
    likelihoods of complaints that its displays do not tell: in time (``frozen``, ``erratic``) or
    against something beside the loop; ``favoured`` multiplies the rate for a context fact
    (``work``, ``rain`` …); both are assumptions.  ``hum``: the fault lets mains hum in.
    ``cautions`` are those of its repair; in the group of the process connection that of the
    process side, if it names none.
    """

    name: str
    title: str
    changes: tuple[Change, ...]
    rate: float
    severity: Severity | None = None
    symptoms: Mapping[str, float] = field(default_factory=dict)
    favoured: Mapping[str, float] = field(default_factory=dict)
    hum: bool = False
    remedy: str = ""
    minutes: float = 15.0
    group: str = "electrical"
    cautions: tuple[str, ...] = ()

    @property
    def size(self) -> Severity | None:
        """The severity, if it is a size of the fault that people speak of."""
        return self.severity if self.severity is not None and self.severity.told else None


@dataclass(frozen=True, slots=True)
class Action:
    """What a technician can do to a part on purpose, as a condition of a reading.

    ``proves`` gives the values at which a repair is proved by it, from the part's parameters; None
    stands for an action without a value.  ``spans`` gives those that stand for 0 and 100 %.
    """

    name: str
    title: str
    changes: tuple[Change, ...]
    minutes: float
    unit: str = ""
    usual: float | None = None
    interrupts: bool = False
    moves_signal: bool = False
    heals: bool = False
    cautions: tuple[str, ...] = ()
    proves: Callable[[Any], tuple[float | None, ...]] | None = None
    spans: Callable[[Any], tuple[float, float]] | None = None


@dataclass(frozen=True, slots=True)
class Shows:
    """What a part shows without a meter: ``level = gain * v + offset``.

    ``v`` is the voltage across the part's first two pins; ``level`` gets the parameters and what
    the part is given: the process value, or the signal that it follows.  A ``value`` is a fraction
    of range, shown between ``least`` and ``most``; a ``state`` is on while its level is positive,
    and ``states`` are the words for it, lit or dark unless it is no lamp; for a value, of its ends.

    ``bend(q, level)`` makes a curve of it: what is shown, and its derivative.  A display with a
    ``unit`` has a range of its own, ``scale(q)`` -> (low, high) in SI; others that of the loop, but
    a ``share`` is one of an output or a travel, and read in % whatever the range of the loop is.
    What is ``marked`` has the unit of that range on its dial, and no %: a thermometer, a gauge.
    """

    what: str
    level: Callable[[Any, Any], tuple[Any, Any]]
    accuracy: float
    resolution: float = 0.001
    least: float = -0.10
    most: float = 1.10
    title: str = ""
    unit: str = ""
    scale: Callable[[Any], tuple[float, float]] = lambda q: (0.0, 1.0)
    bend: Callable[[Any, Any], tuple[Any, Any]] = lambda q, level: (level, 1.0)
    states: States = LIT
    share: bool = False
    marked: bool = False


class Kind:
    """A kind of part.  Subclass with ``name=`` to add one; nothing else needs to change.

    ``carries_loop``: the loop current flows through it; ``opens_at``: it can be opened by hand, for
    a milliampere meter or as a condition; ``meters_across``: the resistance beside which a
    milliampere meter takes its current over, and nothing is opened; ``clamped``: a clamp meter can
    be closed round it; ``senses``: the voltage across it is what tells the loop current;
    ``alternating``: it feeds the loop with alternating current, and meters are set to that;
    ``cautions``: keys of what is to be minded at any step with a meter on a loop with such a part.

    ``follows`` names the references whose *signals* the part is given in place of the process
    value: one value, or a tuple of them in that order.  ``signal`` is what others are given by this
    part: its level held between ``least`` and ``most``, or 1 and 0 for a state.  So a relay follows
    a comparator and a valve follows a pressure, while each stays a circuit of its own.

    ``symbol`` is the sign that stands for it in a drawing, one of ``SYMBOLS``.  What is ``latent``
    is no part that one could see, but a defect that may be there: drawn when it is suspected.

    ``facts`` are what a sheet may say beside values, ``choices`` the words that a key takes;
    ``derive`` finds the value ``derived`` from ``sources``; ``copper``: the resistance that warms.

    ``stated`` names a parameter that the sheet leaves wide open and the part's own display tells at
    once: an operating state such as a controller's output.  ``tries`` gives the volts at which a
    comparator is tried: just on the safe side of its set point, and just on the other.
    """

    registry: ClassVar[dict[str, type[Kind]]] = {}

    name: ClassVar[str] = ""
    title: ClassVar[str] = ""
    symbol: ClassVar[str] = "box"
    latent: ClassVar[bool] = False
    pins: ClassVar[tuple[str, ...]] = ()
    references: ClassVar[tuple[str, ...]] = ()
    parameters: ClassVar[tuple[Parameter, ...]] = ()
    facts: ClassVar[tuple[Fact, ...]] = ()
    copper: ClassVar[str] = ""
    choices: ClassVar[dict[str, dict[str, float]]] = {}
    sources: ClassVar[tuple[Fact, ...]] = ()
    derived: ClassVar[str] = ""
    branches: ClassVar[tuple[Branch, ...]] = ()
    modes: ClassVar[tuple[FaultMode, ...]] = ()
    actions: ClassVar[tuple[Action, ...]] = ()
    shows: ClassVar[Shows | None] = None
    signal: ClassVar[Shows | None] = None
    follows: ClassVar[tuple[str, ...]] = ()
    stated: ClassVar[str] = ""
    tries: ClassVar[Callable[[Any], tuple[float, float]] | None] = None
    carries_loop: ClassVar[bool] = False
    opens_at: ClassVar[bool] = False
    meters_across: ClassVar[str] = ""
    clamped: ClassVar[bool] = False
    senses: ClassVar[bool] = False
    alternating: ClassVar[bool] = False
    cautions: ClassVar[tuple[str, ...]] = ()
    driven: ClassVar[tuple[str, ...]] = ()

    def __init_subclass__(cls, name: str = "", **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        if name:
            cls.name = name
            Kind.registry[name] = cls

    @classmethod
    def derive(cls, values: dict[str, Any]) -> dict[str, Any]:
        """Raw sheet values (already SI or table text) made complete before they are checked.

        As a rule only words become the numbers that stand for them; ChoiceError for an unknown one.
        """
        return chosen(values, cls.choices)

    @classmethod
    def drive(cls, q: Any, process: Any) -> dict[str, Any]:
        """Values of the ``driven`` parameters at a process value (fraction of range).

        A part that follows others gets their signals in place of the process value.
        """
        return {}

    @classmethod
    def corners(cls, q: Any) -> tuple[Any, ...]:
        """Process values at which ``drive`` bends."""
        return ()

    @classmethod
    def limited(cls, q: Any, process: Any) -> Any:
        """-1, 0 or 1 where what drives the part is held at its lower limit, free, at its upper."""
        return 0

    @classmethod
    def mode(cls, name: str) -> FaultMode:
        """The fault mode called ``name``; KeyError if the kind has none."""
        return {mode.name: mode for mode in cls.modes}[name]
