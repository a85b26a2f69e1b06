"""Learning from histories whose errors are known, invented and with a station's truth."""

from __future__ import annotations

import dataclasses
import math
import os
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.history.learn import LEADS, learn
from planner.history.pairs import Pairs, gather
from planner.history.scores import crps_members
from planner.weather.miss.forecast_error import ForecastError
from planner.weather.miss.members import make_members, rain_chance
from planner.weather.miss.predictors import Known
from planner.weather.read import read_weather
from planner.weather.table import Weather
from tests.history.made_error import (
    LATITUDE,
    LONGITUDE,
    ZONE,
    made_archive,
    made_error,
    made_weather,
    quantity,
)

SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[3] / "shared" / "weather")
).resolve()
RECORD = SHARED / "knmi_hourly" / "uurgeg_260_2021-2030.zip"

RUNS = 100
REACH, APART = 96, 72  # hours of a forecast, and between two: none is before another
KEPT = 0.6  # of the noise, from hour to hour
MEAN, SPREAD = 3.0, 0.5  # of the square root of the gust [(m/s)^0.5]
TOO_HIGH = 0.3  # of the forecast's square root [(m/s)^0.5]
ERROR = (0.2, 0.4)  # its error's spread at the issue and 96 h ahead [(m/s)^0.5]
AIR_SPREAD, AIR_ERROR, AIR_TOO_HIGH = 4.0, 1.5, 1.0  # [K]
RAIN_KNOWN = 0.8  # correlation of the forecast with the normal number behind rain
WET = 0.25  # share of wet hours
MARCH = 12 * 2030 + 2
NORMAL = NormalDist()
_below = np.vectorize(NORMAL.cdf, otypes=[float])


def noise(shape, rng, kept=KEPT) -> np.ndarray:
    """Normal noise of spread one along the last axis."""
    found = rng.normal(size=shape)
    for hour in range(1, shape[-1]):
        found[..., hour] *= math.sqrt(1.0 - kept**2)
        found[..., hour] += kept * found[..., hour - 1]
    return found


def forecasts(root, air, behind, *, runs: int, rng, too_high=TOO_HIGH, times) -> list[Weather]:
    """Forecasts of a truth: too high, with errors that grow with the lead.

    ``root`` square roots of gusts, ``air`` temperatures, ``behind`` the normal number that
    brings rain where it passes a mark.
    """
    shape = (runs, REACH)
    hours = (APART * np.arange(runs))[:, None] + np.arange(REACH)
    error = np.linspace(*ERROR, REACH) * noise(shape, rng)
    gust = np.maximum(root[hours] + too_high + error, 0.0) ** 2
    warm = air[hours] + AIR_TOO_HIGH + AIR_ERROR * noise(shape, rng)
    rest = math.sqrt(1.0 - RAIN_KNOWN**2)
    said = RAIN_KNOWN * behind[hours] + rest * noise(shape, rng)
    mark = NORMAL.inv_cdf(1.0 - WET)
    chance = 100.0 * _below((RAIN_KNOWN * said - mark) / rest)
    return [
        made_weather(
            REACH,
            first=times[hours[i, 0]],
            wind_gust=gust[i],
            wind_speed=0.25 * gust[i],
            temp_air=warm[i],
            precipitation=np.where(said[i] > mark, 0.5, 0.0),
            precipitation_probability=chance[i],
        )
        for i in range(runs)
    ]


def observed(root, air, behind, times) -> Weather:
    return made_weather(
        len(times),
        first=times[0],
        kind="observed",
        wind_gust=root**2,
        wind_speed=0.25 * root**2,
        temp_air=air,
        precipitation=np.where(behind > NORMAL.inv_cdf(1.0 - WET), 0.5, 0.0),
    )


def invented(runs: int, seed: int, **more) -> tuple[list[Weather], Weather]:
    """Forecasts and what came, of a place where nothing but noise changes the weather."""
    rng = np.random.default_rng(seed)
    many = APART * (runs - 1) + REACH
    times = pd.date_range("2030-01-01", periods=many, freq="h", tz="UTC")
    root = np.maximum(MEAN + SPREAD * noise((many,), rng), 0.0)
    air = 12.0 + AIR_SPREAD * noise((many,), rng)
    behind = noise((many,), rng)
    said = forecasts(root, air, behind, runs=runs, rng=rng, times=times, **more)
    return said, observed(root, air, behind, times)


def pairs_of(history, *, latitude=LATITUDE, longitude=LONGITUDE) -> Pairs:
    runs, seen = history
    return gather(
        made_archive(runs), seen, latitude=latitude, longitude=longitude, time_zone=ZONE
    )


def learned(pairs: Pairs, **more) -> ForecastError:
    return learn(pairs, name="learned", source="Invented", **more)


def middle_and_spread(error: ForecastError, pairs: Pairs, which: str):
    """What a table says of every pair, added up pair by pair's own lead."""
    own, shape = getattr(error, which), pairs.lead.shape
    flat = {name: column.ravel() for name, column in pairs.predictors.items()}
    lead = pairs.lead.ravel()
    where = error.total(own.where, flat, lead)
    logs = error.total(own.spread, {**flat, "where": where}, lead)
    return where.reshape(shape), np.exp(0.5 * logs).reshape(shape)


@pytest.fixture(scope="module")
def year() -> Pairs:
    return pairs_of(invented(RUNS, seed=1))


@pytest.fixture(scope="module")
def table(year) -> ForecastError:
    return learned(year)


@pytest.fixture(scope="module")
def new_history():
    """Another year, of which nothing was learned."""
    return invented(60, seed=2)


@pytest.fixture(scope="module")
def new(new_history) -> Pairs:
    return pairs_of(new_history)


def best(spread, error):
    """Share of a departure to be believed, and spread left, of two noises that fade alike."""
    return spread**2 / (spread**2 + error**2), spread * error / np.hypot(spread, error)


def at_lead(pairs: Pairs, low: float, high: float):
    return (pairs.lead >= low) & (pairs.lead < high)


# Calibration on days that were not learned from ---------------------------------------


def test_the_middle_is_what_can_be_known(table, new):
    """Of the forecast's departure from the mean the share that both spreads leave, less
    what it runs high; at the lead's own share.
    """
    where, _ = middle_and_spread(table, new, "gust")
    share, _ = best(SPREAD, np.interp(new.lead, [0.0, REACH], ERROR))
    wanted = MEAN + share * (new.predictors["gust"] - TOO_HIGH - MEAN)
    apart = where - wanted
    assert abs(apart.mean()) < 0.02
    assert apart.std() < 0.3 * ERROR[0]
    air, _ = middle_and_spread(table, new, "temp")
    share, _ = best(AIR_SPREAD, AIR_ERROR)
    wanted = 12.0 + share * (10.0 * new.predictors["air"] - AIR_TOO_HIGH - 12.0)
    assert abs((air - wanted).mean()) < 0.15
    assert (air - wanted).std() < 0.3 * AIR_ERROR


@pytest.mark.parametrize(("low", "high"), [(0, 24), (24, 48), (48, 72), (72, 96)])
def test_bias_and_spread_at_each_lead(table, new, low, high):
    """What is left has no mean, and the spread that the table says, which is the known one;
    within 10 %.
    """
    here = at_lead(new, low, high)
    error = np.interp(new.lead[here], [0.0, REACH], ERROR)
    _, known = best(SPREAD, error)
    where, spread = middle_and_spread(table, new, "gust")
    left = (new.truth["gust"] - where)[here]
    assert abs(left.mean()) < 0.15 * known.mean()
    assert left.std() == pytest.approx(np.sqrt((known**2).mean()), rel=0.1)
    assert spread[here].mean() == pytest.approx(known.mean(), rel=0.1)
    where, spread = middle_and_spread(table, new, "temp")
    left = (new.truth["temp"] - where)[here]
    _, known = best(AIR_SPREAD, AIR_ERROR)
    assert abs(left.mean()) < 0.15 * known
    assert left.std() == pytest.approx(known, rel=0.1)
    assert spread[here].mean() == pytest.approx(known, rel=0.1)


def test_what_the_table_says_of_itself(table):
    """How much forecasts ran high, and how far the truth lay, at the leads that were there."""
    for at, day in enumerate(LEADS[:4]):
        _, left = best(SPREAD, np.interp(24.0 * day, [0.0, REACH], ERROR))
        assert table.gust.too_high[at] == pytest.approx(TOO_HIGH, abs=0.05)
        assert table.gust.typical[at] == pytest.approx(left, rel=0.12)
        assert table.temp.too_high[at] == pytest.approx(AIR_TOO_HIGH, abs=0.3)
    assert list(table.gust.typical) == sorted(table.gust.typical)
    assert (table.latitude, table.longitude, table.truth) == (LATITUDE, LONGITUDE, "station")
    assert table.cases == RUNS * REACH
    assert (table.months[0], table.months[-1], len(table.months)) == ("2029-12", "2030-10", 11)


def test_errors_hang_together_as_they_were_made(table):
    """What is left of two noises that keep 0.6 of each hour keeps 0.6 itself."""
    for name in ("gust", "wind", "temp"):
        own = getattr(table, name)
        for lag in (1, 2, 3):
            found = [own.share * math.exp(-lag / hours) for hours in own.hours[1:4]]
            assert found == pytest.approx([KEPT**lag] * 3, abs=0.1)
            assert np.mean(found) == pytest.approx(KEPT**lag, abs=0.06)
    assert table.gust_with_wind > 0.95  # the mean wind is a quarter of the gust throughout
    assert abs(table.air_with_rain) < 0.08


def pit(error: ForecastError, pairs: Pairs, which: str) -> np.ndarray:
    """Share of the table's normal curve below what came."""
    where, spread = middle_and_spread(error, pairs, which)
    found = _below((pairs.truth[which] - where) / spread)
    return found[np.isfinite(found)]


def expect_even(shares: np.ndarray, allowed: float) -> None:
    """Every tenth of the curve has its tenth of what came."""
    tenths = np.bincount(np.minimum((10.0 * shares).astype(int), 9), minlength=10)
    assert tenths / len(shares) == pytest.approx(np.full(10, 0.1), abs=allowed)


@pytest.mark.parametrize("which", ["gust", "wind", "temp"])
def test_truth_falls_evenly_over_the_curve(table, new, which):
    """5,760 hours of which some 2,700 count as their own: a standard error of 0.006."""
    expect_even(pit(table, new, which), 0.025)


def drawn_of(new_history, error, *, count=60):
    """Members and truth of every tenth hour of the new forecasts, as square roots of gusts."""
    runs, seen = new_history
    members, came = [], []
    for i, weather in enumerate(runs[:30]):
        drawn = make_members(weather, error, count=count, seed=i, known=Known(seen=seen))
        at = round((weather.times[0] - seen.times[0]) / pd.Timedelta(hours=1))
        members.append(np.sqrt(drawn.values["wind_gust"]))
        came.append(np.sqrt(seen.values["wind_gust"][0, at : at + REACH]))
    return np.concatenate(members, axis=1), np.concatenate(came)


def test_drawn_weathers_score_as_well_as_can_be(table, new_history):
    """The score of the best normal curve, spread / sqrt(pi); climatology's is that of the
    truth's own spread.
    """
    members, came = drawn_of(new_history, table)
    count = len(members)
    scores = crps_members(members, came)
    _, left = best(SPREAD, np.linspace(*ERROR, REACH))
    of_few = 1.0 + 1.0 / count  # so many members score worse than the curve itself
    assert scores.mean() == pytest.approx(of_few * left.mean() / math.sqrt(math.pi), rel=0.08)
    usual = np.quantile(came, (np.arange(count) + 0.5) / count)
    climatology = crps_members(usual[:, None], came).mean()
    assert climatology == pytest.approx(SPREAD / math.sqrt(math.pi), rel=0.1)
    assert scores.mean() < 0.6 * climatology


def test_that_score_is_the_librarys(table, new_history):
    """A general library of scores gives the same mean."""
    library = pytest.importorskip("scoringrules", reason="scoringrules is not installed")
    members, came = drawn_of(new_history, table, count=20)
    theirs = library.crps_ensemble(came, members, m_axis=0, estimator="nrg")
    assert crps_members(members, came).mean() == pytest.approx(theirs.mean(), rel=1e-9)


def test_the_rank_of_the_truth_among_drawn_weathers_is_even(table, new_history):
    """Tenths of the ranks among 59."""
    members, came = drawn_of(new_history, table, count=59)
    expect_even((members < came).sum(axis=0) / 60.0, 0.035)


def test_rain_comes_as_often_as_said(table, new):
    """The forecast's own chance is right here: the learned one scores within a twentieth of
    it and says what comes in every fifth of the scale.
    """
    flat = {name: column.ravel() for name, column in new.predictors.items()}
    chance = rain_chance(table, flat, new.lead.ravel())
    wet = (new.truth["rain"] >= 0.1).ravel()
    assert wet.mean() == pytest.approx(WET, abs=0.03)
    right = flat["rain_chance"]
    ours, theirs = (((x - wet) ** 2).mean() for x in (chance, right))
    assert ours < 1.05 * theirs < WET * (1.0 - WET)
    for low in (0.0, 0.2, 0.4, 0.6, 0.8):
        here = (chance >= low) & (chance < low + 0.2)
        assert chance[here].mean() == pytest.approx(wet[here].mean(), abs=0.08)


# Few pairs, months and refusals -------------------------------------------------------


def test_less_than_twenty_days_are_refused():
    """479 hours are; 480 are not."""
    runs, seen = invented(6, seed=3)
    gust = seen.values["wind_speed"].copy()
    overlaps = [weather.between(weather.times[0], weather.times[80]) for weather in runs]
    pairs = pairs_of((overlaps, seen))
    assert np.isfinite(pairs.truth["wind"]).sum() == 480
    assert learned(pairs).cases == 480
    gust[0, 5] = math.nan
    lacking = dataclasses.replace(seen, values={**seen.values, "wind_speed": gust})
    with pytest.raises(WeatherError, match="479 hours") as caught:
        learned(pairs_of((overlaps, lacking)))
    assert "480" in caught.value.message
    assert "more days" in caught.value.fix


def test_hours_that_the_forecast_does_not_say_are_no_pairs():
    """Truth alone teaches nothing."""
    runs, seen = invented(7, seed=3)
    silent = [
        dataclasses.replace(
            weather, values={**weather.values, "wind_speed": np.full((1, REACH), math.nan)}
        )
        for weather in runs
    ]
    with pytest.raises(WeatherError, match="Only 0 hours"):
        learned(pairs_of((silent, seen)))


def moved(error: ForecastError, base: ForecastError, pairs: Pairs) -> float:
    """By how much the middle of the gust lies lower than with the base, on average."""
    where, _ = middle_and_spread(error, pairs, "gust")
    before, _ = middle_and_spread(base, pairs, "gust")
    return float((before - where).mean())


@pytest.fixture(scope="module")
def higher(table):
    """How far forecasts that run 0.3 higher than the base knows move it: three weeks of them,
    a year, and what all of it would be.
    """
    few, many = (
        moved(learned(pairs, base=table), table, pairs)
        for pairs in (
            pairs_of(invented(runs, seed=5, too_high=TOO_HIGH + 0.3)) for runs in (7, RUNS)
        )
    )
    share, _ = best(SPREAD, np.linspace(*ERROR, REACH))
    return few, many, 0.3 * share.mean()  # of a departure so much was believed


def test_few_pairs_move_the_base_some_of_the_way_and_many_all_of_it(higher):
    """Towards what came."""
    few, many, wanted = higher
    assert 0.0 < few < 0.75 * wanted
    assert few < many
    assert many == pytest.approx(wanted, rel=0.15)


def test_few_pairs_that_agree_with_the_base_change_nothing(table, new):
    """Three weeks more of the same: the middle within a tenth of the spread, the spread
    within a tenth.
    """
    again = learned(pairs_of(invented(7, seed=6)), base=table)
    for which in ("gust", "wind", "temp"):
        (was, wide), (now, as_wide) = (middle_and_spread(x, new, which) for x in (table, again))
        assert np.sqrt(((now - was) ** 2).mean()) < 0.1 * wide.mean()
        assert as_wide.mean() == pytest.approx(wide.mean(), rel=0.1)
    assert again.gust.share * math.exp(-1 / again.gust.hours[1]) == pytest.approx(KEPT, abs=0.1)


def test_months_of_the_base_count_where_it_was_learned_near(table):
    """So that a replay knows what it has seen."""
    pairs = pairs_of(invented(7, seed=6))
    own = {"2029-12", "2030-01"}
    assert set(learned(pairs).months) == own
    assert set(learned(pairs, base=table).months) == {*own, *table.months}
    far = dataclasses.replace(table, latitude=LATITUDE - 20.0)
    assert set(learned(pairs, base=far).months) == own


def test_a_month_left_out_teaches_nothing():
    """Whatever came in it, the table is the same to the last digit."""
    pairs = pairs_of(invented(35, seed=7))
    there = (pairs.month == MARCH) | (pairs.issued == MARCH)[:, None]
    assert 500 < there.sum() < 0.5 * there.size
    random = np.random.default_rng(7)
    truth = {
        name: np.where(there, random.uniform(0.0, 9.0, column.shape), column)
        for name, column in pairs.truth.items()
    }
    other = dataclasses.replace(pairs, truth=truth)
    once, again = (learned(x, without=[MARCH]) for x in (pairs, other))
    assert once == again
    assert "2030-03" not in once.months
    assert learned(other) != once


def test_a_base_with_other_lead_times_is_a_base():
    """Numbers straight between its lead times stand at those learned for."""
    base = made_error(
        leads=(0.0, 8.0),
        gust=quantity({"one": -0.3, "gust": 1}, {"one": -2.0}, typical=(0.2, 0.6)),
    )
    pairs = pairs_of(invented(7, seed=6))
    table = learned(pairs, base=base)
    assert table.leads == LEADS
    assert table.gust.typical[-1] == pytest.approx(0.6, rel=0.1)


def test_without_observed_rain_its_chance_is_not_made_up():
    """A station that measures none: refused, or the forecast's own chance; not even odds."""
    runs, seen = invented(8, seed=6)
    dry = dataclasses.replace(
        seen, values={**seen.values, "precipitation": np.full((1, seen.hours), math.nan)}
    )
    pairs = pairs_of((runs, dry))
    try:
        table = learned(pairs)
    except WeatherError:
        return
    flat = {name: column.ravel() for name, column in pairs.predictors.items()}
    chance = rain_chance(table, flat, pairs.lead.ravel())
    assert abs(chance - flat["rain_chance"]).mean() < 0.2


def test_a_base_with_a_fraction_of_the_spread_is_left_behind():
    """A certain table and a year that is not: the spread is found, not lost in the search."""
    many, narrow = len(LEADS), {"one": 2.0 * math.log(0.03)}
    base = made_error(
        leads=LEADS,
        gust=quantity({"gust": 1}, narrow, leads=many),
        wind=quantity({"wind": 1}, narrow, leads=many),
        temp=quantity({"air": 10}, narrow, leads=many),
        rain=quantity({"one": -2}, leads=many),
    )
    pairs = pairs_of(invented(40, seed=8))
    _, spread = middle_and_spread(learned(pairs, base=base), pairs, "gust")
    assert 0.1 < np.median(spread) < 0.3  # the table starts at 0.03 and counts for 2,000 hours


# A station's truth --------------------------------------------------------------------


@pytest.fixture(scope="module")
def station():
    """A year of De Bilt, forecasts of it made as above; the last quarter is not learned."""
    if not RECORD.exists():
        pytest.skip(f"no station records in {SHARED.name}; set FILM_WEATHER to their folder")
    start = pd.Timestamp("2022-01-01T00:00Z")
    seen = read_weather(RECORD).between(start, start + pd.Timedelta(days=370))
    root = np.sqrt(seen.values["wind_gust"][0])
    air = seen.values["temp_air"][0]
    wet = seen.values["precipitation"][0] >= 0.1
    assert np.isfinite(root).all()
    rng = np.random.default_rng(11)
    mark = NORMAL.inv_cdf(1.0 - WET)
    behind = np.where(wet, mark + 0.5, mark - 1.0) + 0.3 * rng.normal(size=len(wet))
    runs = forecasts(root, air, behind, runs=120, rng=rng, times=seen.times)
    pairs = gather(
        made_archive(runs), seen, latitude=52.1, longitude=5.18, time_zone="Europe/Amsterdam"
    )
    last = [12 * 2022 + month for month in (9, 10, 11)] + [12 * 2023]
    return runs, seen, pairs, learned(pairs, without=last), np.isin(pairs.month, last)


def held_out(pairs: Pairs, rows: np.ndarray) -> Pairs:
    """The pairs with the truth of all other hours taken away."""
    truth = {name: np.where(rows, x, math.nan) for name, x in pairs.truth.items()}
    return dataclasses.replace(pairs, truth=truth)


@pytest.mark.parametrize("which", ["gust", "temp"])
def test_a_stations_truth_falls_evenly_over_the_curve(station, which):
    """In three months that were not learned from."""
    _, _, pairs, error, rows = station
    later = held_out(pairs, rows)
    expect_even(pit(error, later, which), 0.04)
    where, spread = middle_and_spread(error, later, which)
    left = (later.truth[which] - where)[rows]
    assert abs(np.nanmean(left)) < 0.15 * np.nanstd(left)
    assert np.nanstd(left) == pytest.approx(np.sqrt((spread[rows] ** 2).mean()), rel=0.1)


def test_drawn_weathers_of_a_station_beat_its_climatology(station):
    """And the forecast taken at its word, whose score is its distance."""
    runs, seen, pairs, error, rows = station
    last = np.flatnonzero(rows.all(axis=1))
    assert len(last) > 20
    own, word, usual = [], [], []
    roots = np.sqrt(seen.values["wind_gust"][0])
    climatology = np.quantile(roots, (np.arange(100) + 0.5) / 100)[:, None]
    for i in last:
        drawn = make_members(runs[i], error, count=100, seed=int(i))
        came = pairs.truth["gust"][i]
        own.append(crps_members(np.sqrt(drawn.values["wind_gust"]), came))
        word.append(abs(np.sqrt(runs[i].values["wind_gust"][0]) - came))
        usual.append(crps_members(climatology, came))
    assert np.mean(own) < 0.6 * np.mean(usual)
    assert np.mean(own) < 0.5 * np.mean(word)
