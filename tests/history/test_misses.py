"""How far forecasts missed, counted again by joining the two tables."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.history.learn import learn
from planner.history.misses import (
    DAYS_AHEAD,
    check_quantities,
    forecasts_with_truth,
    misses,
)
from planner.history.pairs import gather
from planner.weather.archive import read_archive
from planner.weather.read import read_weather
from tests.history import made_archive as made

COLUMNS = {"gust": "wind_gust", "wind": "wind_speed", "temp": "temp_air"}


@pytest.fixture(scope="module")
def tables():
    return made.made_tables()


@pytest.fixture(scope="module")
def pairs(tables, tmp_path_factory):
    folder = tmp_path_factory.mktemp("made")
    archive = read_archive(made.write_table(tables[0], folder / "forecasts.csv"))
    came = read_weather(made.write_table(tables[1], folder / "came.csv"), kind="observed")
    return gather(
        archive,
        came,
        latitude=made.LATITUDE,
        longitude=made.LONGITUDE,
        time_zone=made.ZONE,
    )


@pytest.fixture(scope="module")
def error(pairs):
    return learn(pairs, name="made", source="made")


@pytest.mark.parametrize("which", COLUMNS)
def test_misses_are_those_of_a_join(tables, pairs, error, which):
    """Rows joined on their hour by pandas, square roots never taken."""
    forecasts, came = tables
    both = forecasts.merge(came, on="time", suffixes=("", "_came"))
    off = both[COLUMNS[which]] - both[f"{COLUMNS[which]}_came"]
    lead = (both["time"] - both["issued"]) / pd.Timedelta(hours=1)
    found = {x.days_ahead: x for x in misses(pairs, error) if x.quantity == which}
    assert tuple(found) == DAYS_AHEAD
    for days, miss in found.items():
        here = off[(lead - 24 * days).abs() < 12]
        assert miss.cases == len(here)
        if len(here):
            assert miss.as_it_comes == pytest.approx(math.sqrt((here**2).mean()), abs=1e-6)
            assert miss.too_high == pytest.approx(here.mean(), abs=1e-6)
        else:
            assert math.isnan(miss.as_it_comes + miss.after + miss.too_high + miss.lasts)


def test_what_is_left_of_the_air_is_what_theory_leaves(pairs, error):
    """Air of 2 K spread said with 1.5 K of noise: 1.2 K is left, whatever the forecast."""
    left = made.AIR_ERROR * 2.0 / math.hypot(made.AIR_ERROR, 2.0)
    for miss in misses(pairs, error):
        if miss.quantity == "temp" and miss.cases:
            assert miss.after == pytest.approx(left, rel=0.12)
            assert miss.too_high == pytest.approx(made.AIR_TOO_HIGH, abs=0.15)


def test_errors_last_as_long_as_the_noise_does(pairs, error):
    """Noise that keeps 0.6 an hour is down to half after ln 0.5 / ln 0.6 = 1.4 h."""
    half = math.log(0.5) / math.log(made.KEPT)
    [gust] = [x for x in misses(pairs, error) if (x.quantity, x.days_ahead) == ("gust", 1)]
    assert gust.lasts == pytest.approx(half, abs=0.35)


@pytest.mark.parametrize(("which", "word"), [("gust", "gust"), ("temp", "air temperature")])
def test_pairs_without_a_quantity_are_refused(pairs, which, word):
    """Neither a forecast nor a record without gusts teaches anything of gusts."""
    check_quantities(pairs)
    blank = {**pairs.truth, which: np.full_like(pairs.truth[which], np.nan)}
    with pytest.raises(WeatherError, match=word):
        check_quantities(replace(pairs, truth=blank))


def test_forecasts_are_counted_that_taught_something(tables, pairs):
    """Of the first four days of truth, those that were issued before the end of them."""
    assert forecasts_with_truth(pairs) == len(tables[0]["issued"].unique()) == 120
    early = (
        pairs.lead
        + 24.0 * np.repeat(np.arange(60), 2)[:, None]
        + np.tile(made.RUNS, 60)[:, None]
        < 96
    )
    truth = {name: np.where(early, came, np.nan) for name, came in pairs.truth.items()}
    assert forecasts_with_truth(replace(pairs, truth=truth)) == 8
