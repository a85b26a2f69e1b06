"""Why: costs, the tightest phase, the hand meter, the slow crew, what follows, today."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from typing import TYPE_CHECKING

from planner.reference.tables import value
from planner.report import words as say
from planner.report.chances import trouble, two_costs
from planner.site.beaufort import beaufort_sign

if TYPE_CHECKING:
    from planner.hours.records import Window
    from planner.plan.records import Plan, StepPlan
    from planner.report.words import Words


def why(plan: Plan, words: Words) -> tuple[str, ...]:
    """Write why the answer is what it is.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of str
        One line each: what going and waiting cost, the tightest phase, what stops today.
    """
    decision, window = plan.decision, plan.decision.window
    here = plan.about
    if here is None or "past-finish" in decision.codes:
        return ()
    lines: list[str] = []
    if window:
        lines += [
            *_weighed(plan, window, words),
            *_tightest(window, words),
            *_beside(window, words, many=plan.weather.members > 1),
        ]
        if words.date(window.start) != words.date(plan.now):
            lines += _today(here, plan, words)
    elif here.found.none_because:
        because = here.found.none_because
        lines.append(f"Against the best start there is: {trouble(because, words)}.")
        lines += _today(here, plan, words)
        lines += _enough(plan)
    else:
        lines.append(f"The {here.step.name}: {waits(here, plan)}.")
    if "not-covered" in decision.codes:
        lines.append(f"The weather file goes up to {words.until(plan.weather.last)}.")
    return tuple(lines)


def _weighed(plan: Plan, window: Window, words: Words) -> list[str]:
    """Say what going and waiting cost, and what would change the answer."""
    decision, job = plan.decision, plan.job
    go, wait = decision.go_cost, decision.wait_cost
    if go is None or wait is None:
        return []
    today = words.date(window.start) == words.date(plan.now)
    parts = []
    if "low-chance" in decision.codes:
        least = say.of_100(value("planning", "least_chance_go"))
        parts.append(f"Under {least} nobody is sent out.")
    if today:
        costs = two_costs(go, wait, job.stakes.money)
        parts.append(f"Going costs {costs[0]} on average, waiting {costs[1]}.")
    if job.finish_by is None and (today or decision.answer == "hold"):
        parts.append("No last day is set, so waiting costs only days.")
    return [text for text in ("  ".join(parts), _changes(plan, window, words)) if text]


def _changes(plan: Plan, window: Window, words: Words) -> str:
    """Say what more people or another day would do."""
    today = words.date(plan.now)
    parts = []
    for change in plan.decision.would_change:
        chance = say.of_100(change.chance)
        if change.what == "people" and chance != say.of_100(window.chance):
            parts.append(f"With {change.to} people: {chance}.")
        elif isinstance(change.to, dt.datetime) and words.date(change.to) != today:
            parts.append(f"{words.moment(change.to)}: {chance}.")  # today's is said below
    return "  ".join(parts)


def _enough(plan: Plan) -> list[str]:
    """Say how many people it would take where these find no hours."""
    return [
        f"With {change.to} people the best start holds in {say.of_100(change.chance)}."
        for change in plan.decision.would_change
        if change.what == "people"
    ]


def _tightest(window: Window, words: Words) -> list[str]:
    phase = window.tightest
    if phase is None:
        return []
    return [
        f"{say.capital(phase.phase)} needs {say.duration(phase.minutes)} under "
        f"{words.amount(phase.gust_limit, 'gust')} at the sheet; "
        f"{words.amount(phase.gust[1], 'gust')} expected."
    ]


def _beside(window: Window, words: Words, *, many: bool) -> list[str]:
    """Say what a meter in the hand reads, what a slow crew meets, and what comes after."""
    lines = []
    phase = window.tightest
    if phase is not None:
        sign = ""
        if math.isfinite(phase.beaufort):
            sign = f"; by eye: {beaufort_sign(int(phase.beaufort))}"
        steady = window.steadiest
        also = ""
        if steady is not None:
            also = f", or a steady {words.amount(steady.hand_mean_limit, 'gust')}"
        gust = words.amount(phase.hand_limit, "gust")
        lines.append(f"In the hand stop at a gust of {gust}{also}{sign}.")
    if window.slow_chance <= window.chance - value("planning", "slow_chance_gap"):
        lines.append(
            f"With a slow crew it holds in {say.of_100(window.slow_chance)}: first time, wait."
        )
    lines += _left_alone(window, words, many=many)
    index = window.heat_index
    if index is not None and index >= value("planning", "heat_index_note"):
        warm = words.amount(index, "temp_air")
        lines.append(f"Heat index up to {warm}: water, shade, rest.")
    return lines


def _left_alone(window: Window, words: Words, *, many: bool) -> list[str]:
    """Say what stands alone after the step, where that may not be enough."""
    if window.leave_gust is None:
        return []
    stands = f"Left alone after it, it stands to {words.amount(window.leave_gust, 'gust')}"
    if many and window.leave_chance is not None and window.leave_chance < 1.0:
        hours = value("planning", "leave_hours")
        return [
            f"{stands}; for {hours:.0f} h that is enough in {say.of_100(window.leave_chance)}."
        ]
    if many or window.leave_fails is None:
        return []
    coming = words.amount(window.leave_worst, "gust")
    return [f"{stands}; {coming} is coming, too much from {words.moment(window.leave_fails)}."]


def _today(here: StepPlan, plan: Plan, words: Words) -> list[str]:
    """Say why no hour that is left today is taken."""
    today = words.date(plan.now)
    left = [
        x
        for x in here.found.hours
        if x.open_to and x.time >= plan.now and words.date(x.time) == today
    ]
    if not left:
        return []
    if plan.weather.members > 1:
        best = max(x.chance for x in left)
        within = (x.chance for x in here.found.windows if words.date(x.start) == today)
        best = max(within, default=best)
        return [f"The best start left today holds in {say.of_100(best)}."] if best else []
    failing = Counter(words.name(x.reason.quantity) for x in left if x.chance <= 0.0)
    fails = ", ".join(f"{count} fail on {name}" for name, count in failing.most_common())
    good = len(left) - failing.total()
    parts = [*([f"{good} would do"] if good else []), *([fails] if fails else [])]
    return [f"Of {len(left)} starts left today, on the hour: {', '.join(parts)}."]


def waits(here: StepPlan, plan: Plan) -> str:
    """Say why a step had no start to look at: an earlier step finds none, or time is up."""
    empty = {x.step.name for x in plan.steps if not x.found.windows}
    for name in here.step.after:
        if name in empty:
            return f"waits for {name}, which finds no hours"
    return "no start left to look at"
