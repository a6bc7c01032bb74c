"""Commands of a hunt: ranking, the session, the cases that it leaves."""

from __future__ import annotations

from diagnose.terminal.arguments import Command, argument
from diagnose.terminal.common_arguments import LOOP, METER
from diagnose.terminal.handlers import late

COMMANDS: tuple[Command, ...] = (
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
            argument(
                "--explain", metavar="FAULT", action="append", default=[],
                help="which facts speak for PART:MODE, PART or 'sound', and which against it, in "
                "bits; may be repeated",
            ),
            argument(
                "--assumed-rates", action="store_true",
                help="as if the plant had no priors.toml: to see what its learned rates change",
            ),
            METER,
        ),
        late("do_rank", "rank"),
        (
            'diagnose rank LT-214 "complaint reads high" "LT-214 50 %" "V X21:7 X20:0 3.406"',
            'diagnose rank LT-214 --file readings.txt --place "junction box" --without mA',
            'diagnose rank LT-214 "LT-214 50 %" "V X21:7 X20:0 3.406" --explain R1 --explain sound',
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
              moving 3 %                    by how much of its range the process moves in a minute
              good R1 drift                 a fault that was looked for and is not there
            Without readings and from a pipe, they are read from standard input.
            Exit code 1: no modelled fault explains the readings.
            """,
    ),
    Command(
        "troubleshoot",
        "the session with a technician, step by step; writes a case",
        (
            argument(
                "loop", metavar="LOOP", nargs="*",
                help="tag of a loop, some letters of its tag or service, or a sheet's path",
            ),
            argument("--resume", metavar="CASE", help="go on with a case: its name, file, or tag"),
            argument("--new", action="store_true", help="open a new case, whatever is open"),
            argument("--place", metavar="PLACE", help="where you stand (default: the cabinet)"),
            METER,
            argument("--plain", action="store_true", help="plain lines instead of the full screen"),
        ),
        late("do_troubleshoot", "troubleshoot"),
        (
            "diagnose troubleshoot LT-214",
            "diagnose troubleshoot condenser pressure",
            "diagnose troubleshoot --resume LT-214_2024-03-12_01",
            "diagnose troubleshoot LT-214 --new --plain < lines.txt",
        ),
        more="""
            Type help in the session for its commands.  Lines from a file or a pipe are what would
            be typed.  Every line is kept in the case at once; quit leaves the case open.  With
            --json the talk goes to standard error, and standard output holds one object at the end.
            """,
    ),
    Command(
        "cases",
        "lists cases, shows or exports one, verifies rankings, packs closed cases by the month",
        (
            argument(
                "action", metavar="JOB", nargs="?", default="list",
                words=("list", "show", "export", "verify", "pack", "unpack"),
                help="list (default), show, export, verify, pack or unpack",
            ),
            argument(
                "case", metavar="CASE", nargs="?",
                help="name of a case (a beginning will do), its file, or for list, verify, pack "
                "and unpack a folder",
            ),
            argument(
                "--markdown", action="store_true",
                help="export the hand-over note (default; --json exports everything)",
            ),
            argument(
                "--html", metavar="FILE",
                help="export the hand-over note with the loop drawn, as a page to be printed",
            ),
        ),
        late("do_cases", "cases"),
        (
            "diagnose cases",
            "diagnose cases show LT-214_2024-03-12",
            "diagnose cases export LT-214_2024-03-12 > hand-over.md",
            "diagnose cases export LT-214_2024-03-12 --html hand-over.html",
            "diagnose cases verify",
            "diagnose cases pack",
        ),
        more="""
            pack moves the closed cases of months that are over into one file a month, byte for
            byte (2024-05.cases); they are found, read and verified as before, and one that is gone
            on with gets a file of its own again.  Open cases stay as they are.  unpack brings the
            files back.
            Exit code 1: a case is damaged, or a ranking does not come out as recorded.
            """,
    ),
)  # fmt: skip
