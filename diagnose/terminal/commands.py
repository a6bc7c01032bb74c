"""The table of commands: argparse, help, completion and the documents all read it."""

from __future__ import annotations

from diagnose.terminal.arguments import Command, argument
from diagnose.terminal.handlers import (
    cases,
    check,
    evaluate,
    expect,
    loops,
    netlist,
    rank,
    simulate,
    troubleshoot,
    why,
)

LOOP = argument(
    "loop", metavar="LOOP", help="tag of a loop (a beginning will do), loop type, or a sheet's path"
)
CONDITION = argument(
    "--condition",
    metavar="STATE",
    action="append",
    default=[],
    help="what is done on purpose, such as 'supply off'; may be repeated",
)
CHANGES = (
    argument(
        "--fault",
        metavar="PART:MODE[=SEVERITY]",
        action="append",
        default=[],
        help="a fault to put in; the severity is what its value becomes; may be repeated",
    ),
    argument(
        "--at",
        metavar="VALUE",
        default="50 %",
        help="process value, %% of range or its unit (default: 50 %%)",
    ),
    CONDITION,
)

METER = argument("--meter", metavar="METER", help="the one meter at hand, by its plant name")

COMMANDS: tuple[Command, ...] = (
    Command(
        "loops",
        "lists the loops of a plant and the loop types",
        (),
        loops,
        ("diagnose loops", "diagnose loops --plant cases/larkmere --json"),
    ),
    Command(
        "expect",
        "prints what a sound loop shows at every point",
        (
            LOOP,
            argument(
                "--at", metavar="VALUES",
                help="process values with commas between, %% of range or its unit "
                "(default: 0,25,50,75,100, and both ends of what is on or off)",
            ),
            CONDITION,
            argument("--place", metavar="PLACE", help="only what can be read there"),
            METER,
        ),
        expect,
        (
            "diagnose expect LT-214",
            "diagnose expect LT-214 --at 0,50% --place cabinet",
            'diagnose expect LT-214 --at "900 mm" --condition "supply off"',
        ),
    ),
    Command(
        "simulate",
        "computes the loop with given faults: voltages, currents, what receivers show",
        (LOOP, *CHANGES),
        simulate,
        (
            "diagnose simulate LT-214 --at 25%",
            'diagnose simulate LT-214 --fault R1:drift=310 --fault "G1:low=20 V"',
            'diagnose simulate LT-214 --fault I.JB9:leakage=10k --condition "LT-214 driven 4 mA"',
        ),
        more="""
            SEVERITY is the value that the fault leaves behind, with or without its unit: the ohms
            of a drifted resistor or of a leak, the volts of a low supply, the % of a shift.
            Without it the middle of the mode's range is taken.
            """,
    ),
    Command(
        "rank",
        "ranks what may have failed from readings, and advises the next one",
        (
            LOOP,
            argument(
                "readings", metavar="READING", nargs="*",
                help="one line each, in quotes: a reading, a complaint or a context fact",
            ),
            argument("--file", metavar="FILE", help="file with one reading a line; - reads input"),
            argument("--place", metavar="PLACE", help="where you stand (default: the cabinet)"),
            argument(
                "--without", metavar="STEP", action="append", default=[],
                help="a place or meter function that is not to be advised; may be repeated",
            ),
            METER,
        ),
        rank,
        (
            'diagnose rank LT-214 "complaint reads high" "LT-214 50 %" "V X21:7 X20:0 3.406"',
            'diagnose rank LT-214 --file readings.txt --place "junction box" --without mA',
            "diagnose rank LT-214 --json < readings.txt",
        ),
        more="""
            A reading names the meter function, the points and the value:
              V X21:7 X20:0 3.02            volts from the first point to the second
              mA X21:4 8.03                 current, the meter in series at that terminal
              ohm JB9:1 JB9:2 1.2k with supply off
              LIC-214 62 %                  what a receiver shows; LAHH-214 lit
              process 45 % +- 3 %           what the process is known to be
              complaint reads low           context rain
            Without readings and from a pipe, they are read from standard input.
            Exit code 1: no modelled fault explains the readings.
            """,
    ),
    Command(
        "troubleshoot",
        "the session with a technician, step by step; writes a case",
        (
            argument("loop", metavar="LOOP", nargs="?", help="tag of a loop, or a sheet's path"),
            argument("--resume", metavar="CASE", help="go on with a case: its name, file, or tag"),
            argument("--new", action="store_true", help="open a new case, whatever is open"),
            argument("--place", metavar="PLACE", help="where you stand (default: the cabinet)"),
            METER,
            argument("--plain", action="store_true", help="plain lines: no prompt, no completion"),
        ),
        troubleshoot,
        (
            "diagnose troubleshoot LT-214",
            "diagnose troubleshoot --resume LT-214_2024-03-12_01",
            "diagnose troubleshoot LT-214 --new --plain < lines.txt",
        ),
        more="""
            Type help in the session for its commands.  Every line is kept in the case at once; quit
            leaves the case open.  With --json the talk goes to standard error, and standard output
            holds one object at the end.
            """,
    ),
    Command(
        "why",
        "shows the formula behind a voltage or a current, with the numbers put in",
        (
            LOOP,
            argument("point", metavar="POINT", help="a point, or a part for its current"),
            argument(
                "other", metavar="POINT", nargs="?",
                help="the point to measure against (default: the reference of the loop)",
            ),
            *CHANGES,
        ),
        why,
        (
            "diagnose why LT-214 X21:7",
            'diagnose why LT-214 X21:4 X21:5 --fault "I.W3:leakage=10 kohm" --at 25%',
            "diagnose why LT-214 W3+ --fault I.JB9:leakage=5k",
        ),
        more="""
            With a fault, the formula is shown once more with the value of that fault as x.
            """,
    ),
    Command(
        "netlist",
        "writes the circuit as a SPICE netlist, to check it in a circuit simulator",
        (LOOP, *CHANGES),
        netlist,
        (
            "diagnose netlist LT-214 --at 50% > loop.cir",
            'diagnose netlist LT-214 --fault "I.W3:leakage=10 kohm"',
        ),
        more="""
            Run the text with: ngspice -b loop.cir
            """,
    ),
    Command(
        "check",
        "checks sheets, loop types and plant files, and says what would be right",
        (
            argument(
                "files", metavar="FILE", nargs="*",
                help="sheets, loop types, plant files or folders (default: the plant)",
            ),
        ),
        check,
        ("diagnose check sheets/LT-214.toml", "diagnose check --plant cases/larkmere"),
        more="""
            Exit code 1: there is a problem.
            """,
    ),
    Command(
        "evaluate",
        "hunts simulated faults at scale, and says how right, how soon and how sure",
        (
            argument(
                "loops", metavar="LOOP", nargs="*",
                help="tags, loop types or sheets (default: all loops of the plant)",
            ),
            argument("--hunts", metavar="N", default="100", help="hunts a loop (default: 100)"),
            argument("--seed", metavar="N", default="1", help="which faults to draw (default: 1)"),
            argument(
                "--policy", metavar="NAME", action="append", default=[],
                help="advice (default), gain, gain per minute, half-split, fixed order, random; "
                "may be repeated",
            ),
            argument("--workers", metavar="N", help="processes (default: one for each core)"),
            argument("--keep", metavar="FILE", help="file of finished hunts, to go on with"),
            argument("--scheduler", metavar="ADDRESS", help="run on a Dask scheduler's workers"),
        ),
        evaluate,
        (
            "diagnose evaluate LT-214 --hunts 300",
            'diagnose evaluate LT-214 --policy advice --policy "half-split" --json',
            "diagnose evaluate --keep hunts.jsonl",
        ),
        more="""
            Faults are drawn from the priors, each with the complaint that it would raise; readings
            come from a simulated meter with all its errors.  A hunt ends when one group holds
            95 %, after 12 readings, or when nothing is left to read.
            """,
    ),
    Command(
        "cases",
        "lists cases, shows or exports one, verifies that rankings come out as recorded",
        (
            argument(
                "action", metavar="JOB", nargs="?", default="list",
                help="list (default), show, export or verify",
            ),
            argument(
                "case", metavar="CASE", nargs="?",
                help="name of a case (a beginning will do), its file, or for list and verify "
                "a folder",
            ),
            argument(
                "--markdown", action="store_true",
                help="export the hand-over note (default; --json exports everything)",
            ),
        ),
        cases,
        (
            "diagnose cases",
            "diagnose cases show LT-214_2024-03-12",
            "diagnose cases export LT-214_2024-03-12 > hand-over.md",
            "diagnose cases verify",
        ),
        more="""
            Exit code 1: a case is damaged, or a ranking does not come out as recorded.
            """,
    ),
)  # fmt: skip
