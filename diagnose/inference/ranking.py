"""What the engine answers: ranked hypotheses, the next measurements, remedy and proof.

Plain data for screens, files and scripts; quantities are SI floats with their unit beside them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from diagnose.inference.measurement import Measurement

UNEXPLAINED = 0.2
"""Share of what is not modelled from which it is said that perhaps nothing fits; up to it that is
no answer, though no other explanation has as much."""


@dataclass(frozen=True, slots=True)
class Size:
    """Severity of a hypothesis after the readings: median and the middle 90 %, SI."""

    quantity: str
    unit: str
    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Ranked:
    """One hypothesis with its probability and ambiguity group (1 is the most probable group).

    ``also`` holds a second fault (part, fault) where two are needed; ``part`` None is the sound
    loop.  ``for_`` and ``against`` name readings (numbers) that speak for it or against it.
    """

    part: str | None
    fault: str
    title: str
    place: str
    probability: float
    group: int
    size: Size | None = None
    also: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    """Hypotheses that no measurement within reach tells apart."""

    number: int
    probability: float
    members: tuple[tuple[str | None, str], ...]


@dataclass(frozen=True, slots=True)
class Expects:
    """What one hypothesis makes of a measurement: the middle 90 % of what would be seen, SI.

    For a lamp ``low`` and ``high`` are both the chance that it is lit, unit ``lit``; for ohms
    beyond the meter they are infinite.  ``probability`` is that of its group, in which ``more``
    others matter.
    """

    part: str | None
    fault: str
    probability: float
    low: float
    high: float
    unit: str
    more: int = 0


@dataclass(frozen=True, slots=True)
class Companion:
    """A further reading at the place of an advised one: what it adds, and its own minutes."""

    measurement: Measurement
    text: str
    gain_bits: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Advice:
    """One measurement worth taking, and why.

    ``healthy`` is what a sound loop would show (low, high) at what is now believed of the process,
    ``healthy_else`` what it would show if it stood the other way: off and not on.
    ``needs`` are things that must be agreed or done first; ``cautions`` are keys of
    ``cautions.CAUTIONS``; ``permit`` are those of the ``minutes`` that a permit takes; ``beside``
    is what is worth reading on the same walk; ``again`` is the number of the distrusted reading
    that is taken again, 0 where it is not; ``charge`` are minutes by which the step ranks lower
    because it disturbs the loop.
    """

    measurement: Measurement
    text: str
    place: str
    gain_bits: float
    minutes: float
    interrupts_loop: bool
    moves_signal: bool
    healthy: tuple[float, float, str]
    expects: tuple[Expects, ...]
    cautions: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    beside: tuple[Companion, ...] = ()
    again: int = 0
    permit: float = 0.0
    charge: float = 0.0
    healthy_else: tuple[float, float, str] | None = None


@dataclass(frozen=True, slots=True)
class Free:
    """A question that costs nothing: the line to type for its answer, and what it would tell.

    ``of`` names the display or the loop that is asked about, ``other`` another answer to type;
    ``gain_bits`` is 0 where no chances are known.
    """

    text: str
    gain_bits: float
    of: str
    other: str = ""


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something to inspect or change, in the order of probability per minute."""

    part: str | None
    fault: str
    action: str
    place: str
    probability: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Proof:
    """A reading that proves the repair: what it should then show, SI."""

    text: str
    low: float
    high: float
    unit: str
    measurement: Measurement | None = None


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading (1 is the first) that may be worthless, with the chance that it is.

    ``reason`` names a mistake that would explain it, if one does; ``retaken`` is the number of the
    trusted reading that was taken in its place since, 0 where there is none.  ``once``: it must not
    be taken again, for a short that may be there would blow the meter's fuse.
    """

    index: int
    text: str
    probability: float
    reason: str = ""
    retaken: int = 0
    once: bool = False


@dataclass(frozen=True, slots=True)
class Ranking:
    """The whole answer to one set of evidence.

    ``sound`` is the chance that the loop is electrically sound (process or its connection);
    ``free`` are questions that cost nothing;
    ``untested`` lists latent faults that cannot cause the complaint and were not looked at;
    ``unseen`` are repairs that no reading of the proof would show undone;
    ``behind`` is the chance that a further fault stands beside the first and may show only once
    that one is put right, 0 while there is more to measure;
    ``resolved`` is True when one group holds 95 %, ``stop`` says in a sentence why no further
    measurement is advised (empty while one is).
    """

    tag: str
    hypotheses: tuple[Ranked, ...]
    groups: tuple[Group, ...]
    unexplained: float
    sound: float
    suspects: tuple[Suspect, ...]
    next: tuple[Advice, ...]
    resolved: bool
    stop: str = ""
    remedy: tuple[Remedy, ...] = ()
    proof: tuple[Proof, ...] = ()
    unseen: tuple[tuple[str | None, str], ...] = ()
    untested: tuple[tuple[str, str], ...] = ()
    assumptions: tuple[str, ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)
    free: tuple[Free, ...] = ()
    behind: float = 0.0
