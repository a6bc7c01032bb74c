"""How a call to the demo plant ends: found and proved, not found, or nothing was wrong."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from casework import history_words as say
from diagnose.casework import events as e
from diagnose.casework.hunt import RECORDS
from diagnose.casework.hunt_task import left_altered
from diagnose.inference.cautions import CAUTIONS, cautions_for
from diagnose.inference.measurement import Measurement, Reading, scale_of
from diagnose.inference.readings import describe, parse_measurement

if TYPE_CHECKING:
    from casework.history_crew import Crew


class Ending:
    """The end of one call, after the last reading."""

    def __init__(self, crew: Crew) -> None:
        self.crew = crew

    def reached(self) -> bool:
        """Repair, prove and close; whether the fault is gone."""
        ranking = self.crew.hunt.believed()
        if self.crew.call.fate == "gone":
            return self._unfound(self.crew.words.of(say.GONE))
        if self.crew.fault[0] is None:
            return self._sound(ranking.hypotheses[0].part is None)
        for remedy in ranking.remedy[:4]:
            self.crew.wait(0.6 * remedy.minutes, 1.5 * remedy.minutes)
            if remedy.part == self.crew.fault[0]:
                return self._found()
            self.crew.note(self.crew.words.of(say.NOTHING, part=remedy.part or "the loop"))
        if ranking.remedy and self.crew.chance(0.55):
            self.crew.wait(30, 150)
            self.crew.note(self.crew.words.of(say.BY_CHANCE))
            return self._found()
        return self._unfound(self.crew.words.of(say.GIVEN_UP))

    def _sound(self, seen: bool) -> bool:
        if not seen:
            part = self.crew.hunt.believed().remedy[:1]
            self.crew.wait(10, 40)
            self.crew.note(
                self.crew.words.of(say.NOTHING, part=part[0].part or "it") if part else ""
            )
        self.crew.note(self.crew.words.of(say.STOOD_STILL))
        self.crew.put_back(lambda item: True)
        self.crew.add(e.Closed(e.SOUND))
        return True

    def _unfound(self, text: str) -> bool:
        self.crew.note(text)
        self.crew.put_back(lambda item: True)
        self.crew.add(e.Closed(e.UNFOUND if self.crew.chance(0.75) else e.HANDED_OVER))
        return False

    def _found(self) -> bool:
        part, fault = str(self.crew.fault[0]), self.crew.fault[1]
        found, left = say.found_and_left(self.crew.loop, part, fault)
        self.crew.add(e.RemedyTried(part, fault, found, left))
        self.crew.note(self.crew.call.note)
        if self.crew.call.fate == "unproved":
            self.crew.note(self.crew.words.of(say.LATER))
            self.crew.put_back(lambda item: True)
            self.crew.add(e.Closed(e.HANDED_OVER))
            return self.crew.chance(0.6)
        self.crew.mended()
        proved = self._prove()
        seen = f"{proved} readings within limits afterwards" if proved else "right when it was done"
        self.crew.add(e.CauseConfirmed(part, fault, f"as found, put right; {seen}"))
        self.crew.put_back(lambda item: item not in RECORDS.values())
        if self.crew.file.case.open_items and self.crew.chance(0.07):
            self.crew.add(e.Closed(e.HANDED_OVER))  # the bypass is still on
            return True
        self.crew.put_back(lambda item: True)
        self.crew.add(e.Closed(e.CONFIRMED))
        return True

    def _prove(self) -> int:
        """Readings after the repair that were within their limits."""
        proofs = self.crew.hunt.believed().proof
        if self.crew.chance(0.12) or not proofs:
            return 0
        for item in self.crew.hunt.missing:
            self.crew.add(e.Altered(item, f"{self.crew.call.tag}, for the proof"))
        points = [parse_measurement(proof.text, self.crew.loop) for proof in proofs]
        if self.crew.careful:
            needed = dict.fromkeys(k for m in points for k in cautions_for(m, self.crew.loop))
            self.crew.hunt.acknowledge(tuple(k for k in needed if CAUTIONS[k].acknowledge))
        for proof, measurement in zip(proofs, points, strict=True):
            self._put_back_before(measurement)
            seen = self.crew.world.read(measurement)
            level = self._level(measurement, seen)
            passed = proof.low <= level <= proof.high
            list(self.crew.hunt.open_for(measurement))
            text = describe(
                Reading(measurement, seen.sort, seen.value, seen.spread), self.crew.loop
            )
            low, high = (end if isfinite(end) else None for end in (proof.low, proof.high))
            self.crew.add(e.ProofTaken(text, low, high, passed))
        return sum(item.passed for item in self.crew.file.case.proofs)

    def _level(self, measurement: Measurement, seen: Reading) -> float:
        """What a proof is judged by: a value on its scale, or 1 for a lamp that is lit."""
        if seen.sort in ("lit", "dark"):
            return float(seen.sort == "lit")
        return float(scale_of(measurement, self.crew.loop).value(seen.value))

    def _put_back_before(self, measurement: Measurement) -> None:
        """What the point before was driven to; bypass and manual stay until the end."""
        wanted = {*left_altered(measurement, self.crew.loop)}
        for item in self.crew.file.case.open_items:
            if item.item not in RECORDS.values() and (item.item, item.text) not in wanted:
                self.crew.add(e.Restored(item.item, item.text))
