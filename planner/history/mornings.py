"""One morning of a replay: the forecast of that day through the planner's own rooms."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import UsageError
from planner.history.pairs import earlier_runs, months
from planner.hours.conditions import conditions_for
from planner.hours.holds import starts_that_hold
from planner.hours.limits import limits_for
from planner.hours.reasons import binding
from planner.hours.spans import QUARTER, QUARTERS, quarter_times
from planner.plan.outlook import DayStart, loss_if_it_fails, starts_by_day, weigh
from planner.site.sun import morning_break_up
from planner.weather.miss.members import make_members
from planner.weather.miss.predictors import Known

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from numpy.typing import NDArray

    from planner.hours.holds import Holds
    from planner.hours.records import Conditions
    from planner.job.records import Job, Limit
    from planner.weather.archive import Archive
    from planner.weather.miss.forecast_error import ForecastError
    from planner.weather.table import Weather

    Floats = NDArray[np.float64]
    Booleans = NDArray[np.bool_]

#: Days that an episode lasts, and that a forecast is scored for.
DAYS: Final = 8
#: Limits that the calendar sets, not the weather.
_BY_CALENDAR: Final = frozenset({"light", "crew_hours", "sun"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scored:
    """The windows of one forecast that the calendar allows and whose outcome is known.

    All of shape (windows,): ``ahead`` local days from the issue [day], ``chance`` [-],
    ``plain`` whether the forecast at its word holds, ``held`` whether it did hold.
    """

    month: int
    ahead: NDArray[np.int_]
    chance: Floats
    plain: Booleans
    held: Booleans


@dataclass(frozen=True, slots=True, kw_only=True)
class Morning:
    """What each rule would do on one morning, and what that would have cost.

    Attributes
    ----------
    day : datetime.date
        The local day.
    month : int
        Counted as 12 * year + month - 1 [-].
    known : bool
        Whether the outcome of every start of the day is known.
    goes : tuple of bool
        Whether the planner goes with one day left, with two, and so on.
    planner, plain : float or None
        What going in the best window costs, by the planner's lights and by the forecast
        at its word; None without one [money].
    held : bool
        Whether any start of the day held.
    by_hour : dict of int to float
        What starting at each local hour would have cost [money].
    """

    day: dt.date
    month: int
    known: bool
    goes: tuple[bool, ...]
    planner: float | None
    plain: float | None
    held: bool
    by_hour: dict[int, float | None]


class Player:
    """Plays one forecast after another; what all of them share is worked out once.

    Parameters
    ----------
    job : Job
        With its steps; the one played is the roof sheet, else the first not done.
    archive : Archive
        Past forecasts.
    observed : Weather
        What came.
    count : int
        Possible weathers drawn for each forecast [-].
    seed : int
        Of the random numbers [-].

    Raises
    ------
    UsageError
        If every step is done.
    """

    def __init__(
        self, *, job: Job, archive: Archive, observed: Weather, count: int, seed: int
    ) -> None:
        todo = [step for step in job.steps if not step.done]
        if not todo:
            text = "Every step of the job is done."
            raise UsageError(text, fix="Take `done` out of the job file.")
        self.step = next((step for step in todo if step.sheet == "roof"), todo[0])
        self.job, self.archive, self.observed = job, archive, observed
        self.count, self.seed = count, seed
        self.limits = limits_for(job, self.step)
        self.by_calendar = {
            phase: tuple(limit for limit in own if limit.quantity in _BY_CALENDAR)
            for phase, own in self.limits.items()
        }
        self.wanted = {limit.quantity for own in self.limits.values() for limit in own}
        self.truth = self._conditions(observed)
        self.truth_holds = self._holds(self.truth, self.limits)
        self.known = self._known()

    def morning(
        self, i: int, error_for: Callable[[int], ForecastError]
    ) -> tuple[Morning, Scored]:
        """Play one forecast.

        Parameters
        ----------
        i : int
            Which one of the archive [-].
        error_for : callable
            Gives the error table for a month.

        Returns
        -------
        tuple of Morning and Scored
            What each rule would do, and the windows.
        """
        place, issued = self.job.place, self.archive.issues[i]
        local = issued.tz_convert(place.time_zone)
        month = int(months(self.archive.issues[i : i + 1], place.time_zone)[0])
        error = error_for(month).at(place.latitude, place.longitude)
        weather = self._in_reach(i, local)
        possible = self._conditions(self._possible(weather, i, error))
        plain = self._conditions(_at_its_word(weather))
        holds, plain_holds = self._holds(possible, self.limits), self._holds(plain, self.limits)
        every = holds.every // QUARTER
        on = quarter_times(possible, np.arange(0, QUARTERS * len(possible.times), every))
        midnight = local.tz_localize(None).normalize()
        ahead = np.asarray((on.tz_localize(None).normalize() - midnight).days)
        open_to = np.asarray(on >= issued) & (ahead < DAYS)
        held, known = self._outcome(on)
        window = open_to & self._holds(plain, self.by_calendar).ok[0]
        scored, today = window & known, window & (ahead == 0)
        days = starts_by_day(
            possible,
            self.step,
            self.limits,
            holds=holds,
            allowed=np.repeat(window, every),
            stakes=self.job.stakes,
        )
        first = days[0] if days and days[0].day == local.date() else None
        plain_start = self._plain_start(plain, plain_holds.ok[0] & today)
        morning = Morning(
            day=local.date(),
            month=month,
            known=bool(known[today].all()),
            goes=tuple(self._goes(days, local, error, left) for left in range(1, DAYS + 1)),
            planner=None if first is None else self.cost(first.start),
            plain=None if plain_start is None else self.cost(on[plain_start]),
            held=bool((held & today).any()),
            by_hour={
                int(on[x].hour): self.cost(on[x])
                for x in map(int, np.flatnonzero(today))
                if on[x].minute == 0
            },
        )
        return morning, Scored(
            month=month,
            ahead=ahead[scored],
            chance=holds.chance(possible.weights)[scored],
            plain=plain_holds.ok[0][scored],
            held=held[scored],
        )

    def cost(self, start: pd.Timestamp) -> float | None:
        """Give what going at a time would have cost.

        Parameters
        ----------
        start : pandas.Timestamp
            The start.

        Returns
        -------
        float or None
            Nothing if it held, None where that is not known [money].
        """
        held, known = self._outcome(pd.DatetimeIndex([start]))
        if not known[0]:
            return None
        if held[0]:
            return 0.0
        first = self.truth.times[0]
        return loss_if_it_fails(
            self.truth,
            self.step,
            self.limits,
            start=round((start - first) / pd.Timedelta(minutes=QUARTER)),
            ok=held,
            stakes=self.job.stakes,
        )

    def _conditions(self, weather: Weather) -> Conditions:
        return conditions_for(self.job, weather, wanted=self.wanted)

    def _holds(self, conditions: Conditions, limits: dict[str, tuple[Limit, ...]]) -> Holds:
        return starts_that_hold(
            conditions, self.step, limits, starts_every=self.job.starts_every
        )

    def _in_reach(self, i: int, local: pd.Timestamp) -> Weather:
        """Give the hours of a forecast that its windows can touch."""
        weather = self.archive.weather(i)
        last = (local.normalize() + pd.DateOffset(days=DAYS)).tz_convert("UTC")
        longest = pd.Timedelta(minutes=2 * self.step.minutes)
        return weather.between(weather.times[0], last + longest)

    def _possible(self, weather: Weather, i: int, error: ForecastError) -> Weather:
        place = self.job.place
        return make_members(
            weather,
            error,
            count=self.count,
            seed=self.seed + i,
            known=Known(earlier=earlier_runs(self.archive, i), seen=self.observed),
            breaks=morning_break_up(weather.times, place.latitude, place.longitude),
        )

    def _known(self) -> Booleans:
        """Whether every hour that a start touches was observed, by start."""
        known = np.ones(len(self.truth.times), dtype=bool)
        for quantity in self.wanted & set(self.truth.values):
            known &= np.isfinite(self.truth.values[quantity][0])[: len(known)]
        every = self.truth_holds.every
        starts = np.repeat(known, 60 // every)
        reach = int(np.ceil(self.step.minutes / every))
        padded = np.concatenate([starts, np.zeros(reach - 1, dtype=bool)])
        return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, reach).all(axis=1))

    def _outcome(self, times: pd.DatetimeIndex) -> tuple[Booleans, Booleans]:
        """Whether starts at some times held, and whether that is known."""
        step = np.timedelta64(self.truth_holds.every, "m")
        at = np.asarray((times - self.truth.times[0]) / step).round().astype(int)
        inside = (at >= 0) & (at < len(self.known))
        at = np.clip(at, 0, len(self.known) - 1)
        return self.truth_holds.ok[0, at] & inside, self.known[at] & inside

    def _goes(
        self,
        days: tuple[DayStart, ...],
        local: pd.Timestamp,
        error: ForecastError,
        left: int,
    ) -> bool:
        """Whether the planner goes today with so many days left."""
        today = local.date()
        last = (local + pd.DateOffset(days=left - 1)).date()
        return weigh(
            [day for day in days if day.day <= last],
            today=today,
            issued=local,
            stakes=self.job.stakes,
            finish_by=last,
            error=error,
            called=False,
        ).goes

    def _plain_start(self, plain: Conditions, ok: Booleans) -> int | None:
        """Give the start with the most room among those that hold by the forecast's word."""
        if not ok.any():
            return None
        room = binding(plain, self.step, self.limits).margin[
            :: self.truth_holds.every // QUARTER
        ]
        return int(np.where(ok, room, -np.inf).argmax())


def _at_its_word(weather: Weather) -> Weather:
    """Take a forecast as what came: amounts of rain, no chance of it, no puffs added."""
    values = {
        name: array
        for name, array in weather.values.items()
        if name != "precipitation_probability" or not weather.has("precipitation")
    }
    origin = {**weather.origin}
    if "precipitation_probability" not in values:
        origin["precipitation_probability"] = "missing"
    return replace(weather, values=values, origin=origin, kind="observed")
