"""Several plans side by side: the few things that tell them apart, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report import words as say
from planner.report.answer.answer import answer
from planner.report.chances import holds, trouble, two_costs
from planner.report.yard.tension import band
from planner.units import show

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from planner.hours.records import Window
    from planner.plan.records import Plan
    from planner.report.words import Words

_NONE = "-"


def side_by_side(plans: Sequence[tuple[Plan, Words]]) -> tuple[tuple[str, ...], ...]:
    """Write what tells plans of one job apart, a row a question, a cell a plan.

    Parameters
    ----------
    plans : sequence of (Plan, Words)
        Each with how its reader is spoken to.

    Returns
    -------
    tuple of tuple of str
        Each row's name, then its cells; "-" where a plan has no such thing.
    """
    told = [dict(_told(plan, words)) for plan, words in plans]
    return tuple((name, *(x[name] for x in told)) for name in told[0])


def _told(plan: Plan, words: Words) -> Iterator[tuple[str, str]]:
    decision, window = plan.decision, plan.decision.window
    said = answer(plan, words)
    yield "Answer", f"{said.word}. {said.headline}"
    yield from _of_window(plan, window, words)
    costs = _NONE
    if decision.go_cost is not None and decision.wait_cost is not None and plan.on is None:
        go, wait = two_costs(decision.go_cost, decision.wait_cost, plan.job.stakes.money)
        costs = f"going {go} on average, waiting {wait}"
    yield "Costs", costs
    yield (
        "Hours enough for every step",
        _NONE if plan.order is None else say.of_100(plan.order.chance_all),
    )


def _of_window(plan: Plan, window: Window | None, words: Words) -> Iterator[tuple[str, str]]:
    """Say what belongs to the best window, "-" for all of it where there is none."""
    start = chance = tightest = likely = pull = night = _NONE
    if window is not None:
        start = f"{say.capital(window.step)}, {words.moment(window.start)}"
        chance = holds(window.chance, plan.weather)
        likely = trouble(window.reason, words)
        phase = window.tightest
        if phase is not None:
            limit, expected = (
                words.amount(x, "gust") for x in (phase.gust_limit, phase.gust[1])
            )
            tightest = f"{phase.phase}: {limit} at the sheet; {expected} expected"
        if window.film_temp is not None and window.pull:
            film = show(window.film_temp, "temperature", words.units)
            spans = (words.pull_span(span, mm) for span, mm in window.pull.items())
            pull = f"film {film}: {', '.join(spans)}"
        if window.first_night is not None:
            night = band(window.first_night, words.units)
    yield "Best start", start if window else "no hours"
    yield "Chance", chance
    yield "Tightest limit", tightest
    yield "Most likely trouble", likely
    yield "Pull at the locks", pull
    yield "First night", night
