"""What can be done in a drill besides measuring: altering, putting back, arranging, the meter."""

from __future__ import annotations

from diagnose.inference.candidates import candidate_of, travel
from diagnose.inference.conditions import parse_condition
from diagnose.inference.measurement import Measurement
from diagnose.inference.reading_text import describe_condition
from diagnose.quantities import whole_number
from diagnose.training.drill import Drill
from diagnose.training.routes import item_place, walk
from diagnose.training.safety import ARRANGEMENTS, needs, unsafe_without
from diagnose.training.setting import DrillError
from diagnose.training.steps import Step, key_of, merged
from diagnose.training.virtual_meter import Shown

JACKS = {"v": "V", "volts": "V", "ohm": "V", "ma": "mA"}
"""What is typed -> the jack of the meter."""

MOST = 999_999
"""Largest number of a reading or an item that is taken for one."""

REFIT = 5.0
"""Minutes to put a new fuse into the meter (common practice, no source)."""


def alter(drill: Drill, text: str) -> Step:
    """Alter the loop on purpose: ``W3+.X21 lifted``, ``LT-214 driven 12 mA``."""
    condition = merged(drill.standing, parse_condition(text, drill.loop))
    new = tuple(item for item in condition if item not in drill.standing)
    if not new:
        raise DrillError(f"'{text[:60]}' stands so already")
    wanted = Measurement("process", (), new)
    wants = needs(wanted, drill.loop)
    missing = tuple(word for word in wants if word not in drill.records)
    drill.warn(text, missing)
    way = tuple(item_place(drill.loop, item, drill.place) for item in new)
    walked, place = walk(drill.loop, drill.place, way, drill.been)
    cost = candidate_of(drill.loop, wanted, place)
    idle = candidate_of(drill.loop, Measurement("process", ()), place).minutes
    minutes = cost.minutes - idle + walked
    altered = Measurement("process", (), condition)
    found = drill.effects_of(altered, Shown(""))
    drill.alter(condition, new, way)
    return drill.add(
        f"set {text}", "set", (f"Done: {text}.",), minutes, place=place, needed=wants,
        missing=missing, mistakes=unsafe_without(missing), effects=found,
        disturbs=cost.moves_signal, interrupts=cost.interrupts, measurement=altered,
    )  # fmt: skip


def restore(drill: Drill, text: str) -> Step:
    """Put back what is altered: by its words, its number, or ``all``."""
    chosen = _chosen(drill, " ".join(text.split()).casefold())
    if not drill.items:
        raise DrillError("nothing open is to be put back")
    if not chosen:
        known = ", ".join(drill.items) or "nothing"
        raise DrillError(f"nothing open is called '{text[:60]}'; open: {known}")
    back = [item for item in drill.standing if drill.called(item) in chosen]
    drill.standing = tuple(item for item in drill.standing if item not in back)
    drill.records -= set(chosen)
    way = dict.fromkeys(drill.done_at.get(key_of(item), drill.place) for item in back)
    walked, place = walk(drill.loop, drill.place, way, drill.been)
    told = f"Put back: {', '.join(chosen)}."
    minutes = walked + 0.5 + 0.5 * len(back)
    return drill.add(f"restore {text}".strip(), "restored", (told,), minutes, place=place)


def _chosen(drill: Drill, word: str) -> list[str]:
    if word in ("all", ""):
        return list(drill.items)
    number = whole_number(word, 0, MOST)
    if number is not None:
        return list(drill.items[max(number - 1, 0) : number])
    found = [item for item in drill.items if word in item.casefold()]
    said = (i for i in drill.standing if word in describe_condition((i,), drill.loop).casefold())
    return found or [drill.called(item) for item in said]


def arrange(drill: Drill, word: str) -> Step:
    """Agree or do what a step needs first."""
    found = ARRANGEMENTS.get(word)
    if found is None:
        raise DrillError(f"'{word[:40]}' is none of {', '.join(ARRANGEMENTS)}")
    if word in drill.records:
        raise DrillError(f"{word} is on record already")
    drill.records.add(word)
    return drill.add(word, "arranged", (found.told,), found.minutes)


def lead(drill: Drill, jack: str) -> Step:
    """Put the red lead into a jack of the meter."""
    if jack.casefold() not in JACKS:
        raise DrillError("the meter has two jacks: jack V, jack mA")
    drill.meter.jack = JACKS[jack.casefold()]
    return drill.add(f"jack {jack}", "meter", (f"The red lead is in the {drill.meter.jack} jack.",))


def prove_fuse(drill: Drill, _: str) -> Step:
    """Prove the meter's current fuse: ohms from the V jack to the mA jack."""
    seen = "it conducts, the fuse is whole" if drill.meter.whole else "OL, the fuse is blown"
    told = f"Ohms from the V jack to the mA jack: {seen}."
    return drill.add("fuse", "meter", (told,), 1.0)


def new_fuse(drill: Drill, _: str) -> Step:
    """Put a new fuse into the meter."""
    drill.meter.whole = True
    return drill.add("new fuse", "meter", ("A new fuse is in.",), REFIT)


def withdraw(drill: Drill, text: str) -> Step:
    """Let a reading count no more."""
    known = {step.number for step in drill.readings} - drill.withdrawn
    number = whole_number(text, 0, MOST)
    if number is None or number not in known:
        listed = ", ".join(map(str, sorted(known))) or "none yet"
        raise DrillError(f"there is no reading '{text[:20]}' that counts; readings: {listed}")
    step = drill.add(f"withdraw {text}", "withdrawn", (f"Reading {text} counts no more.",))
    drill.withdrawn.add(number)
    return step


def undo(drill: Drill, _: str) -> Step:
    """Let the last reading that counts count no more; what was done to the loop stays done."""
    known = [step.number for step in drill.readings if step.number not in drill.withdrawn]
    if not known:
        raise DrillError("there is no reading to be taken back; restore puts back what is altered")
    return withdraw(drill, str(known[-1]))


def wait(drill: Drill, text: str) -> Step:
    """Let time pass: an intermittent fault may come and go."""
    word = text.split()[0] if text.split() else "10"
    if whole_number(word, 1, 240) is None:
        raise DrillError(f"wait: '{word[:20]}' is no number of minutes from 1 to 240")
    return drill.add(f"wait {word}", "waited", (f"{word} minutes pass.",), float(word))


def stand(drill: Drill, text: str) -> Step:
    """Walk to a place."""
    for place in drill.loop.places:
        if text.casefold() in (place.name.casefold(), place.title.casefold()):
            minutes = travel(drill.loop, drill.place, place.name, drill.been)
            told = f"You are at: {place.title}."
            return drill.add(f"at {place.name}", "moved", (told,), minutes, place=place.name)
    known = ", ".join(place.name for place in drill.loop.places)
    raise DrillError(f"there is no place '{text[:40]}'; places: {known}")


def note(drill: Drill, text: str) -> Step:
    """Keep some words."""
    if not text:
        raise DrillError("write some words behind note")
    return drill.add(f"note {text}", "noted", ("Kept.",))
