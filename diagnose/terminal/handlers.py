"""The jobs behind the commands, each loaded when it is called: every command starts fast."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from importlib import import_module

from diagnose.terminal.outcome import Outcome

Handler = Callable[[Namespace], Outcome]


def _late(module: str, name: str) -> Handler:
    """A handler whose module is imported when it is called."""

    def handler(arguments: Namespace) -> Outcome:
        found: Handler = getattr(import_module(f"diagnose.terminal.{module}"), name)
        return found(arguments)

    handler.__name__ = name
    return handler


loops = _late("do_loops", "loops")
rank = _late("do_rank", "rank")
expect = _late("do_expect", "expect")
simulate = _late("do_simulate", "simulate")
netlist = _late("do_simulate", "netlist")
why = _late("do_why", "why")
check = _late("do_check", "check")
cases = _late("do_cases", "cases")
evaluate = _late("do_evaluate", "evaluate")
troubleshoot = _late("do_troubleshoot", "troubleshoot")
