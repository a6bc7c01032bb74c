"""Commands that make a plant's files and check them."""

from __future__ import annotations

from diagnose.terminal.arguments import Command, argument
from diagnose.terminal.handlers import late

COMMANDS: tuple[Command, ...] = (
    Command(
        "check",
        "checks sheets, loop types, plants, lessons and cases, and says what would be right",
        (
            argument(
                "files", metavar="FILE", nargs="*",
                help="sheets, tags, loop types, plant files, cases or folders (default: the plant)",
            ),
            argument(
                "--cables", metavar="TEMPERATURE", default="50 degC",
                help="how warm cables get, for the voltage budget (default: 50 degC)",
            ),
            argument(
                "--groups", action="store_true",
                help="tell faults that no reading tells apart, and what would split them",
            ),
            argument("--notes", action="store_true", help="tell what is no fault as well"),
            argument("--strict", action="store_true", help="exit code 1 for a warning as well"),
            argument("--workers", metavar="N", help="processes (default: one for each core)"),
        ),
        late("do_check", "check"),
        (
            "diagnose check LT-214",
            "diagnose check --strict",
            "diagnose check LT-214 --groups",
            'diagnose check LT-214 --cables "60 degC" --notes',
        ),
        more="""
            Problems: what cannot be used.  Warnings: terminals on two sheets, points where nothing
            can be read, currents that a loop cannot carry with every tolerance against it, entity
            sums that do not hold.  An entity sum is arithmetic: a competent person decides.
            Exit code 1: there is a problem.
            """,
    ),
    Command(
        "schema",
        "writes the JSON Schema of sheets, loop types, plants, lessons or cases, for editors",
        (
            argument(
                "name", metavar="NAME", nargs="?",
                help="sheet, type, plant, lesson or case (default: list them)",
            ),
        ),
        late("do_schema", "schema"),
        ("diagnose schema", "diagnose schema sheet > sheet.schema.json"),
        more="""
            Draft 2020-12.  An editor that knows TOML takes the schema of a file from its first
            line, written as a comment: #:schema ../sheet.schema.json
            """,
    ),
    Command(
        "plant",
        "starts a plant folder, or makes its sheets from an instrument index",
        (
            argument("action", metavar="JOB", words=("new", "import"), help="new or import"),
            argument("target", metavar="FILE", help="the folder to start, or the index to import"),
            argument("--name", metavar="NAME", help="new: name of the plant (default: the folder)"),
            argument("--unit", metavar="NAME", help="new: the part of the works that it is"),
            argument("--terminals", metavar="FILE", help="import: a terminal list"),
            argument("--cables", metavar="FILE", help="import: a cable list"),
            argument("--map", metavar="FILE", help="import: how columns are read (index.toml)"),
            argument("--page", metavar="NAME", help="import: the page of the spreadsheet"),
            argument("--guess", action="store_true", help="import: guess the columns, ask nothing"),
            argument("--trial", action="store_true", help="import: write nothing, only tell"),
            argument(
                "--take", metavar="TAG", action="append", default=[],
                help="import: take the index for a sheet that was edited by hand, or for all; the "
                "old one stays beside it as .old",
            ),
            argument("--report", metavar="FILE", help="import: write every row and why, as CSV"),
            argument("--every", action="store_true", help="import: show all that is to be said"),
        ),
        late("do_plant", "plant"),
        (
            'diagnose plant new wash-section --name "Larkmere wash section"',
            "diagnose plant import index.xlsx --cables cables.csv --plant wash-section --trial",
            "diagnose plant import index.csv --plant wash-section --report import.csv",
        ),
        more="""
            An index is CSV or a spreadsheet; what its columns mean is asked once and kept as
            index.toml in the plant folder.  A row that cannot be trusted makes no sheet.  Importing
            again writes what changed, and never over a sheet that was edited by hand.
            Exit code 1: something was wrong in a row.
            """,
    ),
    Command(
        "sheet",
        "starts the sheet of a loop, or shows one: the loop drawn as text, its values",
        (
            argument("action", metavar="JOB", words=("new", "show"), help="new or show"),
            argument("loop", metavar="LOOP", nargs="?", help="tag of the loop"),
            argument("--type", metavar="TYPE", help="new: the loop type"),
            argument("--service", metavar="TEXT", help="new: what it measures or moves"),
            argument("--range", metavar="RANGE", help="new: such as 0-1800mm"),
            argument(
                "--set", metavar="FIELD=VALUE", action="append", default=[],
                help="new: anything that an index can tell, such as length=120m or box=JB9; may "
                "be repeated",
            ),
        ),
        late("do_sheet", "sheet"),
        (
            "diagnose sheet new --plant wash-section",
            'diagnose sheet new LT-301 --type two-wire-input --set length=90m --plant wash-section',
            "diagnose sheet show LT-214",
        ),
        more="""
            Without a type, new asks a few questions; Enter leaves an answer to the loop type.  It
            writes a commented file into the plant of the current folder, or that of --plant, and
            never over one that is there.
            """,
    ),
    Command(
        "completion",
        "writes the completion of a shell: commands, options, tags; or the words for it",
        (
            argument(
                "what", metavar="SHELL", words=("bash", "zsh", "fish", "loops", "types", "cases"),
                help="bash, zsh or fish; or loops, types, cases: the words alone, one a line",
            ),
        ),
        late("do_completion", "completion"),
        (
            "diagnose completion bash > ~/.local/share/bash-completion/completions/diagnose",
            "diagnose completion zsh > ~/.zfunc/_diagnose",
            "diagnose completion fish > ~/.config/fish/completions/diagnose.fish",
        ),
        more="""
            The folder must be there, and for zsh be named in fpath (fpath+=~/.zfunc, before
            compinit).  To try it in the shell that runs: source <(diagnose completion bash), for
            fish diagnose completion fish | source.  Tags are those of the plant in the current
            folder, or of the one that --plant names.
            """,
    ),
)  # fmt: skip
