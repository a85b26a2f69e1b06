"""Predictors against loops written from their meaning, and against looking ahead."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.weather.miss.predictors import Known, around, hours_between, lead_hours, predictors
from tests.history.made_error import LONGITUDE, made_weather

NO = math.nan
HOURS = 30
ISSUED = pd.Timestamp("2030-05-01T10:30Z")

speeds = st.floats(0.0, 25.0) | st.just(NO)


def drawn(seed=1, hours=HOURS, **more):
    """A forecast of every column, with hours that it does not say."""
    random = np.random.default_rng(seed)
    columns = {
        "wind_gust": random.uniform(0.0, 15.0, hours),
        "wind_speed": random.uniform(0.0, 8.0, hours),
        "temp_air": random.uniform(-5.0, 30.0, hours),
        "temp_dew": random.uniform(-10.0, 15.0, hours),
        "precipitation": random.uniform(0.0, 3.0, hours) * (random.uniform(size=hours) < 0.5),
        "precipitation_probability": random.uniform(0.0, 100.0, hours),
        "cloud_cover": random.uniform(0.0, 100.0, hours),
        "wind_direction": random.uniform(0.0, 360.0, hours),
    }
    for column in columns.values():
        column[random.integers(1, hours - 1, 3)] = NO
    return made_weather(hours, **(columns | more))


def run_before(age: float, *, gust: float = 0.0, hours: int = 120, issued=ISSUED, **more):
    """A forecast issued some hours before, of one gust throughout."""
    then = issued - pd.Timedelta(hours=age)
    columns = {"wind_gust": gust, "wind_speed": 1.0, "temp_air": 10.0, "precipitation": 0.0}
    return made_weather(hours, first=then.floor("h"), issued=then, **(columns | more))


def forecast(hours=48, **more):
    columns = {"wind_gust": 4.0, "wind_speed": 2.0, "temp_air": 12.0, "precipitation": 0.0}
    return made_weather(hours, first=ISSUED.floor("h"), issued=ISSUED, **(columns | more))


def found_of(weather, known=None):
    return predictors(weather, known or Known(), longitude=LONGITUDE)


def mean_around(values, hours):
    """Mean of what is known from some hours before to some after, ends said again."""
    found = []
    for at in range(len(values)):
        near = [
            values[min(max(x, 0), len(values) - 1)] for x in range(at - hours, at + hours + 1)
        ]
        near = [x for x in near if not math.isnan(x)]
        found.append(sum(near) / len(near) if near else NO)
    return found


def beside(values, at, step):
    """The value a step away, the hour's own where there is none or it is not known."""
    other = values[at + step] if 0 <= at + step < len(values) else values[at]
    return values[at] if math.isnan(other) else other


def expect(found, name, wanted):
    np.testing.assert_allclose(found[name], wanted, rtol=1e-9, atol=1e-9, err_msg=name)


def test_hours_ahead():
    """From the issue on, nought before it; without an issue from the first hour."""
    weather = made_weather(4, first="2030-05-01T10:00Z", issued="2030-05-01T11:15Z")
    assert lead_hours(weather).tolist() == [0.0, 0.0, 0.75, 1.75]
    never = dataclasses.replace(weather, issued=None)
    assert lead_hours(never).tolist() == [0.0, 1.0, 2.0, 3.0]
    assert hours_between(ISSUED, weather.times[:2]).tolist() == [-0.5, 0.5]


@settings(deadline=None)
@given(values=st.lists(speeds, min_size=1, max_size=20), hours=st.integers(0, 8))
def test_around_is_a_mean_over_neighbours(values, hours):
    """NaN is left out, the ends count again; NaN where all are."""
    np.testing.assert_allclose(
        around(np.array(values), hours), mean_around(values, hours), atol=1e-9
    )


def test_units():
    """Square roots of speeds, log(1 + 10 mm), tens of degrees, shares."""
    weather = made_weather(
        2,
        wind_gust=[9.0, 0.0],
        wind_speed=[4.0, 1.0],
        temp_air=[20.0, -5.0],
        temp_dew=[12.0, -9.0],
        precipitation=[0.0, 2.4],
        precipitation_probability=[35.0, 100.0],
        cloud_cover=[75.0, 0.0],
        wind_direction=[90.0, 180.0],
    )
    found = found_of(weather)
    for name, wanted in {
        "one": [1.0, 1.0],
        "gust": [3.0, 0.0],
        "gust_squared": [9.0, 0.0],
        "wind": [2.0, 1.0],
        "wind_squared": [4.0, 1.0],
        "air": [2.0, -0.5],
        "air_squared": [4.0, 0.25],
        "dew": [1.2, -0.9],
        "dew_gap": [0.8, 0.4],
        "rain": [0.0, math.log(25.0)],
        "rain_chance": [0.35, 1.0],
        "cloud": [0.75, 0.0],
        "from_east": [1.0, 0.0],
        "from_north": [0.0, -1.0],
        "wind_from_east": [4.0, 0.0],
        "wind_from_north": [0.0, -1.0],
    }.items():
        expect(found, name, wanted)


def test_hours_around_against_loops():
    """The hour before, the hour after, how steep, and means of 5, 7, 13, 17 and 25 hours."""
    weather = drawn()
    found = found_of(weather)
    column = {name: weather.values[name][0].tolist() for name in weather.values}
    for name, speed in (("gust", column["wind_gust"]), ("wind", column["wind_speed"])):
        root = [math.sqrt(x) for x in speed]
        before = [beside(root, at, -1) for at in range(HOURS)]
        after = [beside(root, at, 1) for at in range(HOURS)]
        steep = [abs(a - b) for a, b in zip(before, after, strict=True)]
        expect(found, f"{name}_hour_before", before)
        expect(found, f"{name}_hour_after", after)
        expect(found, f"{name}_steep", steep)
        expect(found, f"{name}_5h", mean_around(root, 2))
        expect(found, f"{name}_13h", mean_around(root, 6))
    expect(found, "air_25h", [x / 10 for x in mean_around(column["temp_air"], 12)])
    expect(found, "cloud_5h", [x / 100 for x in mean_around(column["cloud_cover"], 2)])
    mm = column["precipitation"]
    for name, hours in (("rain_7h", 3), ("rain_17h", 8)):
        expect(found, name, [math.log1p(10 * x) for x in mean_around(mm, hours)])
    wet = [math.log1p(10 * x) for x in mm]
    most = [np.fmax(beside(wet, at, -1), beside(wet, at, 1)) for at in range(HOURS)]
    expect(found, "rain_beside", most)


def test_the_hour_of_the_day_is_the_suns():
    """At 90 W the sun's noon is 18 UTC; the middle of an hour counts."""
    weather = made_weather(24, wind_gust=4.0, wind_speed=2.0)
    found = predictors(weather, Known(), longitude=-90.0)
    for at in range(24):
        hour = (at + 0.5 - 6.0) / 24.0
        assert found["day_cos"][at] == pytest.approx(math.cos(2 * math.pi * hour))
        assert found["day_sin"][at] == pytest.approx(math.sin(2 * math.pi * hour))
        assert found["half_day_cos"][at] == pytest.approx(math.cos(4 * math.pi * hour))
        assert found["gust_day_cos"][at] == pytest.approx(2.0 * math.cos(2 * math.pi * hour))
    assert set(np.argsort(found["day_cos"])[:2]) == {17, 18}  # the two about noon
    july, january = (
        predictors(made_weather(1, first=f"2030-{day}"), Known(), longitude=0.0)["season_cos"]
        for day in ("07-02", "01-01")
    )
    assert january[0] == pytest.approx(1.0, abs=0.001)
    assert july[0] == pytest.approx(-1.0, abs=0.001)


def test_what_is_not_said_is_nan_there_and_nowhere_else():
    """One hour without a gust: neighbours take their own or a mean of what is known."""
    gust = np.array([4.0, 9.0, NO, 16.0, 25.0])
    found = found_of(made_weather(5, wind_gust=gust, wind_speed=2.0, temp_air=10.0))
    for name in ("gust", "gust_squared", "gust_day_cos"):
        assert np.isnan(found[name]).tolist() == [False, False, True, False, False]
    expect(found, "gust_hour_before", [2.0, 2.0, 3.0, 4.0, 4.0])
    expect(found, "gust_hour_after", [3.0, 3.0, 4.0, 5.0, 5.0])
    expect(found, "gust_5h", [2.25, 2.75, 3.5, 4.25, 4.75])
    assert np.isfinite(found["wind"]).all()


def test_a_column_that_is_not_there_is_nan_throughout():
    """Without a gust or rain all that hangs on them is NaN, the rest is not."""
    found = found_of(made_weather(6, wind_speed=2.0, temp_air=10.0))
    missing = {name for name, column in found.items() if np.isnan(column).all()}
    assert {"gust", "gust_5h", "before_gust", "rain", "rain_7h", "cloud", "dew"} <= missing
    assert {"one", "wind", "wind_5h", "air", "before_wind", "day_cos"}.isdisjoint(missing)
    assert all(np.isfinite(found[name]).all() for name in set(found) - missing)


@settings(max_examples=20, deadline=None)
@given(
    ages=st.lists(st.integers(-12, 70), max_size=8, unique=True),
    order=st.randoms(use_true_random=False),
)
def test_earlier_runs_are_chosen_by_age(ages, order):
    """The newest of 5 to 30 h; then the newest of 18 to 54 h that is older than that one."""
    runs = [run_before(age, gust=(age + 20.0) ** 2) for age in ages]
    order.shuffle(runs)
    found = found_of(forecast(), Known(earlier=runs))
    before = min((age for age in ages if 5 <= age <= 30), default=None)
    older = [age for age in ages if 18 <= age <= 54 and (before is None or age > before)]
    said = 2.0 if before is None else before + 20.0
    second = min(older, default=None)
    expect(found, "before_gust", np.full(48, said))
    expect(found, "second_gust", np.full(48, said if second is None else second + 20.0))
    expect(found, "gust_change", np.full(48, abs(2.0 - said)))


@pytest.mark.parametrize(
    ("ages", "before", "second"),
    [
        ((4.9, 5.0), 5.0, None),
        ((30.0, 30.1), 30.0, 30.1),
        ((17.9, 18.0), 17.9, 18.0),
        ((5.0, 17.9), 5.0, None),
        ((6.0, 54.0), 6.0, 54.0),
        ((6.0, 54.1), 6.0, None),
        ((40.0, 50.0), None, 40.0),
    ],
)
def test_the_bounds_of_ages_belong_to_them(ages, before, second):
    """From 5 to 30 h and from 18 to 54 h."""
    found = found_of(forecast(), Known(earlier=[run_before(x, gust=x**2) for x in ages]))
    said = 2.0 if before is None else before
    assert found["before_gust"][0] == pytest.approx(said)
    assert found["second_gust"][0] == pytest.approx(said if second is None else second)


def test_hours_that_the_run_before_does_not_reach_count_as_this_ones():
    """It ends after 20 hours, of which 12 are past; air and rain alike."""
    earlier = run_before(12, gust=9.0, hours=20, temp_air=5.0, precipitation=1.0)
    found = found_of(forecast(), Known(earlier=[earlier]))
    expect(found, "before_gust", [3.0] * 8 + [2.0] * 40)
    expect(found, "before_air", [0.5] * 8 + [1.2] * 40)
    expect(found, "air_change", [0.7] * 8 + [0.0] * 40)
    expect(found, "before_rain", [math.log(11.0)] * 8 + [0.0] * 40)
    expect(found, "before_gust_5h", mean_around([3.0] * 8 + [2.0] * 40, 2))
    rain = [math.log1p(10 * x) for x in mean_around([1.0] * 8 + [0.0] * 40, 2)]
    expect(found, "before_rain_5h", rain)


def test_without_an_issue_time_no_run_is_before():
    """On either side."""
    earlier = run_before(12, gust=9.0)
    seen = made_weather(48, first="2030-04-30", kind="observed", wind_gust=1.0, wind_speed=1.0)
    never = dataclasses.replace(forecast(), issued=None)
    nameless = dataclasses.replace(earlier, issued=None)
    for weather, run in ((never, earlier), (forecast(), nameless)):
        found = found_of(weather, Known(earlier=[run], seen=seen))
        expect(found, "before_gust", np.full(48, 2.0))
        expect(found, "last_gust_error", np.zeros(48))


def test_the_last_error_is_truth_less_the_run_before():
    """Mean of the six whole hours before the issue, of the last two; both fade with the lead.

    In the third of the six nothing was seen: it counts as no error.
    """
    gust = np.full(24, 1.0)
    gust[4:10] = [4.0, 9.0, NO, 16.0, 25.0, 36.0]  # 04:00 to 09:00, the issue at 10:30 is next
    seen = made_weather(24, kind="observed", wind_gust=gust, wind_speed=4.0, temp_air=13.0)
    known = Known(earlier=[run_before(12, gust=4.0)], seen=seen)
    found, lead = found_of(forecast(), known), lead_hours(forecast())
    six = [2.0 - 2.0, 3.0 - 2.0, 0.0, 4.0 - 2.0, 5.0 - 2.0, 6.0 - 2.0]
    expect(found, "last_gust_error", sum(six) / 6 * np.exp(-lead / 12))
    expect(found, "newest_gust_error", (3.0 + 4.0) / 2 * np.exp(-lead / 3))
    expect(found, "last_wind_error", np.exp(-lead / 12))
    expect(found, "last_air_error", 3.0 * np.exp(-lead / 24))


@settings(max_examples=20, deadline=None)
@given(
    after=st.lists(speeds, min_size=38, max_size=38),
    later=st.lists(st.integers(-48, 0), max_size=3),
)
def test_nothing_after_the_issue_is_looked_at(after, later):
    """Not what was seen from the hour of the issue on, nor runs of the issue or later."""
    gust = np.linspace(2.0, 9.0, 48)
    plain = {"kind": "observed", "wind_speed": 1.0, "temp_air": 8.0}
    seen = made_weather(48, wind_gust=gust, **plain)
    leak = gust.copy()
    leak[10:] = after  # 10:00 is the hour of the issue
    other = made_weather(48, wind_gust=leak, **plain)
    runs = [run_before(12, gust=4.0)]
    once = found_of(forecast(), Known(earlier=runs, seen=seen))
    assert once["last_gust_error"][0] != 0.0
    more = [run_before(age, gust=100.0) for age in later]
    again = found_of(forecast(), Known(earlier=[*more, *runs], seen=other))
    assert once.keys() == again.keys()
    for name in once:
        np.testing.assert_array_equal(once[name], again[name], err_msg=name)


def test_of_an_ensemble_the_mean_counts():
    """Of the members that say anything; NaN where none does."""
    weather = made_weather(
        3, kind="ensemble", wind_gust=[[4.0, NO, NO], [14.0, 9.0, NO]], wind_speed=2.0
    )
    expect(found_of(weather), "gust", [3.0, 3.0, NO])
    expect(found_of(weather), "wind", [math.sqrt(2.0)] * 3)


def test_the_mean_direction_of_an_ensemble_is_on_the_circle():
    """350 and 10 degrees are north, not south."""
    weather = made_weather(1, kind="ensemble", wind_direction=[[350], [10]], wind_speed=2.0)
    found = found_of(weather)
    assert found["from_north"][0] == pytest.approx(math.cos(math.radians(10.0)), abs=0.05)
    assert found["from_east"][0] == pytest.approx(0.0, abs=0.05)
