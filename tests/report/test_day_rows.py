"""The day sheet before it is drawn: days, hours, folds, states."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pandas as pd
import pytest

from planner.plan.records import Plan
from planner.report.picture.day_rows import DayRows, lay_out
from tests.report.made_chances import likely, starts_later, weighed

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


def with_chance(plan: Plan, chance: float, **more: object) -> Plan:
    """The plan with one chance at every hour of the roof sheet."""
    end_wall, roof = plan.steps
    hours = tuple(replace(row, chance=chance, **more) for row in roof.found.hours)
    return replace(
        plan, steps=(end_wall, replace(roof, found=replace(roof.found, hours=hours)))
    )


@pytest.mark.parametrize(
    ("chance", "state"), [(0.87, "fails"), (0.88, "holds"), (1.0, "holds")]
)
def test_many_weathers_hold_where_a_go_has_what_it_needs(chance: float, state: str) -> None:
    """The bar is the chance, marked at the 88 of 100 that a go needs."""
    sheet = sheet_of(with_chance(starts_later(), chance))
    cell = sheet.cell(THU, 12)
    assert (cell.state, cell.value) == (state, chance)
    assert (sheet.marks, sheet.full) == ((0.88,), 1.0)
    assert cell.words == "gust over 4.0, 12:00 pm"


def test_a_step_that_was_not_weighed_has_the_least_chance_as_its_mark() -> None:
    """The answer is about the roof sheet; for the end wall 70 of 100 is the least."""
    plan = starts_later()
    assert lay_out(plan, plan.steps[0], units="us", days=3).marks == (0.7,)


def test_many_weathers_show_the_likeliest_window_of_a_day() -> None:
    """Two windows on one day: the likelier one, with its chance."""
    windows = (
        likely("2031-05-01 06:15", 0.81, 1),
        likely("2031-05-01 17:15", 0.4, 2),
        likely("2031-05-02 17:15", 0.3, 3),
    )
    sheet = sheet_of(weighed(windows, codes=("starts-later",)))
    assert sheet.starts(THU) == "6:00 to 6:45 am: 81 of 100"
    assert [x.rank for x in sheet.windows(THU)] == [1]
    assert sheet.starts(dt.date(2031, 5, 4)) == ""


def test_a_dark_hour_names_the_start_within_it() -> None:
    """At 6:00 nothing holds, from 6:15 on it does, in 64 of 100: bold if a go needs no more."""
    plan = with_chance(starts_later(), 0.0)
    fri = dt.date(2031, 5, 2)
    for needs, state in ((0.64, "holds"), (0.65, "fails")):
        asked = replace(plan, decision=replace(plan.decision, needs_chance=needs))
        cell = sheet_of(asked).cell(fri, 6)
        assert (cell.state, cell.value, cell.words) == (state, 0.64, "start from 6:15 am")


def test_closed_hours_have_no_bar() -> None:
    """A chance that cannot be taken is not drawn, and the reason is no weather."""
    plan = with_chance(starts_later(), 0.9, open_to=False)
    cell = sheet_of(plan).cell(THU, 12)
    assert (cell.state, cell.words) == ("past", "waits for an earlier step")
    assert plan.job.finish_by is not None
    late = replace(plan, job=replace(plan.job, finish_by=dt.date(2031, 4, 30)))
    assert sheet_of(late).cell(THU, 12).words == "after the last day"
    alone = replace(plan, steps=plan.steps[1:])
    assert (
        lay_out(alone, alone.steps[0], units="us", days=3).cell(THU, 12).words
        == "not looked at"
    )


def test_other_days_say_their_best_chance() -> None:
    """Days without a window have a chance all the same, or no start at all."""
    said = {
        x.split(":")[0]: x for x in sheet_of(with_chance(starts_later(), 0.06)).other_days()
    }
    assert said["Sat May 3"] == "Sat May 3: at best 6 of 100 (rain)"
    none = {x.split(":")[0]: x for x in sheet_of(with_chance(starts_later(), 0.0)).other_days()}
    assert none["Sat May 3"] == "Sat May 3: no start (rain 14 h)"
    closed = with_chance(starts_later(), 0.9, open_to=False)
    shut = {x.split(":")[0]: x for x in sheet_of(closed).other_days()}
    assert shut["Sat May 3"] == "Sat May 3: no start (waits for an earlier step)"
