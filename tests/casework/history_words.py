"""What the crew of the demo plant write in their cases: plain sentences, all invented."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from diagnose.loops.loop import Loop

DAY = ("day shift, K.W.", "day shift, M.S.", "day shift, A.R.", "instrument shop, J.B.")
NIGHT = ("night shift, T.O.", "night shift, L.N.", "stand-by, P.H.")
"""Who comes: initials and roles of nobody."""

AT_NIGHT = (22, 6)

CALLED = (
    "Called by operations at {at}.",
    "Operations rang at {at}; the operator has watched it for an hour.",
    "Handed to us at {at} with the shift log.",
    "Radio call at {at}, from the panel.",
)
NO_PERMIT = (
    "no permit for it before daylight",
    "gas test not done, the area is not released",
    "scaffold is in the way until tomorrow",
    "operations do not allow the loop to be opened now",
)
NOTHING = (
    "{part} looked at, in its place and tight: nothing wrong.",
    "Went over {part}: nothing found.",
    "{part} taken apart as far as the permit goes. Nothing to be seen.",
)
STOOD_STILL = (
    "Operations compared it with the gauge on the line: the value was real.",
    "The pump had been changed over; the reading followed the process.",
    "Operator's hand valve was shut. Opened, and the reading came back.",
    "Nothing wrong with the loop. The process was off its usual point after the start.",
)
GONE = (
    "It stopped by itself before anybody had a meter on it. Steady for two hours.",
    "All readings are right now. Not seen again while we stood there.",
)
SHIFT_ENDS = (
    "Shift ends. The next shift goes on from the last reading.",
    "Called away to another job. Terminals are closed up.",
)
GONE_ON = ("Taken over: {who}.", "Gone on with at {at}: {who}.")
GIVEN_UP = (
    "Nothing found in three places. Loop watched on the recorder until it shows again.",
    "Not found. Shop has the trend; wait for the next time.",
)
LATER = (
    "Runs again. To be proved at the next chance.",
    "Came back while the wires were moved; what did it is a guess.",
)
BY_CHANCE = (
    "Not where we looked first. Found after everything in the cabinet was gone through.",
    "Found by swapping piece by piece with the neighbour loop.",
)
SLIP = "typed with the point in the wrong place"
WRONG_LEADS = "leads were on the wrong terminals"

AS_LEFT = {
    ("termination", "open"): "ferrule pressed anew, clamp tightened, wire pulled",
    ("termination", "high resistance"): "clamp cleaned and remade, wire pulled",
    ("core", "open"): "spare core put in its place and marked",
    ("core", "high resistance"): "spare core put in its place and marked",
    ("fuse", "open"): "cause of the blow looked for, fuse of the same rating put in",
    ("link", "open"): "link closed and pushed home",
    ("process_connection", "blocked"): "operations blew the line through; valves open",
    ("process_connection", "shifted"): "leg filled and vented, zero looked at with operations",
    ("insulation", "leakage"): "dried, cleaned, gland and seal renewed",
    ("earth_insulation", "leakage"): "dried, cleaned, gland and seal renewed",
    ("supply", "sagging"): "output capacitor bad; supply changed for the one in store",
    ("supply", "low"): "adjusted to 24 V under load, looked at again after an hour",
}
"""Kind and mode -> what was done; elsewhere the remedy of the mode tells it."""


class Words:
    """Sentences picked by one stream of luck."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def of(self, some: tuple[str, ...], **facts: str) -> str:
        """One of some sentences, with the facts put in."""
        return some[int(self.rng.integers(len(some)))].format(**facts)

    def who(self, now: datetime) -> str:
        """Somebody of the shift that is on."""
        return self.of(NIGHT if is_night(now) else DAY)

    def called(self, now: datetime) -> str:
        """Who came and who called."""
        who = self.who(now)
        return f"{who[0].upper()}{who[1:]} {self.of(CALLED, at=f'{now:%H:%M}')}"


def is_night(now: datetime) -> bool:
    """Whether the night shift is on."""
    return now.hour >= AT_NIGHT[0] or now.hour < AT_NIGHT[1]


def found_and_left(loop: Loop, part: str, fault: str) -> tuple[str, str]:
    """As found and as left, of one fault of one part."""
    it = loop.part(part)
    mode = next(mode for mode in it.kind.modes if mode.name == fault)
    places = {place.name: place.title for place in loop.places}
    where = places.get(it.place, "")
    named = mode.title.startswith(it.title) or not it.title
    found = mode.title if named else f"{it.title}: {mode.title}"
    found += f" ({where})" if where else ""
    left = AS_LEFT.get((it.kind.name, fault)) or f"done: {mode.remedy}"
    return found, left
