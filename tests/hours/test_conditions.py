"""Conditions: blanks filled and marked, unknown kept unknown, light and crew hours."""

import numpy as np
import pytest

from planner.hours.conditions import conditions_for
from planner.hours.limits import limits_for
from planner.hours.windows import find_windows
from tests.hours.made import changed, job, weather

NIGHT = 3  # hours after midnight, local


def test_a_blank_gust_is_filled_and_marked(tmp_path):
    """At a mean of 2 m/s a blank gust at an open site is about 3.7 m/s, never 2 or 0.

    Hourly records of open stations: 0.75 + 1.47 U on average.
    """
    gusts = np.full(48, 2.5)
    gusts[NIGHT] = np.nan
    conditions = conditions_for(job(tmp_path), weather(wind_speed=2.0, wind_gust=gusts))
    assert conditions.estimated["wind_gust"].sum() == 1
    assert conditions.values["gust"][0, NIGHT] == pytest.approx(3.69, abs=0.01)


def test_no_gust_column_at_all(tmp_path):
    """Every hour is estimated and every hour is marked."""
    conditions = conditions_for(job(tmp_path), weather(wind_gust=None))
    assert conditions.estimated["wind_gust"].all()


def test_a_missing_mean_stays_missing(tmp_path):
    """Without mean and gust the hour has no gust, and no start holds in it."""
    mean = np.full(48, 1.0)
    mean[10] = np.nan
    the_job = job(tmp_path)
    conditions = conditions_for(the_job, weather(wind_speed=mean, wind_gust=None))
    assert np.isnan(conditions.values["gust"][0, 10])
    step = the_job.steps[0]
    found = find_windows(conditions, step, limits_for(the_job, step))
    assert found.hours[10].chance == 0.0
    assert found.hours[10].reason.quantity == "no data"


def test_calm_sunny_noon_is_gusty_in_a_forecast_but_not_in_a_record(tmp_path):
    """Thermals are added where sun is strong and the mean low; a measured gust has them."""
    forecast = conditions_for(job(tmp_path), weather())
    record = conditions_for(job(tmp_path), weather(kind="observed"))
    assert forecast.values["gust"][0, 13] > 3.0
    assert record.values["gust"][0, 13] == 2.0
    assert forecast.values["gust"][0, NIGHT] == 2.0


def members(**columns):
    """Make an ensemble of two; numbers may be given by member."""
    table = weather()
    more = {
        name: np.broadcast_to(np.reshape(np.asarray(x, float), (-1, 1)), (len(x), 48)).copy()
        for name, x in columns.items()
    }
    return changed(
        table,
        values=dict(table.values) | more,
        weights=np.array([0.5, 0.5]),
        kind="ensemble",
        origin=dict(table.origin) | dict.fromkeys(columns, "given"),
    )


def test_the_members_of_an_ensemble_carry_puffs_and_rain_already(tmp_path):
    """Strong sun raises no gust of a member, and a chance of rain wets no dry one."""
    table = members(
        wind_gust=[2.0, 3.0], precipitation=[0.0, 1.0], precipitation_probability=[90.0]
    )
    values = conditions_for(job(tmp_path), table).values
    assert values["gust"][:, 13].tolist() == [2.0, 3.0]
    assert values["rain"][:, 13].tolist() == [0.0, 1.0]


def test_a_blank_gust_of_a_member_is_filled_from_its_own_mean(tmp_path):
    """0.75 + 1.47 U at an open site, for each member by itself, also in strong sun."""
    table = members(wind_gust=[np.nan, 3.0], wind_speed=[1.0, 2.0])
    conditions = conditions_for(job(tmp_path), table)
    assert conditions.values["gust"][:, 13].tolist() == pytest.approx([0.75 + 1.47, 3.0])
    assert not conditions.estimated["wind_gust"].any()
    blank = conditions_for(job(tmp_path), members(wind_gust=[np.nan, np.nan]))
    assert blank.estimated["wind_gust"].all()


def test_humidity_goes_with_the_air_of_each_member(tmp_path):
    """Where dew points have members, one humidity for all of them would not fit their air."""
    table = members(temp_dew=[5.0, 14.0], temp_air=[25.0, 25.0], relative_humidity=[50.0])
    heat = conditions_for(job(tmp_path), table).values["heat"][:, NIGHT]
    assert heat[1] > heat[0] + 1.0


def test_film_between_the_middles_of_hours(tmp_path):
    """By quarter hours film runs straight from one middle to the next, as numpy's interp."""
    air = 15.0 + 5.0 * np.sin(np.arange(48) / 3.0)
    values = conditions_for(job(tmp_path), weather(temp_air=air)).values
    expected = np.interp(np.arange(192) / 4.0, np.arange(48) + 0.5, values["temp_film"][0])
    assert values["film_swing"][0] == pytest.approx(expected)


def test_the_pace_is_one_unless_it_is_given(tmp_path):
    """One for each member."""
    table = members(wind_gust=[2.0, 3.0])
    assert conditions_for(job(tmp_path), table).pace.tolist() == [1.0, 1.0]
    given = conditions_for(job(tmp_path), table, pace=np.array([0.8, 1.2]))
    assert given.pace.tolist() == [0.8, 1.2]


@pytest.mark.parametrize(("chance", "falls"), [(0, False), (29, False), (30, True), (90, True)])
def test_likely_rain_counts_as_rain(tmp_path, chance, falls):
    """From a chance of 30 % on, the hour counts as wet even where the amount is nought."""
    conditions = conditions_for(job(tmp_path), weather(precipitation_probability=chance))
    assert (conditions.values["rain"][0, 0] > 0.1) == falls


def test_humidity_stands_in_for_dew_point(tmp_path):
    """The one is worked out from the other; without both, dew is not judged at all."""
    with_rh = conditions_for(job(tmp_path), weather(temp_dew=None, relative_humidity=50.0))
    without = conditions_for(job(tmp_path), weather(temp_dew=None))
    assert "wetness" in with_rh.values
    assert not {"wetness", "frost", "heat", "temp_film"} & set(without.values)


def test_work_light_by_quarter_hours(tmp_path):
    """Light left falls by 15 minutes a quarter hour and is negative by night."""
    conditions = conditions_for(job(tmp_path), weather())
    [left] = conditions.light_left.values()
    day = left > 0
    assert not day[: 4 * NIGHT].any()
    steps = np.diff(left)[day[1:] & day[:-1]]
    assert np.allclose(steps, -15.0)


def test_crew_hours_and_days_off(tmp_path):
    """Outside the hours of the crew, and on a day off, nobody is there."""
    hours = '[limits]\nlight = "off"\n'
    the_job = job(tmp_path, hours)
    from dataclasses import replace

    crew = replace(the_job.crew, start=8 * 60, stop=17 * 60, days_off=("Tuesday",))
    left = conditions_for(replace(the_job, crew=crew), weather()).crew_left
    assert left[8 * 4] == 9 * 60  # May 4 2026 is a Monday; the file starts at midnight
    assert (left[: 8 * 4] < 0).all()
    assert (left[24 * 4 :] < 0).all()


def test_polar_day_and_night_are_ordinary(tmp_path):
    """A sun that does not set gives light without end; one that does not rise gives none."""
    from dataclasses import replace

    the_job = job(tmp_path)
    north = replace(the_job.place, latitude=70.0, longitude=25.0, time_zone="Europe/Oslo")
    up = replace(the_job, place=north)
    [summer] = conditions_for(up, weather(first="2026-06-20T00:00Z")).light_left.values()
    [winter] = conditions_for(up, weather(first="2026-12-20T00:00Z")).light_left.values()
    assert (summer > 0).all()
    assert (winter <= 4 * 60).all()
    assert (winter < 0).any()


def test_only_what_is_wanted_is_worked_out(tmp_path):
    """A long record asks for few quantities and gets no more."""
    wanted = conditions_for(job(tmp_path), weather(), wanted={"rain"}).values
    assert set(wanted) == {"gust", "temp_air", "rain"}


def test_arrays_of_the_weather_are_read_only():
    """A table that was read cannot be changed behind the reader's back."""
    table = weather()
    with pytest.raises(ValueError, match="read-only"):
        table.values["wind_gust"][0, 0] = 0.0
