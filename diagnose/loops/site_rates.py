"""What a site has learned of its faults and its calls: ``priors.toml`` in the plant folder.

The file is written by ``diagnose priors --write`` and may be written by hand::

    [priors]
    written = 2025-01-31
    failures = 57

    [[rate]]
    kind = "core"
    mode = "open"
    rate = 1.7           # in the unit of the assumed rates: a weight among the faults of a loop

    [[share]]
    type = "two-wire-input"    # a loop type; left out, it is for the types that have no entry
    ending = "sound"           # sound, process_connection or electrical
    factor = 0.8               # times the share of calls that the sheet assumes to end so
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from diagnose.errors import did_you_mean
from diagnose.loops.kind import FaultMode, Kind
from diagnose.loops.loop import Loop, Shares
from diagnose.loops.names import shown
from diagnose.loops.sheet_text import Problems, Table, kind_of, read_table

FILE = "priors.toml"

FURTHEST = 20.0
"""How far a rate or a share may lie from the assumed one, as a factor either way."""

LEARNED = ("sound", "process_connection", "electrical")
"""Shares that the ends of cases tell of; none ends in the unmodelled, which stays as assumed."""

_TOLD = (
    "written",
    "tool",
    "plants",
    "first",
    "last",
    "cases",
    "failures",
    "calls",
    "strength",
    "note",
)
_KEYS = ("kind", "mode", "rate", "assumed", "confirmed", "expected", "low", "high", "years")
_SHARE_KEYS = (
    "type", "ending", "factor", "assumed", "share", "low", "high", "ended", "expected", "calls",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SiteRates:
    """Rates by (kind, mode) in the unit of ``FaultMode.rate``; empty where there is no file.

    ``shares`` are factors by (loop type, field of ``Shares``) on what a sheet assumes; the type is
    empty for all that have none.  ``failures`` is how many confirmed ones the rates rest on,
    ``calls`` how many calls the shares, ``written`` the day as text.
    """

    rates: Mapping[tuple[str, str], float] = field(default_factory=dict)
    failures: int = 0
    written: str = ""
    shares: Mapping[tuple[str, str], float] = field(default_factory=dict)
    calls: int = 0

    def __bool__(self) -> bool:
        return bool(self.rates or self.shares)

    def of(self, loop: Loop) -> dict[tuple[str, str], float]:
        """The rates of a loop by (part, mode), as the engine takes them."""
        return {
            (part.name, mode.name): self.rates[part.kind.name, mode.name]
            for part in loop.parts
            for mode in part.kind.modes
            if (part.kind.name, mode.name) in self.rates
        }

    def applied(self, loop: Loop) -> Loop:
        """The loop with the shares that the site has learned in place of those of its sheet."""
        own = self._factors(loop.type) or self._factors("")
        return replace(loop, shares=moved(loop.shares, own)) if own else loop

    def _factors(self, loop_type: str) -> dict[str, float]:
        return {name: factor for (type_, name), factor in self.shares.items() if type_ == loop_type}

    def __str__(self) -> str:
        what = " and ".join(
            [f"rates of faults ({self.failures} failures)"] * bool(self.rates)
            + [f"shares of calls ({self.calls} calls)"] * bool(self.shares)
        )
        day = f", written {self.written}" if self.written else ""
        return f"{what} are the site's own ({FILE}{day})"


def moved(shares: Shares, factors: Mapping[str, float]) -> Shares:
    """Shares times their factors, made to add up again; the unmodelled keeps its share."""
    told = {name: getattr(shares, name) * factors.get(name, 1.0) for name in LEARNED}
    scale = (1.0 - shares.unmodelled) / sum(told.values())
    return replace(shares, **{name: scale * value for name, value in told.items()})


def site_rates(folder: Path) -> SiteRates:
    """The rates in the ``priors.toml`` of a plant folder; none where it has no such file.

    Raises
    ------
    SheetError
        The file has mistakes: all of them, each with its key and what would be right.
    """
    path = folder / FILE
    return read_rates(path) if path.is_file() else SiteRates()


def read_rates(path: Path) -> SiteRates:
    """The rates in a file; SheetError for its mistakes."""
    import diagnose.loops.kinds  # noqa: F401  (registers the kinds)

    problems = Problems(str(path))
    top = Table(problems, "", read_table(path))
    top.only(("priors", "rate", "share"))
    head = Table(problems, "priors", _mapping(top, "priors"))
    head.only(_TOLD)
    rates: dict[tuple[str, str], float] = {}
    for table in _entries(top, "rate"):
        _add(table, rates)
    shares: dict[tuple[str, str], float] = {}
    for table in _entries(top, "share"):
        _add_share(table, shares)
    failures, calls = (int(head.number(key, 0, 10**9, "57")) for key in ("failures", "calls"))
    problems.check()
    return SiteRates(rates, failures, str(head.raw.get("written", "")), shares, calls)


def _entries(top: Table, key: str) -> Iterator[Table]:
    """The tables of ``[[key]]``, numbered for whoever reads of their mistakes."""
    entries = top.raw.get(key, [])
    if not isinstance(entries, list):
        top.note(key, f"{kind_of(entries)} stands here; write [[{key}]]")
        entries = []
    for number, entry in enumerate(entries, 1):
        yield Table(top.problems, f"{key} {number}", entry if isinstance(entry, dict) else {})


def _mapping(top: Table, key: str) -> dict[str, Any]:
    value = top.raw.get(key, {})
    if isinstance(value, dict):
        return value
    top.note(key, f"a table belongs here; write it as [{key}]")
    return {}


def _add(table: Table, rates: dict[tuple[str, str], float]) -> None:
    table.only(_KEYS)
    kind, name = table.text("kind", example="core"), table.text("mode", example="open")
    mode = _mode(table, kind, name)
    rate = table.number("rate", -1.0, 1e9, "1.7")
    if mode is None:
        return
    if "rate" not in table.raw:
        table.note("rate", "it is missing; write rate = 1.7")
    elif not mode.rate / FURTHEST <= rate <= mode.rate * FURTHEST:
        low, high = mode.rate / FURTHEST, mode.rate * FURTHEST
        table.note("rate", f"{rate:g} is not between {low:g} and {high:g}, {FURTHEST:g} times the "
                   "assumed rate either way")  # fmt: skip
    elif (kind, name) in rates:
        table.note("mode", f"'{name}' of '{kind}' has a rate already")
    else:
        rates[kind, name] = rate


def _mode(table: Table, kind: str, name: str) -> FaultMode | None:
    law = Kind.registry.get(kind)
    if law is None:
        near = did_you_mean(kind, Kind.registry)
        table.note("kind", f"no kind is called '{shown(kind)}'{near}")
        return None
    found = {mode.name: mode for mode in law.modes}
    if name not in found:
        table.note("mode", f"'{kind}' does not fail so{did_you_mean(name, found)}")
    return found.get(name)


def _add_share(table: Table, shares: dict[tuple[str, str], float]) -> None:
    table.only(_SHARE_KEYS)
    type_, name = table.text("type", ""), table.text("ending", example="sound")
    factor = table.number("factor", -1.0, 1e9, "0.8")
    if name not in LEARNED:
        near = did_you_mean(name, LEARNED)
        table.note("ending", f"'{shown(name)}' is none of {', '.join(LEARNED)}{near}")
    elif "factor" not in table.raw:
        table.note("factor", "it is missing; write factor = 0.8")
    elif not 1 / FURTHEST <= factor <= FURTHEST:
        table.note("factor", f"{factor:g} is not between {1 / FURTHEST:g} and {FURTHEST:g}")
    elif (type_, name) in shares:
        table.note("ending", f"'{name}' has a factor already for this loop type")
    else:
        shares[type_, name] = factor
