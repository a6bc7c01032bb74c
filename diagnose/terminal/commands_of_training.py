"""Commands that judge and teach the search for faults."""

from __future__ import annotations

from diagnose.terminal.arguments import Command, argument
from diagnose.terminal.handlers import late

COMMANDS: tuple[Command, ...] = (
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
        late("do_evaluate", "evaluate"),
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
)  # fmt: skip
