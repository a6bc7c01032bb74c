"""A drill on a screen: the same panes as a hunt, but the trainee decides and the meter answers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.casework.checks import CaseError
from diagnose.errors import DiagnoseError
from diagnose.inference.cautions import CAUTIONS, cautions_for
from diagnose.loops.loop import Loop
from diagnose.terminal import session_view
from diagnose.terminal.drill_help import help_lines, offers, part_lines, sheet_lines
from diagnose.terminal.naming import place_title
from diagnose.terminal.outcome import Look
from diagnose.terminal.panes import Pane
from diagnose.terminal.screen import fitted
from diagnose.terminal.slips import meant
from diagnose.terminal.wording import count, paragraph
from diagnose.training.commands import WORDS
from diagnose.training.helping import believed
from diagnose.training.record import Recorder
from diagnose.training.safety import MISTAKES
from diagnose.training.setting import DIFFICULTIES, DrillError
from diagnose.training.steps import Step


class DrillView:
    """What a screen shows of a drill; what the trainer hides has no pane."""

    halved = False

    def __init__(self, recorder: Recorder, look: Look) -> None:
        self.recorder, self.drill, self.look = recorder, recorder.drill, look
        self.over = self.drawn = False
        self.known: Sequence[str] = ()

    @property
    def loop(self) -> Loop:
        """The loop that is hunted on."""
        return self.drill.loop

    @property
    def title(self) -> str:
        """The loop; the title of a lesson gives its fault away, so that the debrief tells it."""
        return f"{self._about()} | drill"

    def _about(self) -> str:
        return f"{self.loop.tag}, {self.loop.service}" if self.loop.service else self.loop.tag

    def fit(self, width: int) -> None:
        """Answers in so many columns."""
        self.look, self.drawn = fitted(width, True), True

    def greeting(self) -> Iterator[str]:
        """The task, and what is different from the plant."""
        setting, look = self.drill.setting, self.look
        yield from map(look.strong, paragraph(f"Drill. {self._about()}.", look))
        if setting.story:
            yield from paragraph(setting.story, look)
        for line in self._opening():
            yield from paragraph(line, look)
        if self.drill.steps:
            played = count(len(self.drill.steps), "step")
            yield f"Gone on with: {played} played again."
        hard = DIFFICULTIES[setting.difficulty]
        yield from paragraph(
            "Nothing is told but what the meter shows: type what you want to measure, without a "
            f"value. Time limit {setting.minutes:.0f} simulated minutes. Difficulty "
            f"{setting.difficulty}: {hard}. help lists the commands, sheet shows the loop; verdict "
            "and close end the drill.",
            look,
        )
        yield f"For example: {self._example()}"
        yield from session_view.reminders(look)

    def _opening(self) -> list[str]:
        """What is told at the start, as sentences."""
        told = (line.partition(" ") for line in self.drill.opening)
        return [f"{word.capitalize()}: {rest}." for word, _, rest in told]

    def _example(self) -> str:
        wanted = self.drill.engine.candidates
        volts = next((c.measurement for c in wanted if c.measurement.function[:1] == "V"), None)
        return " ".join((volts.function, *volts.points)) if volts else "process"

    # -- one line ----------------------------------------------------------------------------------

    def shows(self, line: str) -> bool:
        """A command that shows what is known, alone; all else is a step that costs minutes."""
        return line.strip().casefold() in ("help", "?", "list", "sheet", "items", "cautions")

    def hear(self, line: str) -> Iterator[str]:
        """What comes of one line."""
        text = " ".join(line.split())
        word, _, rest = text.partition(" ")
        local = {
            "help": self._help, "?": self._help, "quit": self._quit, "exit": self._quit,
            "list": self._list, "sheet": self._sheet, "items": self._items,
            "cautions": self._cautions,
        }  # fmt: skip
        try:
            if word.casefold() in local:
                yield from local[word.casefold()](rest)
            elif text:
                yield from self._told(self.recorder.do(text))
        except (DiagnoseError, CaseError) as error:
            names = (*local, *(word.name for word in WORDS))
            more = meant(text, error, names)
            yield from paragraph(f"Not done: {error}{more}", self.look, "", "  ")

    def _told(self, step: Step) -> Iterator[str]:
        """What the trainee sees; what the plant does and what was unsafe, at once."""
        look = self.look
        for text in step.told:
            yield from paragraph(text, look, "", "  ")
        for effect in step.effects:
            text = f"PLANT: {effect.text}" if effect.sort != "moved" else effect.text
            if effect.sort != "moved" or len(step.effects) == 1:
                yield from map(look.warning, paragraph(text, look, "", "  "))
        for name in step.unsafe:
            text = f"UNSAFE: {MISTAKES[name]}."
            yield from map(look.warning, paragraph(text, look, "", "  "))
        if step.line and self.drill.setting.visible == "shown" and not self.drawn:
            yield from self._faults().draw(look)
        if step.points:
            yield f"This costs {step.points:.0f} points."
        if step.sort == "closed":
            self.over = True
        elif self.drill.over_time:
            yield from paragraph("The time is up: give your verdict, put back, close.", look)

    def _help(self, rest: str) -> Iterator[str]:
        yield from help_lines(self.loop, self.look)

    def _quit(self, rest: str) -> Iterator[str]:
        self.over = True
        yield from paragraph(f"Kept: {self.recorder.path.name}; --resume goes on.", self.look)

    def _sheet(self, rest: str) -> Iterator[str]:
        yield from (
            part_lines(rest, self.loop, self.look) if rest else sheet_lines(self.loop, self.look)
        )

    def _list(self, rest: str) -> Iterator[str]:
        found = list(self._readings())
        yield from found or ["No reading yet."]

    def _items(self, rest: str) -> Iterator[str]:
        if not self.drill.items:
            yield "Nothing is altered."
        for number, item in enumerate(self.drill.items, 1):
            yield f"  {number}  {item}"

    def _cautions(self, rest: str) -> Iterator[str]:
        if not rest:
            raise DrillError(f"say of which step: cautions {self._example()}")
        wanted = self.drill.measurement(rest)
        keys = cautions_for(wanted, self.loop)
        for key in keys:
            yield from paragraph(CAUTIONS[key].text, self.look, "  ")
        if not keys:
            yield "No caution beyond the usual ones."

    def _readings(self) -> Iterator[str]:
        for step in self.drill.readings:
            gone = "   withdrawn" if step.number in self.drill.withdrawn else ""
            yield f"{step.number:>4}  {step.line}{gone}"

    # -- the screen --------------------------------------------------------------------------------

    def prompt(self) -> str:
        """Where one stands, and how much time is left."""
        left = max(0.0, self.drill.setting.minutes - self.drill.clock)
        return f"{self.drill.place}, {left:.0f} min left> "

    def foot(self) -> str:
        """What is altered, the jack, the place."""
        items = self.drill.items
        still = f"open: {', '.join(items)}" if items else "nothing open"
        jack = (
            "" if self.drill.meter.minds_jacks else f" | lead in the {self.drill.meter.jack} jack"
        )
        return f"{still}{jack} | at {place_title(self.drill.place, self.loop)}"

    def offers(self, text: str) -> list[str]:
        """Completion of a line."""
        return offers(text, self.loop)

    def panes(self) -> Sequence[Pane]:
        """The task, the readings, what is altered; the faults where the trainer shows them."""
        return list(self._panes())

    def _panes(self) -> Iterator[Pane]:
        setting = self.drill.setting
        told = [*filter(None, [setting.story]), *self._opening()]
        head = f"task: {self.drill.opening[0] if self.drill.opening else 'what is wrong?'}"
        yield Pane("task", head, lambda look: [x for t in told for x in paragraph(t, look)])
        if setting.visible == "shown":
            yield self._faults()
        lines = list(self._readings())
        title = f"readings: {len(lines)}" if lines else "readings: none yet"
        yield Pane("readings", title, lambda look: lines, focus=len(lines), least=3)
        plant = [e.text for s in self.drill.steps for e in s.effects if e.sort != "moved"]
        if plant:
            name = f"what the plant did: {count(len(plant), 'event')}"
            yield Pane("plant", name, lambda look: plant, focus=len(plant))
        items = list(self._items(""))
        if self.drill.items:
            yield Pane("items", f"altered: {len(items)}", lambda look: items)

    def _faults(self) -> Pane:
        ranking = believed(self.drill)
        advice = next(iter(ranking.next), None)
        title = f"next: {advice.text}" if advice and not ranking.resolved else "faults"

        def draw(look: Look) -> Iterator[str]:
            read = len(self.drill.evidence)
            yield from filter(None, session_view.standing(ranking, self.loop, look, read))
            if advice and not ranking.resolved:
                yield from paragraph(f"The tool would take: {advice.text}.", look)

        return Pane("faults", title, draw, least=3)
