"""The two words of what shows a state: a lamp is lit or dark, a horn sounds or is silent.

A reading's sort stays ``lit`` or ``dark`` whatever the words are: the first stands for the state in
which the level of the display is positive.  Where a state stands beside quantities with a unit, its
unit is the first word.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

SORTS = ("lit", "dark")
"""The sorts of a reading of a state: level positive, and not."""


@dataclass(frozen=True, slots=True)
class States:
    """Both words, and what else people say for each of them.

    ``lit`` and ``dark``, ``on`` and ``off`` are taken for any: old cases say so, and so do people.
    ``note`` stands behind the words where they are asked for.
    """

    on: str
    off: str
    also_on: tuple[str, ...] = ()
    also_off: tuple[str, ...] = ()
    note: str = ""

    @property
    def words(self) -> Mapping[str, str]:
        """Every word that is taken -> ``lit`` or ``dark``."""
        on = dict.fromkeys((self.on, *self.also_on, "lit", "on"), "lit")
        return on | dict.fromkeys((self.off, *self.also_off, "dark", "off"), "dark")

    @property
    def either(self) -> str:
        """``lit or dark``."""
        return f"{self.on} or {self.off}"

    def word(self, on: object) -> str:
        """The word for a state that is on (true) or off."""
        return self.on if on else self.off


LIT = States(
    "lit", "dark", ("alight", "tripped", "alarm"), ("unlit", "normal", "out"),
)  # fmt: skip
SOUNDS = States(
    "sounds", "silent",
    ("sounding", "loud", "blowing", "blows", "audible", "heard", "alarm"),
    ("quiet", "mute", "muted", "inaudible", "normal"),
    ", as it was before anybody silenced it",
)  # fmt: skip
COMMANDED = States(
    "on", "off", ("energised", "energized", "1"), ("de-energised", "de-energized", "0"),
)  # fmt: skip
PULLED_IN = States(
    "pulled in", "dropped out",
    ("pulled", "picked up", "in", "up", "held", "energised", "energized"),
    ("dropped", "released", "out", "down", "fallen", "de-energised", "de-energized"),
)  # fmt: skip
OPEN = States("open", "shut", ("opened", "fully open"), ("closed", "fully shut", "fully closed"))
PART_WAY = ("part way", "part open", "half open", "half way", "half shut", "between", "neither")
"""What people say of a pointer that stands at neither of its ends."""

ENGAGED = States(
    "engaged", "neutral", ("in", "locked in"), ("disengaged", "free", "out", "in neutral"),
)  # fmt: skip
TURNED = States(
    "turned", "not turned", ("turned on", "operated", "locked on"),
    ("turned back", "normal", "neutral", "not operated"),
)  # fmt: skip
MANUAL = States(
    "lit", "dark", ("manual", "in manual", "man", "tracking"),
    ("auto", "automatic", "in auto", "in automatic"),
)  # fmt: skip

STATES: Mapping[str, States] = MappingProxyType(
    {item.on: item for item in (LIT, SOUNDS, COMMANDED, PULLED_IN, OPEN, ENGAGED, TURNED)}
)
"""Unit of a state -> its words."""

SAID = frozenset(word for item in (*STATES.values(), MANUAL) for word in item.words)
"""Every word that is said of a state."""
