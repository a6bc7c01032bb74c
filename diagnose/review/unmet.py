"""Words of filters that no case has: a typing error, or what has not been called for yet."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.errors import did_you_mean
from diagnose.loops.names import shown
from diagnose.review.records import Records
from diagnose.review.rows import Filters

_CALLED = {
    "tags": "the tag",
    "types": "the loop type",
    "places": "a cause at the place",
    "parts": "a cause in the part",
    "kinds": "a cause in the part kind",
    "faults": "the fault mode",
    "modes": "the complaint",
    "status": "the status",
}


def unmet(records: Records, filters: Filters) -> Iterator[str]:
    """A sentence for each word of a filter that fits no case of the log, with the nearest known.

    What the plant has, but was never called for, is named as well: no case has it.
    """
    for name, called in _CALLED.items():
        if not (words := getattr(filters, name)):
            continue
        column = filters.column(name)
        rows = records.ask(f"select distinct {column} from chosen", Filters())
        known = sorted(str(row[0]) for row in rows if row[0])
        folded = {one.casefold() for one in known}
        for word, wanted in zip(words, filters.wanted(name), strict=True):
            if wanted not in folded:
                yield f"no case has {called} '{shown(word)}'{did_you_mean(word, known)}"
