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

from planner.reference.tables import value
from planner.report.chances import brief_trouble
from planner.report.reader import words_for
from planner.report.words import Words, day, of_100

if TYPE_CHECKING:
    import datetime as dt

    from planner.hours.records import HourRow, Window
    from planner.plan.records import Plan, StepPlan

#: With many possible weathers "past" is also an hour that is not open to the step.
State = Literal["holds", "fails", "no data", "past", "not in file"]

_HOUR: Final = pd.Timedelta(hours=1)
_USUAL: Final = tuple(range(6, 20))  # shown where nothing says which hours are light


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One hour of one day: whether a start in it holds, and what is written beside it.

    With many possible weathers a start holds if its chance is what a go needs. ``value``
    is the gust at the sheet [m/s], or the chance with many weathers [-].
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
        Tightest and loosest gust limit of the step's phases [m/s]; with many weathers the
        chance that a go needs [-].
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
        clock = self.words.clock(row.time)
        if row.time + _HOUR <= self.plan.now:
            return Cell(state="past", clock=clock, value=math.nan, words="past")
        said = self._binds(row)
        later = self._starts_later(row)
        state: State = "holds" if self._enough(row, later) else "fails"
        if later is not None and row.chance <= 0.0:
            said = f"start from {self.words.clock(max(later.earliest_start, row.time))}"
        if later is None and not row.open_to:
            state, said = "fails", self._closed(row)
            if self.many:
                return Cell(state="past", clock=clock, value=math.nan, words=said)
        if not math.isfinite(row.gust_at_sheet):
            state = "no data"
        shown = self._chance(row, later) if self.many else row.gust_at_sheet
        return Cell(state=state, clock=clock, value=shown, words=said)

    def _closed(self, row: HourRow) -> str:
        """Say why a start is not looked at, whatever the weather."""
        last = self.plan.job.finish_by
        if last is not None and self.words.date(row.time) > last:
            return "after the last day"
        waits = {x.step.name for x in self.plan.steps} & set(self.here.step.after)
        return "waits for an earlier step" if waits else "not looked at"

    def _binds(self, row: HourRow) -> str:
        on = self.words.date(row.time)
        if self.many:
            return brief_trouble(row.reason, self.words, on=on)
        return self.words.compared(row.reason, on=on)

    def _enough(self, row: HourRow, later: Window | None) -> bool:
        """Whether a start in the hour holds, or has the chance that a go needs."""
        if not self.many:
            return row.chance > 0.0 or later is not None
        return self._chance(row, later) >= self.marks[0]

    def _chance(self, row: HourRow, later: Window | None) -> float:
        """Give the chance of a start in the hour, at its beginning or later in it [-]."""
        return later.chance if later is not None and row.chance <= 0.0 else row.chance

    def _starts_later(self, row: HourRow) -> Window | None:
        """Give the window with the first start after the hour has begun, if there is one."""
        found = (
            x
            for x in self.here.found.windows
            if x.earliest_start < row.time + _HOUR and x.latest_start >= row.time
        )
        return min(found, key=lambda x: max(x.earliest_start, row.time), default=None)

    def windows(self, date: dt.date) -> tuple[Window, ...]:
        """Give the windows of one day by start; with many weathers the likeliest alone."""
        found = [x for x in self.here.found.windows if self.words.date(x.start) == date]
        if self.many:
            found = sorted(found, key=lambda x: -x.chance)[:1]
        return tuple(sorted(found, key=lambda x: x.start))

    def starts(self, date: dt.date) -> str:
        """Write the ranges of starts of one day, empty if there are none."""
        windows = self.windows(date)
        said = "; ".join(self.words.span(x.earliest_start, x.latest_start) for x in windows)
        return f"{said}: {of_100(windows[0].chance)}" if self.many and windows else said

    def other_days(self) -> tuple[str, ...]:
        """Say of each day that is not shown when it starts, or what it fails on."""
        today = self.words.date(self.plan.now)
        others = sorted({x for x, _ in self.rows if x >= today and x not in self.days})
        return tuple(f"{day(x)}: {self._said(x)}" for x in others)

    def _said(self, date: dt.date) -> str:
        if starts := self.starts(date):
            return f"start {starts}"
        rows = [x for (on, _), x in self.rows.items() if on == date]
        if rows and not any(x.open_to for x in rows):
            return f"no start ({self._closed(rows[-1])})"
        failing = Counter(
            self.words.name(x.reason.quantity) for x in rows if x.reason.quantity != "light"
        )
        best = max((x.chance for x in rows if x.open_to), default=0.0)
        if self.many and best > 0.0:
            return f"at best {of_100(best)} ({failing.most_common(1)[0][0]})"
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
    words = words_for(plan, units)
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
    full = 1.15 * max(marks) if marks else max([*gusts, 1.0])
    return DayRows(
        plan=plan,
        words=words,
        here=here,
        days=dates,
        rows=rows,
        runs=_runs(_shown(plan, here, rows, dates)),
        offset=offset,
        marks=(_needed(plan, here),) if many else marks,
        full=1.0 if many else full,
    )


def _needed(plan: Plan, here: StepPlan) -> float:
    """Give the chance that a go needs, by what waiting costs or the least there is [-]."""
    decision = plan.decision
    if decision.step == here.step.name and decision.needs_chance is not None:
        return decision.needs_chance
    return value("planning", "least_chance_go")


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
        if date not in dates or hour in shown:
            continue
        lit = date in open_ended and row.work_light_left > 0.0
        if lit or any(row.time < last and row.time + _HOUR > first for first, last in spans):
            shown.add(hour)
    return frozenset(shown or _USUAL)


def _runs(shown: frozenset[int]) -> tuple[tuple[int, int, bool], ...]:
    """Cut the day into stretches of hours that are shown or folded."""
    changes = [hour for hour in range(1, 24) if (hour in shown) != (hour - 1 in shown)]
    edges = [0, *changes, 24]
    return tuple((first, after, first in shown) for first, after in pairwise(edges))
