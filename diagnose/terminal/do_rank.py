"""``rank``: readings in, ranked explanations and the next step out."""

from __future__ import annotations

from argparse import Namespace

from diagnose.inference.ranking import Ranking
from diagnose.loops.site_rates import site_rates
from diagnose.terminal.as_json import ranking_json
from diagnose.terminal.find_evidence import evidence, excluded, standing
from diagnose.terminal.find_loop import find_loop, meter_of, plant_of
from diagnose.terminal.outcome import DONE, NEGATIVE, Outcome
from diagnose.terminal.render_ranking import render, rows


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

    site = site_rates(plant.folder)
    ranking = Engine(loop, meter, site.of(loop) or None).rank(said, place=place, without=without)
    cautions = {key: caution.text for key, caution in CAUTIONS.items()}
    told = [f"The {site}."] if site.rates else []
    return Outcome(
        {**ranking_json(ranking, cautions), **({"rates": told[0]} if told else {})},
        lambda look: (*render(ranking, loop, look, cautions, len(said)), *told),
        NEGATIVE if unexplained(ranking) else DONE,
    )


def unexplained(ranking: Ranking) -> bool:
    """Whether "none of the modelled" is the first of the ranking."""
    ranked = rows(ranking)
    return bool(ranked) and not ranked[0].members
