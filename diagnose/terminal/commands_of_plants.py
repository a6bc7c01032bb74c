"""Commands that make a plant's files and check them."""

from __future__ import annotations

from diagnose.terminal.arguments import Command, argument
from diagnose.terminal.handlers import late

COMMANDS: tuple[Command, ...] = (
    Command(
        "check",
        "checks sheets, loop types and plant files, and says what would be right",
        (
            argument(
                "files", metavar="FILE", nargs="*",
                help="sheets, loop types, plant files or folders (default: the plant)",
            ),
        ),
        late("do_check", "check"),
        ("diagnose check sheets/LT-214.toml", "diagnose check --plant cases/larkmere"),
        more="""
            Exit code 1: there is a problem.
            """,
    ),
)  # fmt: skip
