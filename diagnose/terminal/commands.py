"""The table of commands: argparse, help, completion and the documents all read it."""

from __future__ import annotations

from diagnose.terminal import (
    commands_of_hunts,
    commands_of_loops,
    commands_of_plants,
    commands_of_review,
    commands_of_training,
)
from diagnose.terminal.arguments import Command

COMMANDS: tuple[Command, ...] = (
    *commands_of_hunts.COMMANDS,
    *commands_of_loops.COMMANDS,
    *commands_of_plants.COMMANDS,
    *commands_of_review.COMMANDS,
    *commands_of_training.COMMANDS,
)
