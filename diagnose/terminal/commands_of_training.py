"""Commands that judge and teach the search for faults."""

from __future__ import annotations

from diagnose.terminal.arguments import Command, argument
from diagnose.terminal.handlers import late

_TALK = (
    argument("--trainee", metavar="NAME", help="who hunts: a name or a number for the results"),
    argument("--keep", metavar="FOLDER", help="where the drill and its debrief are written"),
    argument("--plain", action="store_true", help="plain lines, no full screen"),
)

COMMANDS: tuple[Command, ...] = (
    Command(
        "drill",
        "hunts a hidden fault with a virtual meter; scores it and tells what each step taught",
        (
            argument("loop", metavar="LOOP", nargs="?", help="tag, loop type or sheet"),
            argument(
                "--lesson", metavar="NUMBER",
                help="a drill of the lesson file; its name will do, but may tell too much",
            ),
            argument("--lessons", metavar="FILE", help="lesson file (default: that of the plant)"),
            argument(
                "--resume", metavar="FILE",
                help="go on with a drill that was left: its file, or its name",
            ),
            argument(
                "--fault", metavar="PART:MODE[=SIZE]", action="append", default=[],
                help="hide this fault; may be repeated (default: drawn from the priors)",
            ),
            argument("--draw", metavar="HOW", default="one", help="one (default), two, none, any"),
            argument("--intermittent", action="store_true", help="the fault comes and goes"),
            argument("--seed", metavar="N", default="1", help="the same seed, the same drill"),
            argument("--difficulty", metavar="N", default="2", help="1, 2 (default) or 3"),
            argument("--minutes", metavar="N", default="240", help="time limit, simulated minutes"),
            argument(
                "--advice", metavar="HOW", default="request",
                help="ranking and advice: hidden, request (default, for points), shown",
            ),
            argument("--at", metavar="VALUE", help="true process value (default: drawn)"),
            argument("--complaint", metavar="WORDS", help="what the operator says"),
            argument(
                "--context", metavar="FACT", action="append", default=[],
                help="work, rain, lightning, frost, shared supply, moving; may be repeated",
            ),
            *_TALK,
        ),
        late("do_drill", "drill"),
        (
            "diagnose drill LT-214 --seed 7",
            "diagnose drill --lesson 1 --trainee 12",
            "diagnose drill LT-214 --fault I.W3:leakage=10k --difficulty 1 --advice shown",
        ),
        more="""
            The trainee types measurements without a value, and a simulated meter answers, with its
            resolution, errors, loading and burden.  What is done to the loop has its consequences
            for the plant, and these are told at once.  verdict and close end the drill.

            A debrief names the fault: where several hunt the same drill, --keep gives each a
            folder of their own.  What is typed behind --fault stays in the history of the shell;
            a lesson file that is packed for trainees does not tell it (lessons --pack).
            """,
    ),
    Command(
        "replay",
        "walks a logged case again with its answer hidden, and compares the ways through it",
        (argument("case", metavar="CASE", help="a case: name or file"), *_TALK),
        late("do_drill", "replay"),
        ("diagnose replay LT-214_2024-03-12_01", "diagnose replay LT-214_2024-05-21_01 --plain"),
        more="""
            Where a reading was logged it answers, else a simulated loop with the confirmed fault.
            """,
    ),
    Command(
        "debrief",
        "tells a drill step by step: what each reading ruled out, and what would have been best",
        (
            argument("record", metavar="FILE", help="the file of a drill, or its name"),
            argument("--html", metavar="FILE", help="write it as a page"),
        ),
        late("do_drill", "debrief"),
        ("diagnose debrief LT-214_01", "diagnose debrief LT-214_01 --html debrief.html"),
    ),
    Command(
        "lessons",
        "lists the lessons of a plant, or checks that the advice solves each",
        (
            argument("file", metavar="FILE", nargs="?", help="lesson file (default: the plant's)"),
            argument("--solve", action="store_true", help="let the advice hunt each (minutes)"),
            argument("--pack", metavar="FILE", help="write them anew for trainees, answers packed"),
        ),
        late("do_class", "lessons"),
        ("diagnose lessons", "diagnose lessons --solve", "diagnose lessons --pack class.toml"),
    ),
    Command(
        "results",
        "collects the drills of a class: scores, faults that were missed, mistakes",
        (
            argument("folders", metavar="FOLDER", nargs="*", help="folders of drills"),
            argument("--csv", metavar="FILE", help="write the table as CSV"),
            argument("--html", metavar="FILE", help="write the table as a page"),
            argument("--title", metavar="WORDS", help="title of the page (default: the plant)"),
            argument("--nameless", action="store_true", help="number the trainees, for the class"),
        ),
        late("do_class", "results"),
        ("diagnose results drills --csv class.csv --html class.html",),
    ),
    Command(
        "anonymise",
        "writes a case without its plant: names replaced, free words and times left out",
        (
            argument("case", metavar="CASE", help="a case: name or file"),
            argument("file", metavar="FILE", help="the new file"),
        ),
        late("do_class", "anonymise"),
        ("diagnose anonymise LT-214_2024-03-12_01 shared.jsonl",),
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
                help="advice (default), gain, gain per minute, one step ahead, two steps ahead, "
                "half-split, fixed order, random; may be repeated",
            ),
            argument(
                "--trouble", metavar="NAME", default="none",
                help="none (default), two faults, wrong reading, unmodelled fault, restless "
                "process, moving process, wrong resistor, other sheet, wrong priors",
            ),
            argument(
                "--readings", metavar="N", default="12",
                help="readings after which a hunt is called off (default: 12)",
            ),
            argument("--workers", metavar="N", help="processes (default: one for each core)"),
            argument("--keep", metavar="FILE", help="file of finished hunts, to go on with"),
            argument("--scheduler", metavar="ADDRESS", help="run on a Dask scheduler's workers"),
            argument(
                "--compare-priors", action="store_true",
                help="draw faults by the plant's priors.toml, and hunt them by the assumed rates "
                "and by the learned ones",
            ),
        ),
        late("do_evaluate", "evaluate"),
        (
            "diagnose evaluate LT-214 --hunts 300",
            'diagnose evaluate LT-214 --policy advice --policy "half-split" --json',
            'diagnose evaluate LT-214 --trouble "two faults"',
            "diagnose evaluate --keep hunts.jsonl",
        ),
        more="""
            Faults are drawn from the priors, each with the complaint that it would raise; readings
            come from a simulated meter with all its errors.  A hunt ends when one group holds
            95 %, after so many readings, or when nothing is left to read.
            """,
    ),
)  # fmt: skip
