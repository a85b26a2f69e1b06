"""The day sheet before it is drawn: days, hours, folds, states."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pandas as pd
import pytest

from planner.plan.records import Plan
from planner.report.day_rows import DayRows, lay_out

THU = dt.date(2031, 5, 1)


def sheet_of(plan: Plan, days: int = 3) -> DayRows:
    return lay_out(plan, plan.steps[1], units="us", days=days)


def test_the_days_with_the_best_windows_are_shown_in_order(plan: Plan) -> None:
    """Windows of rank 1, 2 and 3 fall on 1, 2 and 6 May."""
    assert sheet_of(plan).days == (THU, dt.date(2031, 5, 2), dt.date(2031, 5, 6))
    assert sheet_of(plan, days=1).days == (THU,)


def test_without_windows_the_first_days_are_shown(case) -> None:
    """Nothing to choose by: today and the days after it."""
    first = dt.date(2031, 4, 29)
    days = tuple(first + dt.timedelta(days=x) for x in range(3))
    assert sheet_of(case("no window")).days == days


def test_runs_cover_the_day_and_fold_the_night(plan: Plan) -> None:
    """Light from 5:51 am to 8:29 pm and a window until 9:25 pm: hours 5 to 21 are shown."""
    assert sheet_of(plan).runs == ((0, 5, False), (5, 22, True), (22, 24, False))


def test_a_window_over_midnight_opens_the_night(case) -> None:
    """Hours of a window are shown though they are dark."""
    shown = {
        hour
        for first, after, is_shown in sheet_of(case("over midnight")).runs
        for hour in range(first, after)
        if is_shown
    }
    assert {22, 23} <= shown


def test_states_of_an_hour(plan: Plan) -> None:
    """A start that holds, one that fails, a past hour, an hour without data, no hour at all."""
    sheet = sheet_of(plan)
    assert sheet.cell(THU, 6).state == "holds"
    assert sheet.cell(THU, 12).state == "fails"
    assert sheet.cell(THU, 12).words == "gust 11.6 over 4.0 at 12:00 pm"
    assert sheet.cell(dt.date(2031, 4, 29), 6).state == "past"
    assert sheet.cell(dt.date(2031, 4, 29), 8).state == "fails"
    assert sheet.cell(dt.date(2031, 5, 5), 12).state == "no data"
    assert sheet.cell(dt.date(2032, 1, 1), 12).state == "not in file"


def test_a_start_within_the_hour_counts(plan: Plan) -> None:
    """2 May can be started from 6:15 to 7:00, so the hour of 6:00 holds, and says from when."""
    cell = sheet_of(plan).cell(dt.date(2031, 5, 2), 6)
    assert (cell.state, cell.words) == ("holds", "start from 6:15 am")


def test_bars_are_measured_against_the_loosest_limit(plan: Plan) -> None:
    """Marks are the tightest and the loosest gust limit, 4.0 and 11.4 mph."""
    sheet = sheet_of(plan)
    assert sheet.marks == pytest.approx((4.0 * 0.44704, 11.4 * 0.44704))
    assert sheet.full > sheet.marks[-1]


def test_other_days_are_told_in_words(plan: Plan) -> None:
    """The wet day and the day without data say so."""
    said = {x.split(":")[0]: x for x in sheet_of(plan).other_days()}
    assert len(said) == 7
    assert said["Sat May 3"] == "Sat May 3: no start (rain 14 h)"
    assert said["Mon May 5"] == "Mon May 5: no start (no data 14 h)"


def test_hours_that_start_on_the_half_hour(plan: Plan) -> None:
    """Half a world of zones is half an hour off: each row still is one hour of the file."""
    zone = "Asia/Kolkata"
    start = pd.Timestamp("2031-05-01", tz="UTC")
    roof = plan.steps[1]
    hours = tuple(
        replace(row, time=start + pd.Timedelta(hours=at))
        for at, row in enumerate(roof.found.hours)
    )
    moved = replace(roof, found=replace(roof.found, hours=hours, windows=()))
    sheet = lay_out(
        replace(plan, time_zone=zone, now=start, steps=(moved,)), moved, units="si", days=2
    )
    assert sheet.cell(dt.date(2031, 5, 1), 5).clock == "05:30"
    clocks = [sheet.cell(dt.date(2031, 5, 2), hour).clock for hour in range(24)]
    assert len(set(clocks)) == 24
