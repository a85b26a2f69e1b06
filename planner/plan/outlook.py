"""What going and waiting cost: the best start of each day to come, weighed by the stakes."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.loads import worst_ratio
from planner.hours.spans import QUARTER, QUARTERS, quarter_times
from planner.plan.wait import Ahead, Prices, calls_for, cost_of_waiting, lost
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from planner.hours.holds import Holds
    from planner.hours.records import Conditions
    from planner.job.records import Limit, Stakes, Step
    from planner.weather.miss.forecast_error import ForecastError

    Floats = NDArray[np.float64]

_EVENING: Final = 0.5  # day before the work: the last forecast of the evening before
_DAWN: Final = 0.05  # day before the work: what is known when it begins


@dataclass(frozen=True, slots=True, kw_only=True)
class DayStart:
    """The best start of a local day, as it is seen now.

    ``chance`` that it holds [-], ``loss`` what going costs where it does not [money].
    """

    day: dt.date
    start: pd.Timestamp
    quarter: int
    chance: float
    loss: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """Going now against waiting.

    ``go`` and ``wait`` are costs on average [money], ``go`` None where nothing can start
    today; ``needs_chance`` is the chance at which both cost the same, or the least at
    which anybody is sent out [-]; ``goes`` says whether going today has it, ``calls``
    whether the crew is to be called for tomorrow.
    """

    go: float | None
    wait: float
    needs_chance: float
    goes: bool
    calls: bool


def starts_by_day(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    *,
    holds: Holds,
    allowed: NDArray[np.bool_],
    stakes: Stakes,
) -> tuple[DayStart, ...]:
    """Find the best start of each local day.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        The step.
    limits : dict of str to tuple of Limit
        By phase name.
    holds : Holds
        Which starts hold in which possible weather.
    allowed : numpy.ndarray of bool, shape (4 * hours,)
        The quarter hours at which the step may start.
    stakes : Stakes
        What a lost sheet and a crew sent home cost.

    Returns
    -------
    tuple of DayStart
        In order, days without an allowed start left out.
    """
    every = holds.every // QUARTER
    quarters = np.arange(0, len(conditions.times) * QUARTERS, every)
    quarters_open = allowed[quarters]
    chance = holds.chance(conditions.weights)
    local = quarter_times(conditions, quarters)
    days = local.tz_localize(None).normalize().to_numpy()
    found = []
    for day in np.unique(days[quarters_open]):
        of_day = np.flatnonzero(quarters_open & (days == day))
        best = int(of_day[chance[of_day].round(2).argmax()])
        found.append(
            DayStart(
                day=local[best].date(),
                start=local[best],
                quarter=int(quarters[best]),
                chance=float(chance[best]),
                loss=loss_if_it_fails(
                    conditions,
                    step,
                    limits,
                    start=int(quarters[best]),
                    ok=holds.ok[:, best],
                    stakes=stakes,
                ),
            )
        )
    return tuple(found)


def loss_if_it_fails(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    *,
    start: int,
    ok: NDArray[np.bool_],
    stakes: Stakes,
) -> float:
    """Give what a start costs, on average, in the weathers in which it does not hold.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        The step.
    limits : dict of str to tuple of Limit
        By phase name.
    start : int
        In quarter hours after the first hour [-].
    ok : numpy.ndarray of bool, shape (members,)
        Where it holds.
    stakes : Stakes
        What a lost sheet and a crew sent home cost.

    Returns
    -------
    float
        The sheet where a gust takes it, the crew's way home where it does not [money].
    """
    fails = ~ok
    share = float(conditions.weights @ fails)
    if share <= 0.0 or stakes.lost_when == "a limit is passed":
        return stakes.sheet_lost
    taken = lost(worst_ratio(conditions, step, limits, start))
    costs = taken * stakes.sheet_lost + (1.0 - taken) * stakes.sent_home
    return float((conditions.weights * fails) @ costs) / share


def weigh(
    days: Sequence[DayStart],
    *,
    today: dt.date,
    issued: pd.Timestamp,
    stakes: Stakes,
    finish_by: dt.date | None,
    error: ForecastError | None,
    called: bool,
) -> Weighed:
    """Weigh going today against waiting for a better day.

    Parameters
    ----------
    days : sequence of DayStart
        The best start of each day that is left.
    today : datetime.date
        The local day.
    issued : pandas.Timestamp
        When the forecast was made: later ones will know more.
    stakes : Stakes
        What everything costs.
    finish_by : datetime.date or None
        The last day.
    error : ForecastError or None
        How forecasts grow sharper; None where the weather is certain.
    called : bool
        Whether the crew is in the yard, so that not to go is to send it home.

    Returns
    -------
    Weighed
        Both costs, and the chance at which they meet.
    """
    least = value("planning", "least_chance_go")
    prices = Prices(
        day_waited=stakes.day_waited,
        sent_home=stakes.sent_home,
        missed=stakes.deadline_missed,
        least_chance=least,
    )
    now = next((day for day in days if day.day == today), None)
    later = [_ahead(day, issued, error) for day in days if day.day > today]
    last = max((day.day for day in days), default=today)
    open_end = None if finish_by is None else max((finish_by - last).days, 0)
    wait = cost_of_waiting(later, prices, open_end=open_end)
    tomorrow = [day for day in days if day.day == today + dt.timedelta(days=1)]
    calls = bool(tomorrow) and calls_for(later, prices, open_end=open_end)
    wait += stakes.sent_home if called and now is not None else stakes.day_waited
    loss = now.loss if now is not None else stakes.sheet_lost
    needs = min(max(least, 1.0 - wait / loss if loss > 0.0 else least), 1.0)
    return Weighed(
        go=None if now is None else (1.0 - now.chance) * now.loss,
        wait=wait,
        needs_chance=needs,
        goes=now is not None and now.chance >= needs,
        calls=calls,
    )


def _ahead(day: DayStart, issued: pd.Timestamp, error: ForecastError | None) -> Ahead:
    lead = max((day.start - issued).total_seconds() / 86_400.0, 0.0)
    eve, dawn = min(lead, _EVENING), min(lead, _DAWN)
    return Ahead(
        chance=day.chance,
        loss=day.loss,
        by_evening=0.0 if error is None else error.still_open(lead, eve),
        by_dawn=0.0 if error is None else error.still_open(eve, dawn),
    )
