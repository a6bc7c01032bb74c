"""numpy for laws, loaded when one is first computed.

Importing numpy takes as long as everything else that a session needs before its first question,
and that question, the list of loops and the help compute nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__all__ = ["np"]

if TYPE_CHECKING:
    import numpy as np
else:

    class _Late:
        """Stands in for the package; what was asked for once is at hand from then on."""

        def __getattr__(self, name: str) -> Any:
            found = getattr(import_module("numpy"), name)
            setattr(self, name, found)
            return found

    np = _Late()
