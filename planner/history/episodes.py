"""Decisions played out: stretches of days, one rule against another."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.history.mornings import DAYS
from planner.history.records import Policy

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner.history.mornings import Morning
    from planner.history.records import PolicyName
    from planner.job.records import Stakes

    Rule = Callable[[Morning, int], bool]

_DAY: Final = dt.timedelta(days=1)


def play(mornings: Sequence[Morning], *, stakes: Stakes) -> tuple[Policy, ...]:
    """Play every rule over every stretch of days.

    A stretch starts on every day with a forecast and lasts eight days. Each morning the
    rule goes in the best window of the day or waits.

    Parameters
    ----------
    mornings : sequence of Morning
        In order; days between them without a forecast are waited.
    stakes : Stakes
        What a day waited and a deadline missed cost.

    Returns
    -------
    tuple of Policy
        The planner, the plain rule, climatology and hindsight, costs in sheets lost.
        Stretches with a day whose outcome is not known are left out.
    """
    days = {morning.day: morning for morning in mornings}
    usual = _usual_costs(mornings)
    rules: dict[PolicyName, Callable[[Morning, int], float | None]] = {
        "planner": lambda day, left: day.planner if day.goes[left - 1] else None,
        "plain rule": lambda day, left: day.plain,
        "climatology": lambda day, left: _by_the_calendar(day, left, usual[day.month], stakes),
        "hindsight": lambda day, left: 0.0 if day.held else None,
    }
    stretches = [
        stretch
        for first in days
        if (stretch := [days.get(first + k * _DAY) for k in range(DAYS)])
        and first + (DAYS - 1) * _DAY <= mornings[-1].day
        and all(day is None or day.known for day in stretch)
    ]
    return tuple(_policy(name, rule, stretches, stakes) for name, rule in rules.items())


def _policy(
    name: PolicyName,
    rule: Callable[[Morning, int], float | None],
    stretches: list[list[Morning | None]],
    stakes: Stakes,
) -> Policy:
    costs, ends, waits = [], [], []
    for stretch in stretches:
        cost, end, waited = 0.0, "missed", DAYS
        for k, day in enumerate(stretch):
            went = None if day is None else rule(day, DAYS - k)
            if went is not None:
                cost, end, waited = cost + went, "caught" if went > 0.0 else "done", k
                break
            cost += stakes.day_waited
        else:
            cost += stakes.deadline_missed
        costs.append(cost / stakes.sheet_lost)
        ends.append(end)
        waits.append(waited)
    count = len(stretches)
    return Policy(
        name=name,
        episodes=count,
        done=ends.count("done") / count if count else float("nan"),
        caught=ends.count("caught") / count if count else float("nan"),
        missed=ends.count("missed") / count if count else float("nan"),
        days_waited=float(np.mean(waits)) if count else float("nan"),
        cost=float(np.mean(costs)) if count else float("nan"),
    )


def _usual_costs(mornings: Sequence[Morning]) -> dict[int, dict[int, float]]:
    """By month: what starting at each hour costs on average in the other months [money]."""
    found = {}
    for month in {morning.month for morning in mornings}:
        costs: dict[int, list[float]] = {}
        for morning in mornings:
            if morning.month != month:
                for hour, cost in morning.by_hour.items():
                    if cost is not None:
                        costs.setdefault(hour, []).append(cost)
        found[month] = {hour: float(np.mean(x)) for hour, x in costs.items()}
    return found


def _by_the_calendar(
    day: Morning, left: int, usual: dict[int, float], stakes: Stakes
) -> float | None:
    """Go at the hour that is usually best if that costs less than to let the days go by."""
    hours = [hour for hour in day.by_hour if hour in usual]
    if not hours:
        return None
    hour = min(hours, key=lambda x: usual[x])
    waiting = stakes.deadline_missed
    for _ in range(left - 1):
        waiting = min(usual[hour], stakes.day_waited + waiting)
    return day.by_hour[hour] if usual[hour] <= stakes.day_waited + waiting else None
