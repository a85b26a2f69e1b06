"""One job and one weather in, one plan out."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.plan.make import make_plan
from planner.plan.place_check import distance
from planner.weather.table import WeatherPlace
from tests.hours.made import job, weather

DONE = '[steps."end wall north"]\ndone = true\n[steps."end wall south"]\ndone = true\n'


def windy_until(day, hours=96):
    """Make weather that is calm from a day on (0 = the first), windy before."""
    gust = np.where(np.arange(hours) < 24 * day, 12.0, 2.0)
    return weather(
        hours, wind_gust=gust, wind_speed=np.where(gust > 5, 6.0, 0.8), cloud_cover=100.0
    )


def test_calm_today_is_go(tmp_path):
    """A roof window today with nothing before it: go, and no need to look again."""
    plan = make_plan(job(tmp_path, DONE), windy_until(0))
    assert plan.decision.answer == "go"
    assert plan.decision.step == "roof sheet"
    assert plan.decision.window.start.date() == plan.now.date()


def test_calm_later_is_hold_until_the_evening_before(tmp_path):
    """Nothing today, calm the day after tomorrow: hold, look again on the eve."""
    plan = make_plan(job(tmp_path, DONE), windy_until(2))
    assert plan.decision.answer == "hold"
    look, start = plan.decision.look_again, plan.decision.window.start
    assert (start.date() - look.date()).days == 1
    assert plan.now < look < start


def test_windy_throughout_is_no_go(tmp_path):
    """No window in the file: no-go, with the limit that binds."""
    plan = make_plan(job(tmp_path, DONE), windy_until(4))
    assert plan.decision.answer == "no-go"
    assert plan.steps[0].found.none_because.quantity in {"gust", "mean_wind"}


def test_missing_wind_is_no_data_and_never_a_go(tmp_path):
    """A file whose wind is blank says nothing, and that is what the plan says."""
    blank = np.full(96, np.nan)
    plan = make_plan(job(tmp_path, DONE), weather(96, wind_speed=blank, wind_gust=blank))
    assert plan.decision.answer == "no-data"


def test_the_roof_waits_for_the_end_walls(tmp_path):
    """No roof window starts before the best end-wall windows have ended."""
    plan = make_plan(job(tmp_path), windy_until(0))
    found = {here.step.name: here.found.windows for here in plan.steps}
    walls = max(found[name][0].end for name in ("end wall north", "end wall south"))
    assert all(window.earliest_start >= walls for window in found["roof sheet"])


def test_trim_waits_one_night(tmp_path):
    """Trim starts on a later day than the roof sheet ends.

    Common practice, no source: trim after the film has been through a cold night.
    """
    plan = make_plan(job(tmp_path, DONE), windy_until(0))
    found = {here.step.name: here.found.windows for here in plan.steps}
    assert found["trim"][0].start.date() > found["roof sheet"][0].end.date()


def test_done_steps_are_not_planned(tmp_path):
    """A finished step is left out."""
    plan = make_plan(job(tmp_path, DONE), windy_until(0))
    assert "end wall north" not in {here.step.name for here in plan.steps}


def test_nothing_before_now_nothing_after_the_last_day(tmp_path):
    """Past starts and starts after finish_by are not offered."""
    table = windy_until(0)
    now = table.times[30]
    last = dt.date(2026, 5, 6)
    the_job = replace(job(tmp_path, DONE), finish_by=last)
    plan = make_plan(the_job, table, now=now)
    for window in plan.steps[0].found.windows:
        assert window.earliest_start >= now
        assert window.latest_start.date() <= last


def test_only_one_day(tmp_path):
    """Asked for one day, the plan offers that day alone."""
    plan = make_plan(job(tmp_path, DONE), windy_until(0), on=dt.date(2026, 5, 6))
    starts = {window.start.date() for window in plan.steps[0].found.windows}
    assert starts == {dt.date(2026, 5, 6)}


def test_only_past_hours_are_refused(tmp_path):
    """A plan from after the file's end would be made of nothing."""
    table = windy_until(0)
    with pytest.raises(WeatherError, match="past"):
        make_plan(job(tmp_path), table, now=table.times[-1] + pd.Timedelta(hours=2))


def test_weather_of_another_place(tmp_path):
    """More than 200 km off is refused unless told; more than 20 km is noted."""
    near = replace(weather(), place=WeatherPlace(latitude=44.4, longitude=-91.4))
    away = replace(weather(), place=WeatherPlace(latitude=50.0, longitude=-91.4))
    assert "place-far" in {note.code for note in make_plan(job(tmp_path), near).notes}
    with pytest.raises(WeatherError, match=r"66\d km"):
        make_plan(job(tmp_path), away)
    assert make_plan(job(tmp_path), away, far=True).steps


def test_distance_of_one_degree(tmp_path):
    """One degree of latitude is 60 nautical miles, 111.2 km on a sphere of 6371 km."""
    place = job(tmp_path).place
    there = WeatherPlace(latitude=45.0, longitude=-91.4)
    assert distance(place, there) == pytest.approx(111.19, abs=0.01)


def test_the_deadline_after_the_file_is_noted(tmp_path):
    """A file that ends before the last day says so."""
    the_job = replace(job(tmp_path), finish_by=dt.date(2026, 6, 1))
    plan = make_plan(the_job, weather())
    assert "ends-before-finish" in {note.code for note in plan.notes}


def test_a_deadline_that_is_past(tmp_path):
    """After the last day there is nothing to wait for."""
    the_job = replace(job(tmp_path, DONE), finish_by=dt.date(2026, 5, 1))
    decision = make_plan(the_job, weather()).decision
    assert decision.answer == "no-go"
    assert decision.codes == ("past-finish",)


def test_more_people_never_make_it_worse(tmp_path):
    """With one more pair of hands no start is lost at the same pace of work per person."""
    from planner.hours.conditions import conditions_for
    from planner.hours.holds import starts_that_hold
    from planner.hours.house import with_steps
    from planner.hours.limits import limits_for

    gust = 3.0 + 2.0 * np.sin(np.arange(96) / 5.0)
    table = weather(96, wind_gust=gust, wind_speed=gust / 2, cloud_cover=100.0)
    held = []
    for people in (3, 4, 5, 6):
        the_job = job(tmp_path, DONE)
        the_job = with_steps(replace(the_job, crew=replace(the_job.crew, people=people)))
        [roof] = [step for step in the_job.steps if step.name == "roof sheet"]
        conditions = conditions_for(the_job, table)
        held.append(starts_that_hold(conditions, roof, limits_for(the_job, roof)).ok.sum())
    assert held == sorted(held)
    assert held[-1] > held[0]
