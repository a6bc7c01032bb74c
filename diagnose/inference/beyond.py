"""What lies beyond the wires of a loop: where to look if they are sound."""

from __future__ import annotations

from diagnose.loops.loop import Loop


def beyond(loop: Loop) -> str:
    """Where the cause lies if the loop is electrically sound."""
    process = "the process or its connection"
    if "output" not in loop.role:
        return process
    driven = "what it drives or what commands it (air, valve, controller)"
    connected = any(part.kind.name == "process_connection" for part in loop.parts)
    return f"{driven}, or {process}" if connected else driven
