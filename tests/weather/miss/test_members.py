"""Possible weathers against the table they are drawn from: sums, curves and chains by hand."""

from __future__ import annotations

import math
from itertools import pairwise
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.reference.tables import value
from planner.weather.miss.error_file import shipped_error
from planner.weather.miss.members import make_members, rain_chance
from planner.weather.miss.predictors import Known, lead_hours, predictors
from tests.history.made_error import (
    LATITUDE,
    LONGITUDE,
    log_variance,
    made_error,
    made_weather,
    quantity,
)

NO = math.nan
MANY = 20_000
NORMAL = NormalDist()
FAR_OFF = 4.5  # standard errors: once in 150,000 numbers


def steady(hours=24, *, root=6.0, **more):
    """The same hour again and again, gust well above the mean wind and both above nought."""
    columns = {
        "wind_gust": root**2,
        "wind_speed": (root - 3.0) ** 2,
        "temp_air": 12.0,
        "temp_dew": 5.0,
        "precipitation": 0.0,
        "precipitation_probability": 20.0,
    }
    return made_weather(hours, **(columns | more))


def errors_of(weather, error, *, count=MANY, seed=3, **more) -> dict[str, np.ndarray]:
    """Drawn gust and mean wind as square roots, and air, less the forecast's own."""
    drawn = make_members(weather, error, count=count, seed=seed, **more).values
    return {
        "gust": np.sqrt(drawn["wind_gust"]) - np.sqrt(weather.values["wind_gust"]),
        "wind": np.sqrt(drawn["wind_speed"]) - np.sqrt(weather.values["wind_speed"]),
        "temp": drawn["temp_air"] - weather.values["temp_air"],
    }


def correlation(one, other) -> float:
    return float(np.corrcoef(one, other)[0, 1])


def expect_correlation(one, other, wanted) -> None:
    """Within the standard error of a correlation, (1 - r^2) / sqrt(n)."""
    allowed = FAR_OFF * max(1.0 - wanted**2, 0.05) / math.sqrt(len(one))
    assert correlation(one, other) == pytest.approx(wanted, abs=allowed)


# What is drawn ------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_weathers():
    """Another seed other ones; the forecast is left alone."""
    weather, error = steady(), made_error()
    before = {name: column.copy() for name, column in weather.values.items()}
    one, same, other = (make_members(weather, error, count=20, seed=x) for x in (5, 5, 6))
    for name in ("wind_gust", "wind_speed", "temp_air", "temp_dew", "precipitation"):
        np.testing.assert_array_equal(one.values[name], same.values[name])
    for name in ("wind_gust", "wind_speed", "temp_air"):
        assert not np.isclose(one.values[name], other.values[name]).any()
    for name, column in before.items():
        np.testing.assert_array_equal(weather.values[name], column)


@pytest.mark.parametrize("count", [1, 7, 500])
def test_as_many_as_asked_for_and_of_equal_weight(count):
    """What is drawn has a row each, what is not stays one row."""
    weather = steady(cloud_cover=40.0)
    drawn = make_members(weather, made_error(), count=count)
    assert (drawn.kind, drawn.members, drawn.issued) == ("ensemble", count, weather.issued)
    assert drawn.weights.tolist() == [1.0 / count] * count
    for name in ("wind_gust", "wind_speed", "temp_air", "temp_dew", "precipitation"):
        assert drawn.values[name].shape == (count, 24)
    np.testing.assert_array_equal(drawn.values["cloud_cover"], weather.values["cloud_cover"])
    assert "precipitation_probability" not in drawn.values
    assert not drawn.has("precipitation_probability")
    assert drawn.has("precipitation")


def test_means_and_spreads_are_the_tables_own_sums():
    """Added up by hand at every lead: gust and its run of hours, direction, hour of the day."""
    leads = (0.0, 1.0, 3.0)
    error = made_error(
        leads=leads,
        gust=quantity(
            {"one": (0.6, 1.0, 2.0), "gust": (0.9, 0.8, 0.6), "gust_5h": (0, 0.1, 0.2)},
            {"one": (-3.0, -2.0, -2.2), "where": (0.1, 0.0, 0.1), "day_cos": (0.3, 0.1, 0.2)},
            leads=3,
        ),
        wind=quantity({"one": 0.2, "wind": 0.9}, {"one": (-4.0, -3.0, -2.5)}, leads=3),
        temp=quantity({"one": (-1, 0, 1), "air": (10, 9, 8)}, {"one": (0, 1, 2)}, leads=3),
        rain=quantity({"one": -2}, leads=3),
    )
    hours = 60
    root = 6.0 + np.sin(np.arange(hours) / 3.0)
    weather = steady(hours, wind_gust=root**2, temp_air=np.linspace(0.0, 20.0, hours))
    drawn = make_members(weather, error, count=MANY, seed=8).values
    found = {
        "gust": np.sqrt(drawn["wind_gust"]),
        "wind": np.sqrt(drawn["wind_speed"]),
        "temp": drawn["temp_air"],
    }
    for hour in range(hours):
        day = hour / 24.0

        def at(*numbers, day=day):
            return float(np.interp(day, leads, numbers))

        near = [root[min(max(x, 0), hours - 1)] for x in range(hour - 2, hour + 3)]
        sun = math.cos(2.0 * math.pi * ((hour + 0.5) / 24.0 + LONGITUDE / 360.0))
        gust = at(0.6, 1.0, 2.0) + at(0.9, 0.8, 0.6) * root[hour]
        gust += at(0.0, 0.1, 0.2) * sum(near) / 5
        logs = at(-3.0, -2.0, -2.2) + at(0.1, 0.0, 0.1) * gust + at(0.3, 0.1, 0.2) * sun
        air = weather.values["temp_air"][0, hour]
        for name, middle, log in (
            ("gust", gust, logs),
            ("wind", 0.2 + 0.9 * 3.0, at(-4.0, -3.0, -2.5)),
            ("temp", at(-1, 0, 1) + at(1.0, 0.9, 0.8) * air, at(0.0, 1.0, 2.0)),
        ):
            spread, values = math.exp(log / 2.0), found[name][:, hour]
            off = FAR_OFF * spread / math.sqrt(MANY)
            assert values.mean() == pytest.approx(middle, abs=off)
            assert values.std() == pytest.approx(spread, abs=off / math.sqrt(2.0))


def test_drawn_roots_are_normal():
    """Each tenth of the normal curve has its tenth of the weathers."""
    drawn = errors_of(steady(), made_error())
    for name, spread in (("gust", 0.3), ("wind", 0.2), ("temp", 1.5)):
        marks = [spread * NORMAL.inv_cdf(x / 10) for x in range(1, 10)]
        shares = np.bincount(np.searchsorted(marks, drawn[name][:, 20]), minlength=10) / MANY
        assert shares == pytest.approx(np.full(10, 0.1), abs=FAR_OFF * 0.3 / math.sqrt(MANY))


def test_what_was_observed_is_certain():
    """It comes back as it is."""
    seen = made_weather(6, kind="observed", wind_gust=4.0, wind_speed=2.0, temp_air=9.0)
    assert make_members(seen, made_error(), count=50) is seen


# Hour to hour -------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "hours"), [(0.8, 4.0), (1.0, 9.0), (0.5, 1.5), (0.95, 40.0)])
def test_correlation_from_hour_to_hour(share, hours):
    """share * exp(-k / hours) at 1, 2, 3 and 6 hours, wherever the first hour is."""
    own = {"share": share, "hours": hours}
    error = made_error(
        gust=quantity({"gust": 1}, {"one": log_variance(0.3)}, **own),
        wind=quantity({"wind": 1}, {"one": log_variance(0.2)}, **own),
        temp=quantity({"air": 10}, {"one": log_variance(1.5)}, **own),
        rain=quantity({"one": 0}, **own),
    )
    for error_of in errors_of(steady(), error).values():
        for first in (0, 5, 17):
            for lag in (1, 2, 3, 6):
                wanted = share * math.exp(-lag / hours)
                expect_correlation(error_of[:, first], error_of[:, first + lag], wanted)


def test_errors_last_longer_at_some_leads():
    """The hours that they last run straight from lead to lead: the product of what is kept."""
    error = made_error(
        leads=(0.0, 2.0),
        gust=quantity({"gust": 1}, {"one": log_variance(0.3)}, share=0.9, hours=(2.0, 20.0)),
    )
    drawn = errors_of(steady(60), error)["gust"]
    for first in (0, 20, 50):
        for lag in (1, 3, 6):
            wanted = 0.9
            for hour in range(first + 1, first + lag + 1):
                wanted *= math.exp(-1.0 / (2.0 + 18.0 * min(hour / 48.0, 1.0)))
            expect_correlation(drawn[:, first], drawn[:, first + lag], wanted)


def test_gust_and_mean_wind_err_together():
    """By the table's link in the same hour, and less an hour apart; the air apart from both."""
    drawn = errors_of(steady(), made_error(gust_with_wind=0.6))
    kept = 0.8 * math.exp(-1.0 / 4.0)
    for hour in (0, 11, 20):
        expect_correlation(drawn["gust"][:, hour], drawn["wind"][:, hour], 0.6)
        expect_correlation(drawn["gust"][:, hour], drawn["wind"][:, hour + 1], 0.6 * kept)
        expect_correlation(drawn["gust"][:, hour], drawn["temp"][:, hour], 0.0)


def test_air_goes_with_rain():
    """By the table's link: in a wet hour the normal number behind is above its mark, on
    average by density over chance, and the air errs by so much of the link.
    """
    error = made_error(air_with_rain=-0.5, rain=quantity({"one": 0}))
    weather = steady()
    drawn = make_members(weather, error, count=MANY, seed=3).values
    above = NORMAL.pdf(0.0) / 0.5
    for hour in (0, 13):
        wet = drawn["precipitation"][:, hour] > 0.0
        mean = (drawn["temp_air"][wet, hour] - 12.0).mean()
        assert mean == pytest.approx(-0.5 * above * 1.5, abs=0.08)


def test_the_hour_after_given_the_hour():
    """Of two normal numbers with correlation r the second has mean r times the first, and
    spread sqrt(1 - r^2), whatever the first is.
    """
    r = 0.8 * math.exp(-1.0 / 4.0)
    drawn = errors_of(steady(), made_error())["gust"] / 0.3
    now, then = drawn[:, 10], drawn[:, 11]
    edges = [-9.0, -1.5, -0.7, -0.2, 0.2, 0.7, 1.5, 9.0]
    for low, high in pairwise(edges):
        here = (now >= low) & (now < high)
        spread = math.sqrt(1.0 - r**2)
        off = FAR_OFF * spread / math.sqrt(here.sum())
        rest = then[here] - r * now[here]
        assert rest.mean() == pytest.approx(0.0, abs=off)
        assert rest.std() == pytest.approx(spread, abs=off / math.sqrt(2.0))


MORNING = 12


def broken(hours=24):
    return np.arange(hours) == MORNING


def test_the_morning_cuts_the_hold_of_a_calm_night():
    """What passes the break-up is the table's share of it; nothing else is touched."""
    calm = steady(root=2.2, wind_speed=1.0)  # 4.8 m/s
    small = {"one": log_variance(0.03)}
    error = made_error(morning=0.4, gust=quantity({"gust": 1}, small))
    drawn = errors_of(calm, error, breaks=broken())["gust"]
    for first, lag, rest in (
        (MORNING - 1, 1, 0.4),
        (MORNING - 2, 2, 0.4),
        (MORNING - 3, 6, 0.4),
        (MORNING, 1, 1.0),
        (MORNING - 3, 2, 1.0),
        (MORNING + 4, 6, 1.0),
    ):
        wanted = rest * 0.8 * math.exp(-lag / 4.0)
        expect_correlation(drawn[:, first], drawn[:, first + lag], wanted)


@pytest.mark.parametrize(
    ("root", "breaks"), [(2.6, broken()), (2.2, None), (2.2, np.zeros(24, dtype=bool))]
)
def test_no_cut_after_a_windy_night_or_without_a_morning(root, breaks):
    """6.8 m/s over the six hours before; or no break-up given."""
    assert 2.2**2 < value("planning", "calm_night_gust") < 2.6**2
    error = made_error(morning=0.0, gust=quantity({"gust": 1}, {"one": log_variance(0.03)}))
    weather = steady(root=root, wind_speed=1.0)
    drawn = errors_of(weather, error, breaks=breaks)["gust"]
    wanted = 0.8 * math.exp(-1.0 / 4.0)
    expect_correlation(drawn[:, MORNING - 1], drawn[:, MORNING], wanted)


def test_the_night_is_the_six_hours_before_the_morning():
    """The gusts of the day itself, and those of the evening before, do not count."""
    root = np.full(24, 9.0)
    root[MORNING - 6 : MORNING] = 2.2
    error = made_error(morning=0.0, gust=quantity({"gust": 1}, {"one": log_variance(0.03)}))
    drawn = errors_of(steady(wind_gust=root**2, wind_speed=1.0), error, breaks=broken())
    expect_correlation(drawn["gust"][:, MORNING - 1], drawn["gust"][:, MORNING], 0.0)


# Calm spells --------------------------------------------------------------------------


def chance_to_stay(p: float, hours: int, *, share: float, lasts: float) -> float:
    """Chance that so many hours in a row are calm, each with chance p.

    The chained part of the noise is a Markov chain: here on a fine grid, weighed in every
    hour with the chance that the hour's own noise leaves it below the mark.
    """
    mark, keep = NORMAL.inv_cdf(p), math.exp(-1.0 / lasts)
    grid = np.linspace(-7.0, 7.0, 561)
    step = grid[1] - grid[0]
    own = math.sqrt(1.0 - share)
    calm = np.array(
        [
            NORMAL.cdf((mark - math.sqrt(share) * x) / own) if own else float(x < mark)
            for x in grid
        ]
    )
    fresh = math.sqrt(1.0 - keep**2)
    apart = (grid[None, :] - keep * grid[:, None]) / fresh
    move = np.exp(-0.5 * apart**2) * step / (fresh * math.sqrt(2.0 * math.pi))
    chance = np.exp(-0.5 * grid**2) * step / math.sqrt(2.0 * math.pi) * calm
    for _ in range(hours - 1):
        chance = (chance @ move) * calm
    return float(chance.sum())


def share_of_windows(p: float, hours: int, *, share: float, lasts: float) -> float:
    """The share of windows of drawn weathers in which every gust stays below a mark."""
    own = {"share": share, "hours": lasts}
    error = made_error(gust=quantity({"gust": 1}, {"one": log_variance(0.3)}, **own))
    drawn = errors_of(steady(48), error, count=5_000)["gust"]
    calm = drawn < 0.3 * NORMAL.inv_cdf(p)
    windows = np.lib.stride_tricks.sliding_window_view(calm, hours, axis=1)
    return float(windows.all(axis=2).mean())


@pytest.mark.parametrize("p", [0.4, 0.85])
@pytest.mark.parametrize(("share", "lasts"), [(0.88, 4.7), (0.97, 9.0)])
def test_calm_spells_are_those_of_a_markov_chain(p, share, lasts):
    """Windows of 2, 4 and 8 hours; between the product of the hours and one hour alone."""
    for hours in (2, 4, 8):
        found = share_of_windows(p, hours, share=share, lasts=lasts)
        assert p**hours < found < p
        wanted = chance_to_stay(p, hours, share=share, lasts=lasts)
        assert found == pytest.approx(wanted, abs=0.008)


def test_eight_hours_are_not_eight_times_one_hour():
    """Of hours that are calm two times in five, the product is wrong a hundredfold."""
    found = share_of_windows(0.402, 8, share=0.97, lasts=9.0)
    assert found > 100.0 * 0.402**8


#: One station's winter, 57 days of hourly mean wind at Lincoln, Nebraska (NOAA Local
#: Climatological Data, public domain): share of hours at or below a speed; shares that
#: begin 2, 4 and 8 such hours in a row. Its correlations at 1, 3 and 6 hours are .875,
#: .727 and .50, through which .97 * exp(-k / 9) runs.
RECORD = {
    0.402: (0.332, 0.244, 0.144),  # 3 m/s
    0.534: (0.472, 0.392, 0.275),  # 4
    0.629: (0.571, 0.492, 0.373),  # 5
    0.826: (0.777, 0.708, 0.607),  # 6.7
}


@pytest.mark.parametrize("p", RECORD)
def test_calm_spells_last_as_long_as_a_stations(p):
    """Within five points of a real record, of which nothing but correlations is known.

    A real wind has days and seasons, this noise has none: it errs on the short side.
    """
    assert [round(0.97 * math.exp(-k / 9.0), 1) for k in (1, 3, 6)] == [0.9, 0.7, 0.5]
    for hours, wanted in zip((2, 4, 8), RECORD[p], strict=True):
        found = share_of_windows(p, hours, share=0.97, lasts=9.0)
        assert found == pytest.approx(wanted, abs=0.05)
        assert wanted - found < 0.3 * (wanted - p**hours)


# Bounds and gaps ----------------------------------------------------------------------

columns = st.lists(st.floats(0.0, 20.0) | st.just(NO), min_size=8, max_size=8)


@settings(max_examples=20, deadline=None)
@given(gust=columns, wind=columns, air=columns, dew=columns, rain=columns)
def test_no_gust_below_the_mean_and_nothing_below_nought(gust, wind, air, dew, rain):
    """Whatever the forecast and wherever it is silent; the dew point goes no higher than
    said, and down with colder air.
    """
    weather = made_weather(
        8, wind_gust=gust, wind_speed=wind, temp_air=air, temp_dew=dew, precipitation=rain
    )
    wide = {"one": log_variance(2.0)}
    error = made_error(gust=quantity({"gust": 1}, wide), wind=quantity({"wind": 1}, wide))
    drawn = make_members(weather, error, count=30).values
    for name, said in (
        ("wind_gust", gust),
        ("wind_speed", wind),
        ("temp_air", air),
        ("precipitation", rain),
    ):
        silent = np.isnan(np.array(said))
        assert (np.isnan(drawn[name]) == silent).all(), name
        if name != "temp_air":
            assert (drawn[name][:, ~silent] >= 0.0).all()
    both = np.isfinite(np.array(gust)) & np.isfinite(np.array(wind))
    assert (drawn["wind_gust"] >= drawn["wind_speed"])[:, both].all()
    known = np.isfinite(np.array(air)) & np.isfinite(np.array(dew))
    colder = np.minimum(drawn["temp_air"] - np.array(air), 0.0)
    np.testing.assert_allclose(
        drawn["temp_dew"][:, known], (np.array(dew) + colder)[:, known], atol=1e-9
    )


def test_a_silent_hour_silences_no_other():
    """With the shipped table, whose sums use hours around: gust and air are said or not."""
    gust = np.full(24, 25.0)
    gust[9] = NO
    weather = steady(wind_gust=gust, cloud_cover=30.0, wind_direction=200.0)
    drawn = make_members(weather, shipped_error(), count=10).values
    assert np.isnan(drawn["wind_gust"]).all(axis=0).tolist() == [x == 9 for x in range(24)]
    assert np.isfinite(drawn["temp_air"]).all()
    assert np.isfinite(drawn["precipitation"]).all()


def test_without_gusts_there_are_none():
    """They are filled in elsewhere; mean wind and air are drawn all the same."""
    weather = made_weather(6, wind_speed=4.0, temp_air=9.0, precipitation=0.0)
    drawn = make_members(weather, made_error(), count=10)
    assert "wind_gust" not in drawn.values
    assert drawn.values["wind_speed"].std(axis=0).min() > 0.0


def test_rain_that_is_not_forecast_is_not_given():
    """Neither amount nor chance: no rain is drawn, and none is said to be known."""
    weather = made_weather(6, wind_speed=4.0, temp_air=9.0)
    drawn = make_members(weather, made_error(), count=10)
    assert not drawn.has("precipitation")


# Rain ---------------------------------------------------------------------------------


def test_it_rains_as_often_as_the_chance_says():
    """The chance against its log odds by hand, the weathers against the chance."""
    error = made_error(
        rain=quantity({"one": -2.5, "rain_chance": 4, "rain": 0.5, "rain_beside": 0.25})
    )
    said = np.array([0.0, 10.0, 35.0, 60.0, 90.0, 100.0, NO, NO])
    amount = np.array([0.0, 0.0, 0.2, 0.0, 3.0, 1.0, 0.0, 0.5])
    weather = steady(8, precipitation=amount, precipitation_probability=said)
    found = predictors(weather, Known(), longitude=LONGITUDE)
    chance = rain_chance(error, found, lead_hours(weather))
    drawn = make_members(weather, error, count=MANY, seed=2).values["precipitation"]
    logs = [math.log1p(10.0 * mm) for mm in amount]
    for hour in range(8):
        share = said[hour] / 100.0
        if math.isnan(share):
            share = 0.5 if amount[hour] > 0.0 else 0.1  # the table's means
        beside = max(logs[max(hour - 1, 0)], logs[min(hour + 1, 7)])
        odds = -2.5 + 4.0 * share + 0.5 * logs[hour] + 0.25 * beside
        p = 1.0 / (1.0 + math.exp(-odds))
        assert chance[hour] == pytest.approx(p)
        off = FAR_OFF * math.sqrt(p * (1.0 - p) / MANY)
        assert (drawn[:, hour] > 0.0).mean() == pytest.approx(p, abs=off)
    assert drawn[drawn > 0.0].min() >= 0.1


def test_a_chance_is_known_from_the_amount_or_the_probability():
    """Unknown only where both are."""
    weather = steady(
        4, precipitation=[0.0, NO, 0.0, NO], precipitation_probability=[5.0, 5.0, NO, NO]
    )
    found = predictors(weather, Known(), longitude=LONGITUDE)
    chance = rain_chance(made_error(), found, lead_hours(weather))
    assert np.isnan(chance).tolist() == [False, False, False, True]
    drawn = make_members(weather, made_error(), count=50).values["precipitation"]
    assert np.isnan(drawn).all(axis=0).tolist() == [False, False, False, True]
    assert np.isfinite(drawn[:, :3]).all()


def test_an_hour_without_an_amount_keeps_its_chance():
    """The table is of forecasts with amounts: a low chance there lowers no chance here."""
    said = np.array([0.0, 30.0, 90.0, 90.0, 100.0])
    amount = np.array([NO, NO, NO, 0.0, NO])
    weather = steady(5, precipitation=amount, precipitation_probability=said)
    found = predictors(weather, Known(), longitude=LONGITUDE)
    low = made_error(rain=quantity({"one": -4, "rain_chance": 1}))
    chance = rain_chance(low, found, lead_hours(weather))
    odds = np.exp(-4.0 + said / 100.0)
    table = odds / (1.0 + odds)
    wanted = np.maximum(table, np.array([0.0, 0.3, 0.9, 0.0, 1.0]))
    np.testing.assert_allclose(chance, wanted, atol=1e-3)
    high = made_error(rain=quantity({"one": 3}))  # and a high one there is not lowered
    assert (rain_chance(high, found, lead_hours(weather)) > 0.95).all()
    drawn = make_members(weather, low, count=MANY, seed=2).values["precipitation"]
    off = FAR_OFF * math.sqrt(0.9 * 0.1 / MANY)
    assert (drawn[:, 2] > 0.0).mean() == pytest.approx(0.9, abs=off)
    assert (drawn[:, 3] > 0.0).mean() < 0.1


@pytest.mark.parametrize("chance", [20.0, 60.0, 90.0])
def test_chances_alone_are_not_lowered_by_the_shipped_table(chance):
    """A forecast in chances only, as it is drawn for everyone."""
    weather = steady(48, precipitation_probability=chance)
    del weather.values["precipitation"]
    found = predictors(weather, Known(), longitude=LONGITUDE)
    error = shipped_error().at(LATITUDE, LONGITUDE)
    least = rain_chance(error, found, lead_hours(weather)).min()
    assert least >= chance / 100.0 - 1e-9


def test_wet_hours_come_together():
    """At even odds two hours are both wet with chance 1/4 + asin(r) / (2 pi) (Sheppard)."""
    error = made_error(rain=quantity({"one": 0}, share=0.9, hours=6.0))
    wet = make_members(steady(), error, count=MANY, seed=4).values["precipitation"] > 0.0
    for lag in (1, 3, 6):
        r = 0.9 * math.exp(-lag / 6.0)
        wanted = 0.25 + math.asin(r) / (2.0 * math.pi)
        both = (wet[:, 5] & wet[:, 5 + lag]).mean()
        assert both == pytest.approx(wanted, abs=FAR_OFF * 0.5 / math.sqrt(MANY))


def test_how_much_falls():
    """The log of a wet hour's amount is normal about the table's line, 0.1 mm at least."""
    error = made_error(rain=quantity({"one": 0}), rain_amount=(1.0, 0.5, 0.4))
    weather = steady(6, precipitation=[0.0, 0.05, 0.1, 1.0, 4.0, NO])
    drawn = make_members(weather, error, count=MANY, seed=6).values["precipitation"]
    for hour, said in enumerate((0.1, 0.1, 0.1, 1.0, 4.0, 0.1)):
        logs = np.log(drawn[drawn[:, hour] > 0.0, hour])
        off = FAR_OFF * 0.4 / math.sqrt(len(logs))
        assert logs.mean() == pytest.approx(1.0 + 0.5 * math.log(said), abs=off)
        assert logs.std() == pytest.approx(0.4, abs=off / math.sqrt(2.0))


# Another place ------------------------------------------------------------------------


def test_elsewhere_one_more_error_is_kept_over_all_hours():
    """Spreads add as squares; hours far apart keep the place's own error in common. What
    forecasts ran high by at home is not believed: the middle goes up by it.
    """
    home = made_error(
        leads=(0.0, 2.0),
        gust=quantity({"gust": 1}, {"one": log_variance(0.3)}, too_high=(0.1, 0.3)),
        wind=quantity({"wind": 1}, {"one": log_variance(0.2)}, too_high=-0.2),
    )
    away = home.at(LATITUDE, LONGITUDE + 10.0)
    drawn = errors_of(steady(60), away)
    speed, air = (value("planning", f"error_place_{x}") for x in ("speed", "air"))
    for name, own, place in (("gust", 0.3, speed), ("wind", 0.2, speed), ("temp", 1.5, air)):
        for hour in (0, 24, 59):
            both = math.hypot(own, place)
            off = FAR_OFF * both / math.sqrt(MANY)
            higher = 0.1 + 0.2 * min(hour / 48.0, 1.0) if name == "gust" else 0.0
            assert drawn[name][:, hour].mean() == pytest.approx(higher, abs=off)
            assert drawn[name][:, hour].std() == pytest.approx(both, abs=off / math.sqrt(2))
        in_common = place**2 / (own**2 + place**2)
        expect_correlation(drawn[name][:, 2], drawn[name][:, 58], in_common)
    common = speed**2 / math.hypot(0.3, speed) / math.hypot(0.2, speed)
    expect_correlation(drawn["gust"][:, 2], drawn["wind"][:, 58], common)
