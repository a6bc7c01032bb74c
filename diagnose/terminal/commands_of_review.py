"""Commands that learn from many cases."""

from __future__ import annotations

from diagnose.terminal.arguments import Argument, Command, argument
from diagnose.terminal.handlers import late

SOURCES = argument(
    "sources", metavar="SOURCE", nargs="*",
    help="plant folders, folders of cases, files of many (.jsonl), digests (.parquet), addresses "
    "of them, or databases (default: the plant)",
)  # fmt: skip


def _words(name: str, metavar: str, of: str) -> Argument:
    return argument(
        f"--{name}",
        metavar=metavar,
        action="append",
        default=[],
        help=f"only {of}; may be repeated",
    )


DAYS = (
    argument("--since", metavar="DAY", help="first day, such as 2024-01-31"),
    argument("--until", metavar="DAY", help="last day"),
    _words("tag", "TAG", "this loop"),
    _words("type", "TYPE", "this loop type"),
)
SETTINGS = (
    argument(
        "--repeat-days", metavar="N", default="30",
        help="a call-out so soon after the last on its tag is the same failure (default: 30)",
    ),
    argument(
        "--confidence", metavar="SHARE", default="90 %", help="of all intervals (default: 90 %%)"
    ),
)  # fmt: skip
STANDING = "open, cause confirmed, no fault found, cause not found, handed over, unreadable"

ENDINGS = (
    ("place", "PLACE", "causes at this place"),
    ("part", "PART", "this part"),
    ("kind", "KIND", "parts of this kind"),
    ("fault", "MODE", "this fault mode"),
    ("mode", "COMPLAINT", "what operations saw"),
    ("status", "STATUS", f"cases that stand so: {STANDING}"),
)
"""What chooses cases by how they ended: a review may, rates must not be learned from these."""

BY_ENDING = tuple(_words(*words) for words in ENDINGS)
REFUSED = tuple(
    argument(
        f"--{name}", metavar=metavar, action="append", default=[],
        help="refused: rates of cases chosen by what was found would be wrong",
    )
    for name, metavar, _ in ENDINGS
)  # fmt: skip

COMMANDS: tuple[Command, ...] = (
    Command(
        "review",
        "says what many cases teach: causes, rates with bounds, bad actors, the hunt, the engine",
        (
            SOURCES,
            *DAYS,
            *BY_ENDING,
            *SETTINGS,
            argument(
                "--by",
                metavar="SORT",
                default="cause",
                help="what causes are counted by: part, kind, cause (default), mode, loop, type, "
                "place, mechanism",
            ),
            argument(
                "--compare", nargs=2, metavar=("FIRST", "LAST"),
                help="set the days from --since to --until against those from FIRST to LAST: what "
                "fails more often, or less",
            ),
            argument(
                "--export",
                metavar="FILE",
                help="write one row a case: .csv, .json or .parquet (a digest for later reviews)",
            ),
            argument(
                "--against-advice", metavar="N",
                help="simulate what the advice needs for the N commonest faults (seconds each)",
            ),
            argument(
                "--html",
                metavar="FILE",
                help="write the report as one page for a browser or a printer; it needs no network",
            ),
        ),
        late("do_review", "review_cases"),
        (
            "diagnose review",
            "diagnose review --since 2024-01-01 --by place",
            "diagnose review --since 2025-07-01 --until 2025-12-31 --compare 2025-01-01 2025-06-30",
            "diagnose review --html report.html",
            "diagnose review north-works south-works --export cases.parquet",
            "diagnose review s3://reliability/cases.parquet --since 2024-01-01",
            "diagnose review postgresql://reviewer@server/reliability#cases",
            'diagnose review cases.parquet --kind core --status "cause confirmed" --json',
        ),
        more="""
            Only confirmed causes feed rates.  A plant file tells since when a loop is in service:
              [in-service]
              all = 2019-04-01
              LT-216 = [2020-01-15, 2024-06-30]
            An address is https://... or s3://... of a digest, of a folder of case files, or of one
            .jsonl file of many; a database is postgres://..., sqlite:FILE or duckdb:FILE, with
            #TABLE (default: cases), whose columns are those of --export.  Keys and passwords
            are best left to the environment (AWS_ACCESS_KEY_ID, AWS_ENDPOINT_URL, PGPASSWORD).
            """,
    ),
    Command(
        "priors",
        "learns rates of faults and shares of calls from confirmed cases, beside the assumed ones",
        (
            SOURCES,
            *DAYS,
            *SETTINGS,
            *REFUSED,
            argument(
                "--write", action="store_true",
                help="write priors.toml into the plant folder: rank, troubleshoot and evaluate "
                "then use it",
            ),
        ),
        late("do_priors", "learn"),
        ("diagnose priors", "diagnose priors north-works south-works --write"),
        more="""
            The rates of several plants are learned together, and each plant's own are shrunk to
            them.  How calls end (sound, process connection, electrical) is learned from confirmed
            causes and from "no fault found".  A single case moves nothing by itself.
            """,
    ),
    Command(
        "orders",
        "reads older work orders or counts of failures from CSV, and reports every line rejected",
        (
            argument("file", metavar="FILE", help="CSV file, its columns named in the first line"),
            argument("--map", metavar="MAP", help="TOML file: what its columns and codes mean"),
            argument(
                "--write", metavar="FILE",
                help="write the rows: .parquet, a source for review, or .csv, .json",
            ),
            argument(
                "--counts", action="store_true",
                help="the file is a table of counts, causes down and populations across",
            ),
            argument("--years", metavar="N", default="1", help="of the counts (default: 1)"),
        ),
        late("do_orders", "orders"),
        (
            "diagnose orders orders.csv --map orders.toml --write orders.parquet",
            "diagnose orders table.csv --counts --years 2.5",
        ),
        more="""
            Columns: number, day, tag; and if there are any: loop_type, place, status, fault, mode,
            mechanism, cause, detection, activity, note.  A map names theirs:
              [columns]
              number = "Order"
              day = "Reported on"
              tag = "Location"
              mode = "Failure code"
              [format]
              day = "%d.%m.%Y"
              separator = ";"
              [mode]
              "K1" = "no output"
              [fault]
              "E7" = "core: open"
            A table of counts names populations with their sizes in its first line:
              cause,flow (873),level (410)
              core: open,12,7
              total,12,7
            Exit code 1: a line was rejected, or a column does not add up.
            """,
    ),
)  # fmt: skip
