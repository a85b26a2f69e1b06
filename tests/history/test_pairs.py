"""Pairs of forecast and truth against loops over both."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.history.pairs import check_overlap, chosen, earlier_runs, gather, months
from planner.site.sun import morning_break_up
from planner.weather.miss.predictors import Known, predictors
from tests.history.made_error import LATITUDE, LONGITUDE, ZONE, made_archive, made_weather

NO = math.nan
FIRST = pd.Timestamp("2030-03-30T00:00Z")


def run(hour: float, *, hours=48, seed=1):
    """A forecast issued some hours after the first moment."""
    issued = FIRST + pd.Timedelta(hours=hour)
    random = np.random.default_rng(seed + int(hour))
    return made_weather(
        hours,
        first=issued.floor("h"),
        issued=issued,
        wind_gust=random.uniform(0.0, 15.0, hours),
        wind_speed=random.uniform(0.0, 7.0, hours),
        temp_air=random.uniform(0.0, 20.0, hours),
        precipitation=random.uniform(0.0, 1.0, hours),
    )


def seen(hours=100, *, first=FIRST, seed=9):
    random = np.random.default_rng(seed)
    gust = random.uniform(0.0, 15.0, hours)
    gust[30] = NO
    return made_weather(
        hours,
        first=first,
        kind="observed",
        wind_gust=gust,
        wind_speed=random.uniform(0.0, 7.0, hours),
        temp_air=random.uniform(0.0, 20.0, hours),
        precipitation=random.uniform(0.0, 1.0, hours),
    )


def gathered(runs, observed, **more):
    place = {"latitude": LATITUDE, "longitude": LONGITUDE, "time_zone": ZONE}
    return gather(made_archive(runs), observed, **place, **more)


def test_every_hour_stands_beside_what_came():
    """Looked up by its time, one by one; NaN beyond the observations and where they lack."""
    runs, observed = [run(0), run(12, hours=40), run(24.5), run(72)], seen()
    pairs = gathered(runs, observed)
    at = {time: i for i, time in enumerate(observed.times)}
    for name, column, root in (
        ("gust", "wind_gust", True),
        ("wind", "wind_speed", True),
        ("temp", "temp_air", False),
        ("rain", "precipitation", False),
    ):
        for row, weather in enumerate(runs):
            for hour in range(48):
                came = NO
                if hour < weather.hours and weather.times[hour] in at:
                    came = observed.values[column][0, at[weather.times[hour]]]
                wanted = math.sqrt(came) if root else came
                np.testing.assert_allclose(pairs.truth[name][row, hour], wanted)


def test_forecasts_shorter_than_the_longest_are_filled_with_nothing():
    """Leads and predictors NaN there, so that no fit sees them; no morning either."""
    pairs = gathered([run(0), run(24.5, hours=30)], seen())
    assert pairs.lead[0].tolist() == list(range(48))
    assert pairs.lead[1, :30].tolist() == [max(x - 0.5, 0.0) for x in range(30)]
    assert np.isnan(pairs.lead[1, 30:]).all()
    assert all(np.isnan(x[1, 30:]).all() for x in pairs.predictors.values())
    assert not pairs.breaks[1, 30:].any()
    assert not chosen(pairs)[1, 30:].any()
    assert chosen(pairs)[0].all()


def test_predictors_are_those_of_the_forecast_with_what_was_known_then():
    """The runs of two days before it and what was seen."""
    runs, observed = [run(0), run(12), run(24), run(90)], seen()
    pairs = gathered(runs, observed)
    for row, weather in enumerate(runs):
        known = Known(earlier=runs[:row], seen=observed)
        for name, column in predictors(weather, known, longitude=LONGITUDE).items():
            np.testing.assert_array_equal(pairs.predictors[name][row], column, err_msg=name)
    one = gathered(runs[:1], observed)
    alone = predictors(runs[0], Known(), longitude=LONGITUDE)
    assert alone.keys() == one.predictors.keys()
    for name, column in alone.items():
        np.testing.assert_array_equal(one.predictors[name][0], column, err_msg=name)
    assert not np.array_equal(pairs.predictors["before_gust"][2], pairs.predictors["gust"][2])


def test_mornings_are_those_of_each_hour():
    """One a day, in the same hours as on their own."""
    runs = [run(0), run(12)]
    pairs = gathered(runs, seen())
    for row, weather in enumerate(runs):
        alone = morning_break_up(weather.times, LATITUDE, LONGITUDE)
        assert alone.sum() == 2
        assert pairs.breaks[row].tolist() == alone.tolist()


def test_months_are_local_and_by_hour_and_issue():
    """Midnight in Chicago is 05 UTC in summer time; the last day of March reaches April."""
    moments = pd.DatetimeIndex(["2030-04-01T04:59Z", "2030-04-01T05:00Z", "2031-01-01T05:59Z"])
    assert months(moments, ZONE).tolist() == [12 * 2030 + 2, 12 * 2030 + 3, 12 * 2030 + 11]
    pairs = gathered([run(12), run(60)], seen())
    march, april = 12 * 2030 + 2, 12 * 2030 + 3
    assert pairs.issued.tolist() == [march, april]
    hours = [12 + x for x in range(48)]
    assert pairs.month[0].tolist() == [march if x < 53 else april for x in hours]


def test_a_month_left_out_is_left_out_by_hour_and_by_issue():
    """No hour of April, and no hour of a run of April."""
    pairs = gathered([run(12), run(60)], seen())
    march, april = 12 * 2030 + 2, 12 * 2030 + 3
    left = chosen(pairs, without=[april])
    assert left[0].tolist() == [x == march for x in pairs.month[0]]
    assert not left[1].any()
    assert not chosen(pairs, without=[march])[0].any()
    assert not chosen(pairs, without=[march, april]).any()


def test_earlier_runs_are_those_of_two_days_and_a_quarter():
    """Newest first, none of the same moment's later ones, none older than 54 h."""
    archive = made_archive([run(x) for x in (0, 5.9, 6, 12, 48, 60, 72)])
    found = [weather.issued for weather in earlier_runs(archive, 5)]
    assert found == [FIRST + pd.Timedelta(hours=x) for x in (48, 12, 6)]
    assert earlier_runs(archive, 0) == []


def test_progress_is_told():
    """Forecasts done, of how many."""
    told = []
    gathered([run(0), run(12)], seen(), progress=lambda *x: told.append(x))
    assert told == [(1, 2), (2, 2)]


@pytest.mark.parametrize("first", ["2029-11-01T00:00Z", "2030-05-01T00:00Z"])
def test_no_hour_in_common_is_refused_with_both_spans(first):
    """Before the forecasts or after them; one hour in common is enough."""
    archive = made_archive([run(0), run(24)])
    with pytest.raises(WeatherError) as caught:
        gather(
            archive,
            seen(first=first),
            latitude=LATITUDE,
            longitude=LONGITUDE,
            time_zone=ZONE,
        )
    assert "2030-03-30 to 2030-04-01" in caught.value.message
    assert first[:10] in caught.value.message
    assert caught.value.fix
    check_overlap(archive, seen(first="2030-04-01T23:00Z"))
    with pytest.raises(WeatherError):
        check_overlap(archive, seen(first="2030-04-02T00:00Z"))


def test_of_a_part_of_an_archive_only_its_own_hours_count():
    """Observations of forecasts that were cut away do not overlap what is left."""
    archive = made_archive([run(0), run(600)])
    part = archive.between(FIRST + pd.Timedelta(hours=500), FIRST + pd.Timedelta(hours=700))
    assert len(part) == 1
    with pytest.raises(WeatherError):
        check_overlap(part, seen(100))


def test_gusts_of_ten_minutes_teach_nothing_of_the_hour():
    """Airport gusts are told only when it was gusty: as truth they would flatter."""
    short = replace(seen(), gust_meaning="10-minute maximum")
    with pytest.raises(WeatherError, match="ten minutes"):
        gathered([run(6), run(12)], short)
    none = replace(short, origin=short.origin | {"wind_gust": "missing"})
    assert len(gathered([run(6), run(12)], none).lead) == 2
