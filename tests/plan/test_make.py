"""One job and one weather in, one plan out."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.plan.make import make_plan
from planner.plan.place_check import distance
from planner.weather.table import Note, WeatherPlace
from tests.hours.made import job, weather

DONE = '[steps."end wall north"]\ndone = true\n[steps."end wall south"]\ndone = true\n'


def certain(the_job, table, **asked):
    """Plan with the weather as it comes, as one certain weather."""
    return make_plan(the_job, table, error=None, **asked)


def windy_until(day, hours=96):
    """Make weather that is calm from a day on (0 = the first), windy before."""
    gust = np.where(np.arange(hours) < 24 * day, 12.0, 2.0)
    return weather(
        hours, wind_gust=gust, wind_speed=np.where(gust > 5, 6.0, 0.8), cloud_cover=100.0
    )


def test_calm_today_is_go(tmp_path):
    """A roof window today with nothing before it: go, and no need to look again."""
    plan = certain(job(tmp_path, DONE), windy_until(0))
    assert plan.decision.answer == "go"
    assert plan.decision.step == "roof sheet"
    assert plan.decision.window.start.date() == plan.now.date()


def test_calm_later_is_hold_until_the_evening_before(tmp_path):
    """Nothing today, calm the day after tomorrow: hold, look again on the eve."""
    plan = certain(job(tmp_path, DONE), windy_until(2))
    assert plan.decision.answer == "hold"
    look, start = plan.decision.look_again, plan.decision.window.start
    assert (start.date() - look.date()).days == 1
    assert plan.now < look < start


def test_windy_throughout_is_no_go(tmp_path):
    """No window in the file: no-go, with the limit that binds."""
    plan = certain(job(tmp_path, DONE), windy_until(4))
    assert plan.decision.answer == "no-go"
    assert plan.steps[0].found.none_because.quantity in {"gust", "mean_wind"}


def test_missing_wind_is_no_data_and_never_a_go(tmp_path):
    """A file whose wind is blank says nothing, and that is what the plan says."""
    blank = np.full(96, np.nan)
    plan = certain(job(tmp_path, DONE), weather(96, wind_speed=blank, wind_gust=blank))
    assert plan.decision.answer == "no-data"


def test_the_roof_waits_for_the_end_walls(tmp_path):
    """No roof window starts before the best end-wall windows have ended."""
    plan = certain(job(tmp_path), windy_until(0))
    found = {here.step.name: here.found.windows for here in plan.steps}
    walls = max(found[name][0].end for name in ("end wall north", "end wall south"))
    assert all(window.earliest_start >= walls for window in found["roof sheet"])


def test_trim_waits_one_night(tmp_path):
    """Trim starts on a later day than the roof sheet ends.

    Common practice, no source: trim after the film has been through a cold night.
    """
    plan = certain(job(tmp_path, DONE), windy_until(0))
    found = {here.step.name: here.found.windows for here in plan.steps}
    assert found["trim"][0].start.date() > found["roof sheet"][0].end.date()


def test_done_steps_are_not_planned(tmp_path):
    """A finished step is left out."""
    plan = certain(job(tmp_path, DONE), windy_until(0))
    assert "end wall north" not in {here.step.name for here in plan.steps}


def test_nothing_before_now_nothing_after_the_last_day(tmp_path):
    """Past starts and starts after finish_by are not offered."""
    table = windy_until(0)
    now = table.times[30]
    last = dt.date(2026, 5, 6)
    the_job = replace(job(tmp_path, DONE), finish_by=last)
    plan = certain(the_job, table, now=now)
    for window in plan.steps[0].found.windows:
        assert window.earliest_start >= now
        assert window.latest_start.date() <= last


def test_only_one_day(tmp_path):
    """Asked for one day, the plan offers that day alone."""
    plan = certain(job(tmp_path, DONE), windy_until(0), on=dt.date(2026, 5, 6))
    starts = {window.start.date() for window in plan.steps[0].found.windows}
    assert starts == {dt.date(2026, 5, 6)}


def test_only_past_hours_are_refused(tmp_path):
    """A plan from after the file's end would be made of nothing."""
    table = windy_until(0)
    with pytest.raises(WeatherError, match="past"):
        certain(job(tmp_path), table, now=table.times[-1] + pd.Timedelta(hours=2))


def test_weather_of_another_place(tmp_path):
    """More than 200 km off is refused unless told; more than 20 km is noted."""
    near = replace(weather(), place=WeatherPlace(latitude=44.4, longitude=-91.4))
    away = replace(weather(), place=WeatherPlace(latitude=50.0, longitude=-91.4))
    assert "place-far" in {note.code for note in certain(job(tmp_path), near).notes}
    with pytest.raises(WeatherError, match=r"66\d km"):
        certain(job(tmp_path), away)
    assert certain(job(tmp_path), away, far=True).steps


def test_distance_of_one_degree(tmp_path):
    """One degree of latitude is 60 nautical miles, 111.2 km on a sphere of 6371 km."""
    place = job(tmp_path).place
    there = WeatherPlace(latitude=45.0, longitude=-91.4)
    assert distance(place, there) == pytest.approx(111.19, abs=0.01)


def test_the_deadline_after_the_file_is_noted(tmp_path):
    """A file that ends before the last day says so."""
    the_job = replace(job(tmp_path), finish_by=dt.date(2026, 6, 1))
    plan = certain(the_job, weather())
    assert "ends-before-finish" in {note.code for note in plan.notes}


def test_a_deadline_that_is_past(tmp_path):
    """After the last day there is nothing to wait for."""
    the_job = replace(job(tmp_path, DONE), finish_by=dt.date(2026, 5, 1))
    decision = certain(the_job, weather()).decision
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


def codes(plan):
    """Give the codes of a plan's notes."""
    return {note.code for note in plan.notes}


def test_missing_humidity_is_never_a_go(tmp_path):
    """Without dew point or humidity, heat and wet film are not judged: no go, and it is said.

    Switched off by the user, the rest is judged.
    """
    dry = windy_until(0)
    dry = replace(dry, values={k: v for k, v in dry.values.items() if k != "temp_dew"})
    dry = replace(dry, origin=dry.origin | {"temp_dew": "missing"})
    plan = certain(job(tmp_path, DONE), dry)
    assert plan.decision.answer == "no-data"
    assert "no-humidity" in codes(plan)
    off = '[limits]\nwet = "off"\nheat = "off"\nfilm = "off"\nfilm_swing = "off"\n'
    plan = certain(job(tmp_path, DONE + off), dry)
    assert plan.decision.answer == "go"
    assert "limits-off" in codes(plan)


def test_a_low_chance_is_never_a_go(tmp_path):
    """Three calm weathers of twenty, the others windy: listed, but not a go."""
    calm, wild = windy_until(0), windy_until(4)
    values = {
        name: np.vstack([calm.values[name]] * 3 + [wild.values[name]] * 17)
        for name in calm.values
    }
    many = replace(calm, values=values, weights=np.full(20, 0.05), kind="ensemble")
    decision = certain(job(tmp_path, DONE), many).decision
    assert decision.answer == "hold"
    assert "low-chance" in decision.codes


def test_an_old_forecast_is_noted_and_then_no_go(tmp_path):
    """Half a day old: noted; two days old: no go on it."""
    table = windy_until(0)
    half_a_day = certain(job(tmp_path, DONE), table, now=table.times[14])
    assert "forecast-old" in codes(half_a_day)
    old = certain(job(tmp_path, DONE), table, now=table.times[50])
    assert old.decision.answer == "hold"
    assert "old-forecast" in old.decision.codes


def test_a_storm_after_the_work_makes_no_go(tmp_path):
    """What is up must stand the night: a gust above the leave gust within a day holds it."""
    gust = np.where(np.arange(96) < 20, 2.0, 30.0)
    storm = weather(
        96, wind_gust=gust, wind_speed=np.where(gust > 5, 15.0, 0.8), cloud_cover=100.0
    )
    decision = certain(job(tmp_path, DONE), storm).decision
    assert decision.answer == "hold"
    assert "leave-gust" in decision.codes


def test_end_walls_whose_last_hours_are_today_come_first(tmp_path):
    """The roof can wait for a calmer day, the walls cannot: go for the walls today."""
    gust = np.full(96, 2.0)
    gust[12:72] = 12.0
    gust[:12] = 3.4
    mean = np.where(gust > 5, 6.0, 0.8)
    table = weather(96, wind_gust=gust, wind_speed=mean, cloud_cover=100.0)
    hard = '[limits."roof sheet"]\ngust = "3.0 m/s"\n'
    decision = certain(job(tmp_path, hard), table).decision
    assert decision.answer == "go"
    assert decision.step.startswith("end wall")


def test_a_day_that_the_file_does_not_cover(tmp_path):
    """Asked for a day outside the file, the plan says which days it has."""
    with pytest.raises(WeatherError, match="2026-05-04 to"):
        certain(job(tmp_path), windy_until(0), on=dt.date(2026, 6, 1))


def test_one_person_does_not_hang_two_walls_at_once(tmp_path):
    """With hands for one wall at a time the second waits for the first."""
    from planner.hours.house import with_steps

    small = job(tmp_path)
    small = with_steps(replace(small, crew=replace(small.crew, people=2)))
    steps = certain(small, windy_until(0)).steps
    found = {here.step.name: here.found.windows for here in steps}
    north, south = found["end wall north"], found["end wall south"]
    assert min(w.earliest_start for w in south) >= min(w.end for w in north)


@pytest.mark.parametrize(("day", "says"), [("2026-05-03", "past"), ("2026-05-07", "last day")])
def test_a_day_on_which_nothing_can_start(tmp_path, day, says):
    """A day before now, or after the last day of the job, is refused in words."""
    from planner.errors import PlannerError

    the_job = replace(job(tmp_path, DONE), finish_by=dt.date(2026, 5, 6))
    table = windy_until(0)
    earlier = replace(table, times=table.times - pd.Timedelta(days=1))
    with pytest.raises(PlannerError, match=says):
        certain(the_job, earlier, now=earlier.times[30], on=dt.date.fromisoformat(day))


def test_hold_always_says_when_to_look_again(tmp_path):
    """On the eve after the evening call the next look is at the first start."""
    table = windy_until(1)
    for hour in range(24):
        decision = certain(job(tmp_path, DONE), table, now=table.times[hour]).decision
        assert decision.answer == "hold"
        assert decision.look_again > table.times[hour]
        assert decision.look_again <= decision.window.earliest_start


def test_a_plan_says_until_when_it_may_be_used(tmp_path):
    """Twelve hours from issue, then to the day's end; no record and no example is gone by."""
    table, the_job = windy_until(0), job(tmp_path, DONE)
    hours = pd.Timedelta(hours=1)
    for late, until in ((0, 12), (11, 12), (12, 24), (30, 36), (40, 36)):  # from midnight
        plan = certain(the_job, table, now=table.issued + late * hours)
        assert plan.use_until == table.issued + until * hours
    short = table.between(table.issued, table.issued + 9 * hours)
    assert certain(the_job, short).use_until == table.issued + 9 * hours
    assert certain(the_job, replace(table, kind="observed")).use_until is None
    example = (Note(code="example", text="Invented."),)
    assert certain(the_job, replace(table, notes=example)).use_until is None


def test_a_forecast_of_unknown_age_is_not_taken_as_newer_than_now(tmp_path):
    """Its first hour lies ahead: planned from now, it is a forecast of now at best."""
    table = replace(windy_until(0), issued_from="first hour")
    now = table.times[0] - pd.Timedelta(hours=50)
    plan = certain(job(tmp_path, DONE), table, now=now)
    assert plan.weather.issued == now
    assert plan.decision.answer == "hold"
    assert plan.decision.window.start >= table.times[0]


def test_a_forecast_dated_after_now_is_doubted(tmp_path):
    """A stated time of issue stays, and the reader is told to check it."""
    table = windy_until(0)
    plan = certain(job(tmp_path, DONE), table, now=table.issued - pd.Timedelta(hours=3))
    assert "forecast-ahead" in {x.code for x in plan.notes if x.doubt}
    assert plan.decision.answer != "go"


def test_too_few_people_are_told_how_many_it_takes(tmp_path):
    """One person holds no roof sheet; the fewest with a window are named, and have one."""
    alone = job(tmp_path, DONE.replace("[steps", "[steps"))
    alone = replace(alone, crew=replace(alone.crew, people=1))
    plan = certain(alone, windy_until(0))
    assert plan.decision.answer == "no-go"
    [change] = plan.decision.would_change
    assert change.what == "people"
    enough = replace(alone, crew=replace(alone.crew, people=change.to))
    assert certain(enough, windy_until(0)).decision.window is not None
    less = replace(alone, crew=replace(alone.crew, people=change.to - 1))
    assert certain(less, windy_until(0)).decision.window is None
