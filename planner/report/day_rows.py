"""The day sheet before it is drawn: which days, which hours, and what each hour says.

Faces differ only in how they draw it. Days stand side by side, time runs down, and
the hours that are night on every day shown are folded.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

import pandas as pd

from planner.report.words import Words, day

if TYPE_CHECKING:
    import datetime as dt

    from planner.hours.records import HourRow
    from planner.plan.records import Plan, StepPlan

State = Literal["holds", "fails", "no data", "past", "not in file"]

_HOUR: Final = pd.Timedelta(hours=1)
_USUAL: Final = tuple(range(6, 20))  # shown where nothing says which hours are light


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One hour of one day: whether a start in it holds, and what is written beside it.

    ``value`` is the gust at the sheet [m/s], or the chance with many weathers [-].
    """

    state: State
    clock: str
    value: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRows:
    """The day sheet of one step.

    Attributes
    ----------
    plan, words, here : Plan, Words, StepPlan
        What it is made of.
    days : tuple of datetime.date
        The days shown, in order.
    rows : dict of (datetime.date, int) to HourRow
        The file's hours by day and hour of the sheet's own clock.
    runs : tuple of (int, int, bool)
        First hour, hour after the last, and whether these hours are shown or folded.
    offset : pandas.Timedelta
        Minutes past the local hour at which an hour of the file starts.
    marks : tuple of float
        Tightest and loosest gust limit of the step's phases [m/s].
    full : float
        Value that a bar of full length stands for, as ``Cell.value``.
    """

    plan: Plan
    words: Words
    here: StepPlan
    days: tuple[dt.date, ...]
    rows: dict[tuple[dt.date, int], HourRow]
    runs: tuple[tuple[int, int, bool], ...]
    offset: pd.Timedelta
    marks: tuple[float, ...]
    full: float

    @property
    def many(self) -> bool:
        """Whether bars are chances rather than gusts."""
        return self.plan.weather.members > 1

    def local(self, time: pd.Timestamp) -> pd.Timestamp:
        """Give a time on the sheet's own clock, whose hours are the file's."""
        return time.tz_convert(self.plan.time_zone) - self.offset

    def cell(self, date: dt.date, hour: int) -> Cell:
        """Give what one hour of one day says."""
        row = self.rows.get((date, hour))
        if row is None:
            return Cell(state="not in file", clock="", value=math.nan, words="")
        return self._cell(row)

    def _cell(self, row: HourRow) -> Cell:
        value = row.chance if self.many else row.gust_at_sheet
        clock = self.words.clock(row.time)
        if row.time + _HOUR <= self.plan.now:
            return Cell(state="past", clock=clock, value=math.nan, words="past")
        said = self.words.compared(row.reason, on=self.words.date(row.time))
        later = self._starts_later(row)
        state: State = "holds" if row.chance > 0.0 or later is not None else "fails"
        if later is not None and row.chance <= 0.0:
            said = f"start from {self.words.clock(later)}"
        if later is None and not row.open_to:
            state, said = "fails", "after the last day, or waits for an earlier step"
        if not math.isfinite(row.gust_at_sheet):
            state = "no data"
        return Cell(state=state, clock=clock, value=value, words=said)

    def _starts_later(self, row: HourRow) -> pd.Timestamp | None:
        """Give the first start that holds after the hour has begun, if there is one."""
        firsts = (
            max(x.earliest_start, row.time)
            for x in self.here.found.windows
            if x.earliest_start < row.time + _HOUR and x.latest_start >= row.time
        )
        return min(firsts, default=None)

    def starts(self, date: dt.date) -> str:
        """Write the ranges of starts of one day, empty if there are none."""
        found = self.here.found.windows
        windows = sorted(
            (x for x in found if self.words.date(x.start) == date), key=lambda x: x.start
        )
        return "; ".join(self.words.span(x.earliest_start, x.latest_start) for x in windows)

    def other_days(self) -> tuple[str, ...]:
        """Say of each day that is not shown when it starts, or what it fails on."""
        today = self.words.date(self.plan.now)
        others = sorted({x for x, _ in self.rows if x >= today and x not in self.days})
        return tuple(f"{day(x)}: {self._said(x)}" for x in others)

    def _said(self, date: dt.date) -> str:
        if starts := self.starts(date):
            return f"start {starts}"
        failing = Counter(
            self.words.name(x.reason.quantity)
            for (on, _), x in self.rows.items()
            if on == date and x.reason.quantity != "light"
        )
        parts = ", ".join(f"{name} {count} h" for name, count in failing.most_common(2))
        return f"no start ({parts})" if parts else "no start"


def lay_out(plan: Plan, here: StepPlan, *, units: str, days: int) -> DayRows:
    """Choose the days and hours of a step's day sheet.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    here : StepPlan
        The step.
    units : {"us", "si"}
        Which units to write.
    days : int
        How many days are shown: those with the best windows, then the first [-].

    Returns
    -------
    DayRows
        The sheet.
    """
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    hours = here.found.hours
    offset = pd.Timedelta(0)
    if hours:
        offset = pd.Timedelta(minutes=hours[0].time.tz_convert(plan.time_zone).minute)
    clocks = [(x.time.tz_convert(plan.time_zone) - offset, x) for x in hours]
    rows = {(clock.date(), clock.hour): x for clock, x in reversed(clocks)}
    ranked = [words.date(x.start) for x in here.found.windows]
    today = words.date(plan.now)
    coming = sorted({date for date, _ in rows if date >= today})
    dates = tuple(sorted(list(dict.fromkeys([*ranked, *coming]))[:days]))
    bounds = [
        x.bound
        for of in here.found.limits.values()
        for x in of
        if x.quantity == "gust" and x.governs and math.isfinite(x.bound)
    ]
    marks = tuple(sorted({min(bounds), max(bounds)})) if bounds else ()
    gusts = [x.gust_at_sheet for x in hours if math.isfinite(x.gust_at_sheet)]
    many = plan.weather.members > 1
    return DayRows(
        plan=plan,
        words=words,
        here=here,
        days=dates,
        rows=rows,
        runs=_runs(_shown(plan, here, rows, dates)),
        offset=offset,
        marks=() if many else marks,
        full=1.0 if many else (1.15 * max(marks) if marks else max([*gusts, 1.0])),
    )


def _shown(
    plan: Plan,
    here: StepPlan,
    rows: dict[tuple[dt.date, int], HourRow],
    dates: tuple[dt.date, ...],
) -> frozenset[int]:
    """Give the hours of the day that hold work light or a window on any day shown."""
    spans = [(x.begin, x.end) for x in plan.light if x.begin is not None and x.end is not None]
    spans += [(x.start, x.end) for x in here.found.windows]
    open_ended = {x.day for x in plan.light if x.begin is None or x.end is None}
    shown = set()
    for (date, hour), row in rows.items():
        lit = date in open_ended and row.work_light_left > 0.0
        inside = any(row.time < last and row.time + _HOUR > first for first, last in spans)
        if date in dates and (lit or inside):
            shown.add(hour)
    return frozenset(shown or _USUAL)


def _runs(shown: frozenset[int]) -> tuple[tuple[int, int, bool], ...]:
    """Cut the day into stretches of hours that are shown or folded."""
    changes = [hour for hour in range(1, 24) if (hour in shown) != (hour - 1 in shown)]
    edges = [0, *changes, 24]
    return tuple((first, after, first in shown) for first, after in pairwise(edges))
