"""Why: the tightest phase, the hand meter, the slow crew, what follows, and today."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from planner.reference.tables import value
from planner.report import words as say
from planner.site.beaufort import beaufort_sign

if TYPE_CHECKING:
    import datetime as dt

    from planner.hours.records import Window
    from planner.plan.records import Plan, StepPlan
    from planner.report.words import Words


def why(plan: Plan, words: Words) -> tuple[str, ...]:
    """Write why the answer is what it is: the tightest phase, and what stops today."""
    decision, window = plan.decision, plan.decision.window
    here = next((x for x in plan.steps if x.step.name == decision.step), None)
    if here is None:
        return ()
    lines: list[str] = []
    if window:
        lines += [
            *_tightest(window, words, today=words.date(plan.now)),
            *_beside(window, words),
        ]
        if words.date(window.start) != words.date(plan.now):
            lines += _today(here, plan, words)
    elif here.found.none_because:
        because = here.found.none_because
        lines.append(f"The best start there is meets {words.trouble(because)}.")
        lines += _today(here, plan, words)
    else:
        lines.append(f"The {here.step.name}: {waits(here, plan)}.")
    if "not-covered" in decision.codes:
        lines.append(f"The weather file goes up to {words.until(plan.weather.last)}.")
    return tuple(lines)


def _tightest(window: Window, words: Words, *, today: dt.date) -> list[str]:
    limited = [x for x in window.phases if math.isfinite(x.gust_limit)]
    if not limited:
        return []
    phase = min(limited, key=lambda x: x.gust_limit)
    minutes = (phase.end - phase.start).total_seconds() / 60.0
    name = phase.phase
    if words.date(window.start) != today:
        name = f"on {words.day(window.start)} {name}"
    return [
        f"{name[:1].upper()}{name[1:]} needs {say.duration(minutes)} under "
        f"{words.amount(phase.gust_limit, 'gust')} at the sheet; "
        f"{words.amount(phase.gust[1], 'gust')} is expected."
    ]


def _beside(window: Window, words: Words) -> list[str]:
    """Say what a meter in the hand reads, what a slow crew meets, and what comes after."""
    lines = []
    limited = [x for x in window.phases if math.isfinite(x.gust_limit)]
    if limited:
        phase = min(limited, key=lambda x: x.gust_limit)
        sign = ""
        if math.isfinite(phase.beaufort):
            sign = f"; by eye, stop at: {beaufort_sign(int(phase.beaufort))}"
        lines.append(
            f"In the hand the limit is {words.amount(phase.hand_limit, 'gust')}{sign}."
        )
    if window.slow_chance < min(window.chance, value("planning", "slow_chance_low")):
        lines.append(
            "A slow crew would still be at it when a limit is passed: be quick or wait."
        )
    if window.leave_fails is not None and window.leave_gust is not None:
        lines.append(
            f"Left alone after it, it stands to {words.amount(window.leave_gust, 'gust')}; "
            f"{words.amount(window.leave_worst, 'gust')} is coming, too much from "
            f"{words.moment(window.leave_fails)}."
        )
    index = window.heat_index
    if index is not None and index >= value("planning", "heat_index_note"):
        warm = words.amount(index, "temp_air")
        lines.append(f"Heat index up to {warm}: water, shade, rest.")
    return lines


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
        best = max(row.chance for row in left)
        return [f"The best start left today holds in {say.of_100(best)}."]
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
