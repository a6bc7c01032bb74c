"""What a review cannot do."""

from __future__ import annotations

from diagnose.errors import DiagnoseError


class ReviewError(DiagnoseError):
    """Cases that cannot be reviewed; one sentence, without what an address holds of secrets."""
