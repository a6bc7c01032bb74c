"""Cautions: what a step needs first, and when to stop.  Reminders, never permission.

The texts defer to site procedures, local codes and a licensed person; ``family`` names the
standards that each is about, for whoever wants to read on (common practice where it says so).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """One reminder; ``acknowledge`` marks the red ones, which must be answered every time."""

    key: str
    text: str
    family: str
    acknowledge: bool = False


_ALL = (
    Caution(
        "defer",
        "These are reminders only. Site procedures, local codes and a licensed person decide.",
        "site procedures, local codes",
    ),
    Caution(
        "owner",
        "Needs an answer first: what does this signal feed, and what does the plant do if it falls "
        "to zero, rises to the top or stands still? Tell the operator before and after.",
        "site permit; IEC 61511",
    ),
    Caution(
        "stop",
        "Stop until somebody else agrees: thunder, water in the enclosure, working alone where two "
        "are required, too tired, or not sure that this is the right loop.",
        "site procedures",
    ),
    Caution(
        "trip",
        "This loop feeds a trip. Stop until its bypass is authorised, recorded, time-limited and "
        "shown, with the compensating measure in place. Take it off again and confirm it.",
        "IEC 61511-1",
        acknowledge=True,
    ),
    Caution(
        "no trip",
        "The plant may be without this trip. Stop and tell the shift lead before anything is "
        "measured: the site decides whether to shut down by hand or what stands in for it.",
        "IEC 61511-1",
        acknowledge=True,
    ),
    Caution(
        "manual",
        "This loop feeds a controller. It needs manual, agreed with the operator; look for "
        "cascades, ratios and others that read the same signal.",
        "common practice",
        acknowledge=True,
    ),
    Caution(
        "zone",
        "Hazardous area: needs the area released, a gas test and a permit, and a meter, torch and "
        "radio certified for it. An ordinary meter stays out, on intrinsically safe wiring too.",
        "IEC 60079-14, IEC 60079-17, NEC 504",
        acknowledge=True,
    ),
    Caution(
        "enclosure",
        "Stop until the permit covers opening this enclosure: a flameproof one stays shut while "
        "live. Mind seals, joints and bolts when closing.",
        "IEC 60079-1, IEC 60079-17",
        acknowledge=True,
    ),
    Caution(
        "added energy",
        "Ohms ranges, current sources and laptops put energy into the wiring. In a hazardous area "
        "this needs a certificate that covers it; otherwise stop.",
        "IEC 60079-11, IEC 60079-14, IEC 60079-25",
        acknowledge=True,
    ),
    Caution(
        "intrinsic safety",
        "Wiring behind a barrier, isolator or switch amplifier may be intrinsically safe: it needs "
        "a meter assessed for it and counted in, no other energy. A barrier earth stays while the "
        "field is connected.",
        "IEC 60079-11, IEC 60079-14, IEC 60079-25",
    ),
    Caution(
        "output",
        "This loop moves a final element. Needs the line of fire clear, stored air and springs "
        "dealt with, and the operator's word on where it will go.",
        "lock-out rules; IEC 61511",
        acknowledge=True,
    ),
    Caution(
        "air",
        "Compressed air: needs the supply shut and the line bled before anything is loosened, the "
        "tube held, eyes covered. It may be nitrogen: stop in a closed space.",
        "ISO 4414, lock-out rules",
        acknowledge=True,
    ),
    Caution(
        "process side",
        "Work on the process connection: needs operations to isolate, drain and vent, and to say "
        "what is inside. Stop if a valve passes.",
        "lock-out rules, site permit",
        acknowledge=True,
    ),
    Caution(
        "inject",
        "The plant will believe what is fed in. Needs every user of the signal agreed first; one "
        "source only in the loop; put back afterwards what it stood in for.",
        "common practice",
        acknowledge=True,
    ),
    Caution(
        "by hand",
        "The plant will believe this state. Needs every user of the signal agreed first, fingers "
        "clear of what may move by itself; put everything back afterwards.",
        "common practice",
        acknowledge=True,
    ),
    Caution(
        "earth",
        "An earth or shield may be the only protection. Needs a permit, one at a time, tagged, put "
        "back and measured.",
        "IEC 60079-14, IEC 60364",
        acknowledge=True,
    ),
    Caution(
        "jumper",
        "A jumper across the wrong terminals shorts the loop or earths it. Needs both points read "
        "out loud first, a fused lead where there is one, and a note to take it off.",
        "common practice",
    ),
    Caution(
        "open loop",
        "The signal is lost while the loop is open, to zero or off scale: expect trips and moving "
        "valves. Needs a make-before-break link where there is one, a coil switched off first (it "
        "sparks), a note.",
        "common practice",
    ),
    Caution(
        "wire work",
        "Work on wires and parts opens the circuit: expect trips and moving valves. Needs it off "
        "and proved dead, unless the site lets it be done live, and each wire marked before it is "
        "lifted.",
        "EN 50110-1, NFPA 70E; common practice",
    ),
    Caution(
        "hot work",
        "Hot air, soldering, grinding and drilling are sources of ignition: in a hazardous area "
        "stop until a permit for hot work covers them.",
        "site permit; common practice",
    ),
    Caution(
        "series current",
        "Needs the meter's current fuse proved first and the lead in the right jack. Current jacks "
        "across two live points are a short. Move the lead back before the next volts.",
        "IEC 61010-2-033",
    ),
    Caution(
        "low impedance",
        "Low-impedance volts load the loop by milliamperes: the signal will jump and may trip; "
        "across an open contact a coil may pull in. Needs another way on intrinsically safe "
        "wiring.",
        "common practice",
    ),
    Caution(
        "de-energise",
        "Needs the supply isolated, locked, tagged and proved dead: prove the meter, test, prove "
        "it again. The signal is lost, and with it every other loop on this supply or card.",
        "NFPA 70E, EN 50110-1, OSHA 1910.147",
    ),
    Caution(
        "no insulation tester",
        "Ohms with the multimeter only. Stop before an insulation tester until the cable is lifted "
        "at both ends: its volts destroy electronics, barriers and protectors. Discharge the cable "
        "after it.",
        "IEC 60079-17, IEC 60364-6",
    ),
    Caution(
        "mains",
        "Mains stands on these terminals. Needs a person licensed to measure live, leads and meter "
        "of category III or better, one hand, nobody alone. Stop if covers or leads are damaged.",
        "IEC 61010-2-033, EN 50110-1, NFPA 70E",
    ),
    Caution(
        "mains work",
        "On mains nothing is opened, lifted or joined live. Needs a licensed person and the feed "
        "isolated, locked, tagged and proved dead on every pole, other feeds in the box too.",
        "EN 50110-1, IEC 61243-3, NFPA 70E, OSHA 1910.333",
        acknowledge=True,
    ),
    Caution(
        "live volts",
        "Mains and relay circuits may share these terminals; a probe that slips is a short. Needs "
        "rated leads, fingers behind the guards, meter category and fuse fit for the place, the "
        "jacks checked.",
        "IEC 61010-2-033, NFPA 70E, EN 50110-1",
    ),
    Caution(
        "restore",
        "Needs putting back what was touched: links, wires, torque, covers, jumpers. Controller as "
        "it was, bypass off, function checked, all of it written down.",
        "IEC 61511, site procedures",
    ),
)

CAUTIONS: dict[str, Caution] = {caution.key: caution for caution in _ALL}
"""Every caution by key, in the order in which they are shown."""

STANDING = ("defer", "owner", "stop")
"""Shown once, before anything is measured."""
