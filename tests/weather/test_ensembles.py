"""Ensembles widened to possible weathers: no member lost, no spread below an honest one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.errors import WeatherError
from planner.weather.miss.members import make_members
from tests.history.made_error import log_variance, made_error, made_weather, quantity

NO = math.nan
FAR_OFF = 4.5  # standard errors: once in 150,000 numbers


def ensemble(members=20, hours=12, *, spread=0.3, seed=1, **more):
    """Members about a steady gust, with a spread in square roots of speed."""
    random = np.random.default_rng(seed)
    away = random.normal(size=(members, hours))
    away = (away - away.mean(axis=0)) / away.std(axis=0)
    columns = {
        "wind_gust": (6.0 + spread * away) ** 2,
        "wind_speed": (3.0 + spread * away) ** 2,
        "temp_air": 12.0 + 5.0 * spread * away,
        "precipitation": 0.0,
    }
    return made_weather(hours, kind="ensemble", **(columns | more))


@pytest.mark.parametrize("own", [0.05, 0.3, 0.8])
@pytest.mark.parametrize("table", [0.1, 0.3, 0.6])
def test_an_ensemble_is_widened_to_an_honest_spread(own, table):
    """To the table's where its own is less, else not at all."""
    error = made_error(
        gust=quantity({"gust": 1}, {"one": log_variance(table)}),
        wind=quantity({"wind": 1}, {"one": log_variance(table)}),
        temp=quantity({"air": 10}, {"one": log_variance(5.0 * table)}),
    )
    weather = ensemble(spread=own)
    count = 4_000
    drawn = make_members(weather, error, count=count, seed=2).values
    wanted = max(own, table)
    off = FAR_OFF * wanted / math.sqrt(2.0 * count)
    for roots in (np.sqrt(drawn["wind_gust"]), np.sqrt(drawn["wind_speed"])):
        assert roots.std(axis=0) == pytest.approx(np.full(12, wanted), abs=off)
    air = drawn["temp_air"].std(axis=0)
    assert air == pytest.approx(np.full(12, 5.0 * wanted), abs=5.0 * off)


def test_a_wide_ensemble_keeps_its_members():
    """Nothing is added: each weather is a member, shifted as the table says, dealt in turn."""
    weather = ensemble(5, spread=0.8)
    drawn = make_members(weather, made_error(), count=12).values["wind_gust"]
    roots = np.sqrt(weather.values["wind_gust"])
    shift = np.sqrt(weather.values["wind_gust"].mean(axis=0)) - roots.mean(axis=0)
    for row in range(12):
        np.testing.assert_allclose(np.sqrt(drawn[row]), roots[row % 5] + shift, rtol=1e-9)


def test_other_columns_of_an_ensemble_go_with_their_member():
    """Cloud of the third member with the wind of the third."""
    cloud = np.arange(5.0)[:, None] * np.ones(12)
    drawn = make_members(ensemble(5, cloud_cover=cloud), made_error(), count=12)
    assert drawn.values["cloud_cover"][:, 0].tolist() == [x % 5 for x in range(12)]


def test_an_ensemble_with_dew_points():
    """Each a row of its own, going down with colder air and never up."""
    dew = np.linspace(2.0, 6.0, 5)[:, None] * np.ones(12)
    drawn = make_members(ensemble(5, temp_dew=dew), made_error(), count=12).values
    assert drawn["temp_dew"].shape == (12, 12)
    assert (drawn["temp_dew"] <= dew[np.arange(12) % 5] + 1e-9).all()


def test_an_uneven_ensemble_is_refused():
    """The column, the hour and how many lack it are named."""
    gust = ensemble(5).values["wind_gust"].copy()
    gust[1:3, 7] = NO
    with pytest.raises(WeatherError) as caught:
        make_members(ensemble(5, wind_gust=gust), made_error(), count=10)
    assert caught.value.key == "wind_gust"
    assert "2 of 5 members" in caught.value.message
    assert "07:00" in caught.value.message
    assert caught.value.fix


def test_an_hour_that_no_member_has_is_no_data():
    """Not refused: it stays NaN in all of them, and only it."""
    gust = ensemble(5).values["wind_gust"].copy()
    gust[:, 7] = NO
    drawn = make_members(ensemble(5, wind_gust=gust), made_error(), count=10).values
    assert np.isnan(drawn["wind_gust"]).all(axis=0).tolist() == [x == 7 for x in range(12)]


def test_as_many_as_asked_for_of_equal_weight_from_an_ensemble_too():
    """Whatever its own number and weights."""
    weather = ensemble(5)
    drawn = make_members(weather, made_error(), count=12)
    assert (weather.members, drawn.members) == (5, 12)
    assert drawn.weights.tolist() == [1 / 12] * 12
