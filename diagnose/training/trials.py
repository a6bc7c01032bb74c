"""Many simulated hunts at once: in parallel, seeded, and resumed where they were left.

The same seeds give the same hunts, however many workers there are and wherever they run.
"""

from __future__ import annotations

import ctypes
import gc
import json
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, fields, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from diagnose.errors import DiagnoseError
from diagnose.inference.engine import Engine
from diagnose.loops.loop import Loop
from diagnose.loops.record import loop_from_record, loop_to_record
from diagnose.loops.site_rates import SiteRates
from diagnose.training.hunts import MOST_READINGS, Hunt, hunt

Rates = tuple[tuple[str, str, float], ...]

SPACING = 10_000
"""Seeds of one run lie within this many of its first."""


@dataclass(frozen=True)
class Job:
    """One hunt that is to be run: the loop as text, so that it can travel to a worker.

    Faults are drawn from the loop ``truth`` (empty: ``sheet``) by the rates ``drawn`` and hunted
    by the rates ``rates`` (part, mode, rate); ``label`` tells hunts of one policy apart by them.
    The hunt is called off after ``most`` readings.
    """

    tag: str
    sheet: str
    policy: str
    seed: int
    trouble: str = "none"
    rates: Rates = ()
    drawn: Rates = ()
    label: str = ""
    truth: str = ""
    most: int = MOST_READINGS

    @property
    def name(self) -> str:
        """The policy, whose rates it believed in, and after how many readings it gave up."""
        readings = f"up to {self.most} reading" + "s" * (self.most > 1)
        limit = "" if self.most == MOST_READINGS else readings
        return ", ".join(part for part in (self.policy, self.label, limit) if part)

    @property
    def key(self) -> tuple[str, str, int, str]:
        """What makes the hunt the same one."""
        return self.tag, self.name, self.seed, self.trouble


ASSUMED, LEARNED = "assumed rates", "learned rates"


def jobs(
    loops: Iterable[Loop],
    policies: Sequence[str],
    count: int,
    seed: int,
    trouble: str = "none",
    site: SiteRates | None = None,
    compare: bool = False,
    most: int = MOST_READINGS,
) -> list[Job]:
    """``count`` hunts on every loop by every policy, all with one trouble of ``TROUBLES``.

    ``site`` are rates by which faults are drawn and hunted; with ``compare``, each fault is hunted
    by the assumed rates as well.
    """
    return [
        Job(loop.tag, sheet, policy, number, trouble, rates, drawn, label, truth, most)
        for loop in loops
        for text, truth in [(_text(loop), _text(site.applied(loop) if site else loop))]
        for drawn in [_told(site, loop)]
        for policy in policies
        for rates, sheet, label in (
            [((), text, ASSUMED), (drawn, truth, LEARNED)] if compare else [(drawn, truth, "")]
        )
        for number in range(seed * SPACING, seed * SPACING + count)
    ]


def _text(loop: Loop) -> str:
    return json.dumps(loop_to_record(loop))


def _told(site: SiteRates | None, loop: Loop) -> Rates:
    return tuple((*key, rate) for key, rate in site.of(loop).items()) if site else ()


@lru_cache(maxsize=2)  # the rates drawn by and those hunted by; an engine grows as it hunts
def _engine(sheet: str, rates: Rates) -> Engine:
    own = {(part, mode): rate for part, mode, rate in rates}
    return Engine(loop_from_record(json.loads(sheet)), rates=own or None)


def _run(some: Sequence[Job]) -> list[Hunt]:
    found = []
    for job in some:
        found.append(_hunted(job))
        _give_back()
    return found


def _give_back() -> None:
    """Hand memory that is free within the process back to the system, where it can be done.

    Large arrays of all sizes come and go, and nobody counts them: without it a worker held four
    times what it used.
    """
    gc.collect()
    with suppress(AttributeError, OSError, TypeError):  # another C library, or another system
        ctypes.CDLL(None).malloc_trim(0)


def _hunted(job: Job) -> Hunt:
    engine = _engine(job.sheet, job.rates)
    other = job.truth or job.sheet
    same = (job.sheet, job.rates) == (other, job.drawn)
    truth = None if same else _engine(other, job.drawn)
    found = hunt(engine, job.policy, job.seed, job.most, job.trouble, truth)
    return replace(found, policy=job.name)


def run(wanted: Sequence[Job], pool: Executor, kept: Path | None = None) -> Iterator[Hunt]:
    """The hunts of all jobs, in the order in which they are done.

    ``kept`` is a file that every finished hunt is written to; what it holds already is not run
    again.  Raises DiagnoseError where it is no such file.
    """
    done = {(h.tag, h.policy, h.seed, h.trouble): h for h in _read(kept)} if kept else {}
    yield from (done[job.key] for job in wanted if job.key in done)
    left = [job for job in wanted if job.key not in done]
    futures: list[Future[list[Hunt]]] = [pool.submit(_run, some) for some in _batches(left)]
    for future in as_completed(futures):
        for found in future.result():
            if kept:
                with kept.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(asdict(found)) + "\n")
            yield found


def _batches(wanted: Sequence[Job], size: int = 4) -> Iterator[Sequence[Job]]:
    """A few jobs of one loop at a time, so that a worker builds its engine once."""
    start = 0
    while start < len(wanted):
        same = [job for job in wanted[start : start + size] if job.sheet == wanted[start].sheet]
        yield same
        start += len(same)


@contextmanager
def executor(workers: int, scheduler: str = "") -> Iterator[Executor]:
    """Processes of this machine, or the workers of a Dask scheduler at an address.

    Raises DiagnoseError where Dask is not installed or the address does not answer.
    """
    if not scheduler:
        with ProcessPoolExecutor(workers) as pool:
            yield pool
        return
    client = _client(scheduler)
    try:
        yield client.get_executor()
    finally:
        client.close()


def _client(scheduler: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        raise DiagnoseError("--scheduler needs Dask: install the package 'distributed'") from error
    connect: Any = Client  # it ships no types
    try:
        return connect(scheduler, timeout="10s")
    except (OSError, ValueError) as error:
        raise DiagnoseError(f"no Dask scheduler answers at {scheduler!r}") from error


_FIELDS = {item.name for item in fields(Hunt)}


def _read(path: Path) -> Iterator[Hunt]:
    """Finished hunts of a file; a torn last line is left out."""
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    for number, line in enumerate(lines, 1):
        try:
            yield _hunt(json.loads(line))
        except (ValueError, TypeError) as error:
            if number < len(lines):
                raise DiagnoseError(f"{path}: line {number} is no hunt of an evaluation") from error


def _hunt(data: Any) -> Hunt:
    if not isinstance(data, dict) or set(data) != _FIELDS:
        raise ValueError("not a hunt")
    return Hunt(**data)
