"""Commands that show what a loop is and what it does."""

from __future__ import annotations

from diagnose.terminal.arguments import Command, argument
from diagnose.terminal.common_arguments import CHANGES, CONDITION, LOOP, METER
from diagnose.terminal.handlers import late

COMMANDS: tuple[Command, ...] = (
    Command(
        "loops",
        "lists the loops of a plant and the loop types",
        (),
        late("do_loops", "loops"),
        ("diagnose loops", "diagnose loops --json"),
    ),
    Command(
        "find",
        "finds loops by tag, service, place, terminal, supply or cable; shows neighbours",
        (
            argument("text", metavar="TEXT", nargs="+", help="what loop or part is called"),
            argument("--most", metavar="N", default="30", help="loops to show (default: 30)"),
        ),
        late("do_find", "find_loops"),
        (
            "diagnose find JB-9",
            'diagnose find "which loops pass through X20:1?"',
            "diagnose find solvent levl",
            "diagnose find LT-214",
        ),
        more="""
            Of one loop, named by its tag, the places are shown and what it shares with others.
            Exit code 1: nothing is called so; what is like it is shown.
            """,
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
            argument(
                "--html", metavar="FILE",
                help="write a sheet to be printed: the table, the loop drawn, the cautions",
            ),
        ),
        late("do_expect", "expect"),
        (
            "diagnose expect LT-214",
            "diagnose expect LT-214 --html LT-214.html",
            "diagnose expect LT-214 --at 0,50% --place cabinet",
            'diagnose expect LT-214 --at "900 mm" --condition "supply off"',
        ),
    ),
    Command(
        "draw",
        "draws the loop as it runs, with expected values, readings and suspects",
        (
            argument(
                "loop", metavar="LOOP", nargs="?",
                help="tag of a loop, loop type, or a sheet's path",
            ),
            argument(
                "readings", metavar="READING", nargs="*",
                help="one line each, in quotes, as rank takes them: they are ranked and drawn",
            ),
            argument("--file", metavar="FILE", help="file with one reading a line; - reads input"),
            argument("--case", metavar="CASE", help="draw a case with its readings and suspects"),
            argument(
                "--at", metavar="VALUE",
                help="process value, %% of range or its unit (default: what the readings tell, "
                "else 50 %%)",
            ),
            METER,
            argument("--svg", metavar="FILE", help="write a picture, as SVG"),
            argument("--html", metavar="FILE", help="write a page to be printed, as HTML"),
        ),
        late("do_draw", "draw"),
        (
            "diagnose draw LT-214",
            "diagnose draw LT-214 --at 25% --svg LT-214.svg",
            'diagnose draw LT-214 "complaint reads low" "V X21:7 X20:0 1.2" --html LT-214.html',
            "diagnose draw --case LT-214_2024-03-12 --html hunt.html",
        ),
        more="""
            The drawing is made from the sheet alone.  Insulation and other latent defects are drawn
            where they are suspected.  A file is written over only if it was made by this command.
            """,
    ),
    Command(
        "simulate",
        "computes the loop with given faults: voltages, currents, what receivers show",
        (LOOP, *CHANGES),
        late("do_simulate", "simulate"),
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
        late("do_why", "why"),
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
        late("do_simulate", "netlist"),
        (
            "diagnose netlist LT-214 --at 50% > loop.cir",
            'diagnose netlist LT-214 --fault "I.W3:leakage=10 kohm"',
        ),
        more="""
            Run the text with: ngspice -b loop.cir
            """,
    ),
)  # fmt: skip
