"""The command line: parses, calls one function, prints."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from diagnose.errors import DiagnoseError
from diagnose.terminal.arguments import parse
from diagnose.terminal.commands import COMMANDS
from diagnose.terminal.outcome import BAD_INPUT, DONE
from diagnose.terminal.screen import complain, finish, prepare, show

INTERRUPTED = 130
"""Exit code after Ctrl-C, as shells count it: 128 + SIGINT."""


def main(words: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0 done, 1 negative answer, 2 bad input."""
    prepare()
    try:
        command, arguments = parse(sys.argv[1:] if words is None else words, COMMANDS)
        outcome = command.handler(arguments)
        show(outcome, as_json=arguments.json)
        return outcome.code
    except DiagnoseError as error:
        complain(error)
        return BAD_INPUT
    except BrokenPipeError:
        return DONE
    except KeyboardInterrupt:
        complain("stopped")
        return INTERRUPTED
    finally:
        finish()


if __name__ == "__main__":
    sys.exit(main())
