"""Arguments that several commands share."""

from __future__ import annotations

from diagnose.terminal.arguments import argument

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
