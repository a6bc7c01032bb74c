"""``rank``: readings in, ranked explanations and the next step out."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from diagnose.inference.measurement import Complaint
from diagnose.inference.ranking import Ranking
from diagnose.loops.site_rates import FILE, SiteRates, site_rates
from diagnose.terminal.as_json import Json, ranking_json
from diagnose.terminal.find_evidence import evidence, excluded, standing
from diagnose.terminal.find_loop import find_loop, meter_of, plant_of
from diagnose.terminal.leads import all_apart
from diagnose.terminal.outcome import DONE, NEGATIVE, Look, Outcome
from diagnose.terminal.render_ranking import render, rows
from diagnose.terminal.render_reasons import find_key, reasons_json
from diagnose.terminal.render_reasons import lines as reason_lines
from diagnose.terminal.wording import paragraph

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine, Evidence


def rank(arguments: Namespace) -> Outcome:
    """Rank the explanations of all readings given.

    The exit code is 1 where no modelled fault explains them.
    """
    plant = plant_of(arguments)
    loop = find_loop(arguments.loop, plant)
    said = evidence(arguments, loop)
    place, without = standing(arguments.place, loop), excluded(arguments.without, loop)
    meter = meter_of(plant, arguments.meter)

    # The engine is imported late: a wrong reading is told at once.
    from diagnose.inference.cautions import CAUTIONS
    from diagnose.inference.engine import Engine

    learned = site_rates(plant.folder)
    site = SiteRates() if arguments.assumed_rates else learned
    loop = site.applied(loop)
    engine = Engine(loop, meter, site.of(loop) or None)
    ranking = engine.rank(said, place=place, without=without)
    cautions = {key: caution.text for key, caution in CAUTIONS.items()}
    rates = [f"The {site}."] if site else []
    if learned and not site:
        rates = [f"The rates are the assumed ones; {FILE} is left out."]
    far = all_apart(said, loop, engine.candidates)
    data = {**ranking_json(ranking, cautions), **({"rates": rates[0]} if rates else {})}
    done = NEGATIVE if unexplained(ranking) else DONE
    if arguments.explain:
        return _explained(engine, said, ranking, arguments.explain, data, done)

    def lines(look: Look) -> Iterator[str]:
        yield from render(ranking, loop, look, cautions, len(said))
        yield from rates
        for text in far:
            yield from paragraph(text, look, "note  ")
        yield from _of_complaint(said, look, cautions)

    return Outcome(data, lines, done)


def _of_complaint(
    said: Sequence[Evidence], look: Look, cautions: Mapping[str, str]
) -> Iterator[str]:
    """The caution of a complaint that has one of its own: a trip that did not come in.

    It stands at the end, where a screen that scrolls stops.
    """
    for name in dict.fromkeys(one.name for one in said if isinstance(one, Complaint)):
        if name in cautions:
            yield ""
            yield from map(look.warning, paragraph(cautions[name], look, "STOP: "))


def _explained(
    engine: Engine,
    said: Sequence[Evidence],
    ranking: Ranking,
    words: Sequence[str],
    data: Json,
    done: int,
) -> Outcome:
    """What speaks for and against some explanations, in place of the ranking."""
    from diagnose.inference.reasons import reasons

    keys = dict.fromkeys(find_key(word, engine.loop, ranking) for word in words)
    found = [reasons(engine, said, key) for key in keys]
    return Outcome(
        {**data, "explained": [reasons_json(each) for each in found]},
        lambda look: reason_lines(found, engine.loop, look),
        done,
    )


def unexplained(ranking: Ranking) -> bool:
    """Whether "none of the modelled" is the first of the ranking."""
    ranked = rows(ranking)
    return bool(ranked) and not ranked[0].members
