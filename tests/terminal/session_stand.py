"""What the tests of the session share: a talk on a case in a folder, with or without an engine."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from diagnose.casework.hunt import Hunt
from diagnose.casework.log import CaseFile
from diagnose.circuit.predictor import Predictor
from diagnose.inference.engine import Engine
from diagnose.inference.meters import GENERIC
from diagnose.inference.observe import Observer
from diagnose.inference.ranking import Ranking
from diagnose.loops.loop import Loop
from diagnose.terminal.outcome import Look
from diagnose.terminal.session_talk import Talk
from terminal.answers import ADVICE, OPEN, SERIES

SCREEN = Look(80)

BY_HAND = replace(
    OPEN,
    next=(replace(SERIES, cautions=(), interrupts_loop=False), ADVICE),
    suspects=(),
)
"""Two steps: one that needs no answer, one that drives the transmitter and does (``inject``)."""


_ENGINES: dict[str, Engine] = {}


def _engine(loop: Loop) -> Engine:
    """The true engine of a loop, made once."""
    if loop.digest not in _ENGINES:
        _ENGINES[loop.digest] = Engine(loop)
    return _ENGINES[loop.digest]


class Answers:
    """Stands in for the engine: the same ranking whatever is said."""

    candidates = ()

    def __init__(self, ranking: Ranking, loop: Loop) -> None:
        self.ranking, self.loop = ranking, loop
        self.asked: list[dict] = []

    def rank(self, evidence: Sequence[object], **options: object) -> Ranking:
        self.asked.append({"evidence": tuple(evidence), **options})
        return self.ranking

    @property
    def observer(self) -> Observer:
        return Observer(Predictor(self.loop), GENERIC)

    def at(self, evidence: Sequence[object]) -> "Answers":
        return self

    def __getattr__(self, name: str) -> object:
        """What is no ranking is asked of the true engine."""
        return getattr(_engine(self.loop), name)

    @property
    def machine(self) -> object:
        return Predictor(self.loop)


def talk_on(folder: Path, loop: Loop, make: Callable[[], object]) -> Talk:
    """A talk on a new case."""
    file = CaseFile.create(folder, loop)
    return Talk(Hunt(file, loop, make, "cabinet"), SCREEN)  # type: ignore[arg-type]


def by_hand(folder: Path, loop: Loop, ranking: Ranking = BY_HAND) -> Talk:
    """A talk whose engine answers with a ranking made by hand; the first step is shown."""
    engine = Answers(ranking, loop)
    talk = talk_on(folder, loop, lambda: engine)
    list(talk.turn())
    return talk


def say(talk: Talk, *lines: str) -> str:
    """What is said to the last of some lines."""
    said: list[str] = []
    for line in lines:
        said = list(talk.hear(line))
    return "\n".join(said)


def flat(text: str) -> str:
    """Text without its line breaks."""
    return " ".join(text.split())
