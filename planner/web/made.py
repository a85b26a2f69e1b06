"""Plans and pull charts of what lies on a desk, made once for all who ask the same."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from planner.errors import PlannerError, UsageError
from planner.web.job_edit import checked

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Hashable

    import pandas as pd

    from planner.job.records import Job
    from planner.plan.records import Plan, TensionPlan
    from planner.weather.table import Weather
    from planner.web.desk import Lying

_KEPT: Final = 24
_AT_ONCE: Final = 2  # plans worked out side by side; more only share the cores
_FRESH: Final = 900.0  # s, how long a plan by the clock is given again


class Kept:
    """Results by what they were made from; a second asker waits for the first."""

    def __init__(self, most: int = _KEPT) -> None:
        self._most = most
        self._found: OrderedDict[Hashable, Future[Any]] = OrderedDict()
        self._lock = threading.Lock()
        self._turn = threading.Semaphore(_AT_ONCE)

    def get(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """Give what was made for a key, or make it.

        Parameters
        ----------
        key : hashable
            All that the result depends on.
        make : callable
            Makes it.

        Returns
        -------
        object
            The result. What ``make`` raises is raised, and not kept.
        """
        with self._lock:
            there = self._found.get(key)
            future: Future[Any] = there or Future()
            self._found[key] = future
            self._found.move_to_end(key)
            while len(self._found) > self._most:
                self._found.popitem(last=False)
        if there is not None:
            return there.result()
        try:
            with self._turn:
                future.set_result(make())
        except BaseException as error:
            with self._lock:
                self._found.pop(key, None)
            future.set_exception(error)
            raise
        return future.result()


@dataclass(frozen=True, slots=True, kw_only=True)
class Maker:
    """Makes plans and pull charts, and keeps the last of them.

    ``options`` goes to ``make_plan`` as it is.
    """

    options: dict[str, Any] = field(default_factory=dict)
    kept: Kept = field(default_factory=Kept)

    def job(self, lying: Lying) -> Job:
        """Give the job on a desk, with its steps."""
        if lying.job is None:
            raise UsageError("There is no job yet.", fix="Fill in the job first.")
        return checked(lying.job)

    def plan(self, lying: Lying, *, on: dt.date | None = None) -> Plan:
        """Give the plan of what lies on a desk.

        Parameters
        ----------
        lying : Lying
            With job and weather.
        on : datetime.date, optional
            Only starts on this local day.

        Returns
        -------
        Plan
            As ``make_plan``.

        Raises
        ------
        UsageError
            If job or weather is not there yet.
        PlannerError
            As ``make_plan``.
        """
        given = lying.given
        if given is None:
            raise UsageError("There is no weather yet.", fix="Give a weather file first.")

        def make() -> Plan:
            from planner.job.jobfile import parse_job
            from planner.plan.make import make_plan

            self.job(lying)
            job = parse_job(lying.job or "")
            when = planned_from(lying.now, job.place.time_zone, given.weather)
            return make_plan(job, given.weather, now=when, on=on, far=lying.far, **self.options)

        plan: Plan = self.kept.get(("plan", on, *_key(lying)), make)
        return plan

    def tension(self, lying: Lying) -> tuple[TensionPlan, PlannerError | None]:
        """Give the pull chart of the job on a desk, with the coming days if they are known.

        Parameters
        ----------
        lying : Lying
            With a job.

        Returns
        -------
        tuple of TensionPlan and PlannerError or None
            The chart; and why the coming days are not in it, though there is a weather
            file.

        Raises
        ------
        UsageError
            If there is no job yet.
        PlannerError
            As ``make_tension`` without weather.
        """
        job = self.job(lying)
        try:
            return self.kept.get(("tension", *_key(lying)), lambda: _tension(job, lying)), None
        except PlannerError as error:
            if lying.given is None:
                raise
            return _tension(job, None), error


def _key(lying: Lying) -> tuple[Hashable, ...]:
    """Give what a result depends on; by the clock, it is made anew after a while."""
    mark = "" if lying.given is None else lying.given.mark
    turn = 0 if lying.now else int(time.time() // _FRESH)
    return lying.job, mark, lying.now, lying.far, turn


def _tension(job: Job, lying: Lying | None) -> TensionPlan:
    from planner.plan.tension_plan import make_tension
    from planner.report.screen.tension import CHART_ROWS

    given = None if lying is None else lying.given
    if lying is None or given is None:
        return make_tension(job, film_temps=CHART_ROWS[job.units])
    when = planned_from(lying.now, job.place.time_zone, given.weather)
    return make_tension(
        job, given.weather, film_temps=CHART_ROWS[job.units], now=when, far=lying.far
    )


def planned_from(text: str | None, zone: str, weather: Weather) -> pd.Timestamp | None:
    """Give the time to plan from: as typed, the clock's, or the file's own.

    Parameters
    ----------
    text : str or None
        As typed; nothing stands for none.
    zone : str
        Time zone of the place.
    weather : Weather
        The file.

    Returns
    -------
    pandas.Timestamp or None
        As ``plan.now.time_to_plan_from``.
    """
    import pandas as pd

    from planner.plan.now import time_to_plan_from

    return time_to_plan_from(text or None, zone, weather, clock=pd.Timestamp.now(tz="UTC"))
