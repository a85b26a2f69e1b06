"""The JSON contract ``replay/1``: past forecasts played against what happened.

Keys may be added in later versions and are never renamed; no data is null. Beyond what the
names say:

* ``first`` and ``last`` are the issues of the first forecast and the last; ``windows``
  counts those scored, of all forecasts together.
* ``by_day[].days_ahead`` counts local days from the day of issue, 0 on that day; ``brier``
  is 0 for chances that are always right; ``share`` is the planner's over climatology's.
* ``tenths[]`` has every tenth of chance, also those without a window; ``low`` belongs to
  it, ``high`` to the next, 1 to the last.
* ``policies[]``: ``done``, ``caught`` and ``missed`` are shares of the episodes,
  ``days_waited`` and ``cost`` means; ``of_plain_rule`` is the cost over the plain rule's.
* ``costs`` and every cost are in sheets lost.
* ``error`` names the table of forecast errors; ``own_months`` is true if it was fitted on
  months that are scored here.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from planner.report.record.windows import iso, number, version_here

if TYPE_CHECKING:
    from planner.history.records import DayAhead, Policy, Replay, Tenth

    Record = dict[str, Any]


def replay_json(replay: Replay) -> Record:
    """Give a replay as the ``replay/1`` record, for programs.

    Parameters
    ----------
    replay : Replay
        Past forecasts played against what happened.

    Returns
    -------
    dict
        Every key of the contract; times with the place's offset.
    """
    zone = replay.time_zone
    plain = next((x.cost for x in replay.policies if x.name == "plain rule"), math.nan)
    return {
        "schema": "replay/1",
        "planner": version_here(),
        "job": replay.job,
        "step": replay.step,
        "time_zone": zone,
        "first": iso(replay.first, zone),
        "last": iso(replay.last, zone),
        "issues": replay.issues,
        "windows": replay.windows,
        "by_day": [_day(x) for x in replay.by_day],
        "tenths": [_tenth(x) for x in replay.tenths],
        "policies": [_policy(x, plain) for x in replay.policies],
        "costs": {name: number(cost) for name, cost in replay.costs.items()},
        "error": replay.error,
        "fitted_on": replay.fitted_on,
        "own_months": replay.own_months,
        "credits": list(replay.credits),
        "notes": list(replay.notes),
    }


def _day(day: DayAhead) -> Record:
    return {
        "days_ahead": day.days_ahead,
        "windows": day.cases,
        "brier": {
            "planner": number(day.planner),
            "plain_forecast": number(day.plain),
            "climatology": number(day.climatology),
        },
        "share": number(day.share),
    }


def _tenth(tenth: Tenth) -> Record:
    return {
        "low": number(tenth.low),
        "high": number(tenth.high),
        "windows": tenth.cases,
        "mean_chance": number(tenth.mean_chance),
        "share_held": number(tenth.share_held),
    }


def _policy(policy: Policy, plain: float) -> Record:
    return {
        "name": policy.name,
        "episodes": policy.episodes,
        "done": number(policy.done),
        "caught": number(policy.caught),
        "missed": number(policy.missed),
        "days_waited": number(policy.days_waited),
        "cost": number(policy.cost),
        "of_plain_rule": number(policy.cost / plain if plain else math.nan),
    }
