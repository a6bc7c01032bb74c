"""The cases of the demo plant, made anew: `python tests/casework/demo_cases.py` writes the files.

All of them: those told here one by one, and the three years of `demo_history`, which take some
minutes; a number after it is how many may run at once, and tags after that are all that is made
anew (of those three years).  Invented hunts: the readings come from a
simulated loop with a hidden fault and a meter with errors of its own (`inference.world`, seeded),
the advice from the engine.  Run it whenever rankings change on purpose.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import numpy as np  # noqa: E402

from diagnose.casework import events as e  # noqa: E402
from diagnose.casework.digest import ranked  # noqa: E402
from diagnose.casework.hunt_task import left_altered  # noqa: E402
from diagnose.casework.log import CaseFile  # noqa: E402
from diagnose.inference.cautions import CAUTIONS  # noqa: E402
from diagnose.inference.engine import Engine  # noqa: E402
from diagnose.inference.measurement import Measurement, Reading  # noqa: E402
from diagnose.inference.ranking import Advice, Ranking  # noqa: E402
from diagnose.inference.readings import describe, parse_line, parse_measurement  # noqa: E402
from diagnose.inference.world import World  # noqa: E402
from diagnose.loops.plant import open_plant  # noqa: E402

PLANT = ROOT / "cases" / "larkmere"
CASES = PLANT / "cases"


@dataclass
class Clock:
    """A clock that is set by hand."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now

    def pass_(self, minutes: float) -> None:
        self.now += timedelta(seconds=round(60 * minutes))


class Story:
    """One hunt: the file, the engine, and the loop as it really is."""

    def __init__(
        self, folder: Path, tag: str, start: str, fault: tuple[str | None, str], x: float,
        process: float, seed: int,
    ) -> None:  # fmt: skip
        self.clock = Clock(datetime.fromisoformat(start))
        loop = open_plant(PLANT).load(tag)
        self.file = CaseFile.create(folder, loop, clock=self.clock)
        self.loop = self.file.loop
        self.engine = Engine(self.loop)
        self.seed, self.process = seed, process
        self.place = "cabinet"
        self.without: frozenset[str] = frozenset()
        self.suffers(fault, x)

    def suffers(self, fault: tuple[str | None, str], x: float = 0.5) -> None:
        """What is wrong from now on."""
        self.world = World(
            self.engine.observer, self.engine.atlas.ground, self.engine.hypothesis(fault), x,
            self.process, np.random.default_rng(self.seed), mistakes=False,
        )  # fmt: skip

    def say(self, *events: e.Event, minutes: float = 1.0) -> None:
        for event in events:
            self.file.append(event)
        self.clock.pass_(minutes)

    def rank(self) -> Ranking:
        said = [parse_line(line, self.loop) for line in self.file.case.evidence]
        ranking = self.engine.rank(said, self.place, self.without)
        self.file.append(ranked(ranking, self.file.case))
        return ranking

    def typed(self, measurement: Measurement) -> str:
        """A reading as a technician types it: a display as it stands, a meter as it shows."""
        seen = self.world.read(measurement)
        return describe(Reading(measurement, seen.sort, seen.value, seen.spread), self.loop)

    def look(self, line: str) -> None:
        """An indication or a reading of one's own choice."""
        text = self.typed(parse_measurement(line, self.loop))
        self.say(e.ReadingTaken(text, "control room", 0.5, False))

    def follow(self, most: int) -> Ranking:
        """Take what is advised until nothing more is, or ``most`` readings."""
        ranking = self.rank()
        for _ in range(most):
            if not ranking.next:
                break
            self._take(ranking.next[0])
            ranking = self.rank()
        return ranking

    def _take(self, advice: Advice) -> None:
        self.say(e.AdviceGiven(advice.text, round(advice.gain_bits, 3), advice.minutes), minutes=0)
        for key in advice.cautions:
            if CAUTIONS[key].acknowledge:
                self.say(e.CautionAcknowledged(key), minutes=1)
        self.clock.pass_(advice.minutes)
        self.place = advice.place
        done = left_altered(advice.measurement, self.loop)
        for item, which in done:
            self.say(e.Altered(item, which), minutes=0)
        text = self.typed(advice.measurement)
        self.say(e.ReadingTaken(text, advice.place, round(advice.minutes, 1), True), minutes=0)
        for item, which in done:
            self.say(e.Restored(item, which), minutes=0)

    def prove(self, ranking: Ranking) -> None:
        """Five points on the loop as it is now."""
        for proof in ranking.proof:
            measurement = parse_measurement(proof.text, self.loop)
            seen = self.world.read(measurement)
            passed = proof.low <= seen.value <= proof.high
            text = describe(Reading(measurement, seen.sort, seen.value, seen.spread), self.loop)
            self.say(e.ProofTaken(text, proof.low, proof.high, passed))


@contextmanager
def story(folder: Path, *facts: object) -> Iterator[Story]:
    told = Story(folder, *facts)  # type: ignore[arg-type]
    try:
        yield told
    finally:
        told.file.close()
        for path in folder.glob(".*"):
            path.unlink()


def leaking_core(folder: Path) -> None:
    """Rain in the field cable: the receivers show more than the transmitter sends."""
    with story(
        folder, "LT-214", "2024-03-12T02:40+01:00", ("I.W3", "leakage"), 0.45, 0.42, 3
    ) as hunt:
        hunt.say(e.Complained("complaint reads high"), e.Context("context rain"))
        hunt.look("LIC-214")
        hunt.look("LG-214")
        hunt.say(e.Altered("bypass", "trip LAHH-214"), e.Altered("manual", "LIC-214"))
        ranking = hunt.follow(8)
        hunt.say(
            e.Altered("wire lifted", "both ends of W3+ and W3-"),
            e.Noted("W3 lifted at both ends, supply off: 9.6 kohm between its cores, jacket cut"),
            minutes=40,
        )
        hunt.say(
            e.RemedyTried(
                "I.W3", "leakage", "9.6 kohm between cores W3+ and W3-, jacket cut at the bridge",
                "spare pair put in, over 60 Mohm between its cores",
            ),
            e.Restored("wire lifted", ""),
            minutes=30,
        )  # fmt: skip
        hunt.suffers((None, "none"))
        hunt.prove(ranking)
        hunt.say(
            e.CauseConfirmed("I.W3", "leakage", "ohms between the lifted cores; five points after"),
            e.Restored("manual", ""),
            e.Restored("bypass", ""),
            e.Closed(e.CONFIRMED),
        )


def dragging_receiver(folder: Path) -> None:
    """A recorder whose input pulls the shared 1-5 V down."""
    with story(
        folder, "LT-214", "2024-05-21T10:15+02:00", ("LR-214", "input collapsed"), 0.3, 0.61, 11
    ) as hunt:
        hunt.say(e.Complained("complaint reads low"), e.Context("context lightning"))
        hunt.look("LIC-214")
        hunt.look("LI-214")
        hunt.say(e.Altered("bypass", "trip LAHH-214"), e.Altered("manual", "LIC-214"))
        ranking = hunt.follow(8)
        hunt.say(
            e.RemedyTried(
                "LR-214", "input collapsed", "recorder input drags the bus; free when unplugged",
                "recorder changed for the spare of the shop",
            ),
            minutes=25,
        )  # fmt: skip
        hunt.suffers((None, "none"))
        hunt.prove(ranking)
        hunt.say(
            e.CauseConfirmed("LR-214", "input collapsed", "bus right as soon as it was unplugged"),
            e.Restored("manual", ""),
            e.Restored("bypass", ""),
            e.Closed(e.CONFIRMED),
        )


def really_there(folder: Path) -> None:
    """The level was high: nothing is wrong with the loop."""
    with story(folder, "LT-214", "2024-06-02T23:05+02:00", (None, "none"), 0.5, 0.87, 5) as hunt:
        hunt.say(e.Complained("complaint reads high"))
        hunt.look("LIC-214")
        wrong = hunt.file.append(e.ReadingTaken("LG-214 8.7 %", "control room", 0.5, False))
        hunt.say(e.ReadingCorrected(wrong.number, "LG-214 87 %"))
        hunt.look("LI-214")
        hunt.follow(4)
        hunt.say(
            e.Noted("Operations found the drain valve shut; the receiver was filling."),
            e.Closed(e.SOUND),
        )


def gone_again(folder: Path) -> None:
    """It wandered for an hour and stopped before anybody looked."""
    with story(folder, "LT-216", "2024-07-09T14:30+02:00", (None, "none"), 0.5, 0.35, 8) as hunt:
        hunt.say(e.Complained("complaint erratic"), e.Context("context work"))
        hunt.look("LIC-216")
        slip = hunt.file.append(e.ReadingTaken("V X24:1 X24:2 24.1 V", "cabinet", 3, False))
        hunt.say(e.ReadingWithdrawn(slip.number, "leads were on the supply"))
        hunt.look("LR-216")
        hunt.follow(5)
        hunt.say(
            e.Declined("mA X24:4", "operations do not allow the loop to be opened today"),
            e.Noted("Steady for two hours. Painters moved the cable tray this morning."),
            e.Closed(e.UNFOUND),
        )


def left_for_the_day(folder: Path) -> None:
    """A corroded joint on the platform, at night: without a permit the day shift goes on.

    From the cabinet and the junction box it looks like a blocked connection, and the note says so.
    """
    with story(
        folder, "LT-216", "2024-11-18T03:20+01:00", ("W6+.LT-216", "high resistance"), 0.32, 0.9, 21
    ) as hunt:
        hunt.say(e.Complained("complaint clips"))
        hunt.look("LIC-216")
        hunt.look("LG-216")
        hunt.say(
            e.Altered("bypass", "trip LAHH-216, until 08:00"),
            e.Altered("manual", "LIC-216 at 50 %"),
        )
        hunt.say(e.Declined("V LT-216:+ LT-216:-", "no permit for the platform before daylight"))
        hunt.without = frozenset({"transmitter"})
        hunt.follow(4)
        hunt.say(e.CautionAcknowledged("zone"), e.CautionAcknowledged("enclosure"), minutes=18)
        text = hunt.typed(parse_measurement("V JB11:1 JB11:2", hunt.loop))
        hunt.say(e.ReadingTaken(text, "junction box", 19.0, False))
        hunt.rank()
        hunt.say(
            e.Noted("Cover of JB11 is closed again. Permit for the platform is asked for."),
            e.Closed(e.HANDED_OVER),
        )


STORIES = (leaking_core, dragging_receiver, really_there, gone_again, left_for_the_day)


TOLD = (
    "LT-214_2024-03-12_01",
    "LT-214_2024-05-21_01",
    "LT-214_2024-06-02_01",
    "LT-216_2024-07-09_01",
    "LT-216_2024-11-18_01",
)
"""The files of the stories, in their order."""


def make(folder: Path) -> None:
    """Write the cases of the stories into a folder."""
    for tell in STORIES:
        tell(folder)


def main(workers: int, tags: Sequence[str]) -> str:
    """Make the cases of some loops anew, or all of them with the stories."""
    from casework import demo_history

    told = [CASES / f"{name}.jsonl" for name in TOLD]
    for old in CASES.glob("*.jsonl"):
        if not tags or (old.stem.rpartition("_")[0][:-11] in tags and old not in told):
            old.unlink()
    if not tags:
        make(CASES)
    return f"{demo_history.make(CASES, workers, tags)} cases of the three years"


if __name__ == "__main__":
    print(main(int(sys.argv[1]) if sys.argv[1:] else 1, sys.argv[2:]))
