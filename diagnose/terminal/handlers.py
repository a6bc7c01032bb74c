"""The jobs behind the commands, each loaded when it is called: every command starts fast."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from importlib import import_module

from diagnose.terminal.outcome import Outcome

Handler = Callable[[Namespace], Outcome]


def late(module: str, name: str) -> Handler:
    """The handler ``name`` of ``diagnose.terminal.<module>``, imported when it is called."""

    def handler(arguments: Namespace) -> Outcome:
        found: Handler = getattr(import_module(f"diagnose.terminal.{module}"), name)
        return found(arguments)

    handler.__name__ = name
    return handler
