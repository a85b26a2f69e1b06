"""How errors hang together: found again in noise made with known numbers."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest

from planner.history.links import (
    amount_of_rain,
    hold,
    hold_of_rain,
    same_hour,
    through_morning,
    with_rain,
)
from planner.history.pairs import Pairs
from planner.reference.tables import value
from tests.history.made_error import LATITUDE, LONGITUDE, made_error, quantity

NO = math.nan
NORMAL = NormalDist()
RUNS, HOURS = 800, 96
LEADS = (0.0, 1.0, 2.0, 3.0)


def _days(own) -> tuple[float, ...]:
    """A lead time a day, as many as there are hours."""
    return tuple(map(float, range(len(own.hours))))


def noise(runs=RUNS, hours=HOURS, *, share=1.0, lasts=4.0, seed=1, cut=None) -> np.ndarray:
    """Normal noise of spread one: a part that each hour keeps some of, and each hour's own.

    ``lasts`` is a number or one an hour; ``cut`` the share of what is kept in each hour.
    """
    random = np.random.default_rng(seed)
    keep = np.exp(-1.0 / np.broadcast_to(lasts, hours)) * (1.0 if cut is None else cut)
    chain = random.normal(size=(runs, hours))
    for hour in range(1, hours):
        fresh = np.sqrt(1.0 - keep[hour] ** 2)
        chain[:, hour] = keep[hour] * chain[:, hour - 1] + fresh * chain[:, hour]
    own = random.normal(size=(runs, hours))
    return math.sqrt(share) * chain + math.sqrt(1.0 - share) * own


def ahead(runs=RUNS, hours=HOURS) -> np.ndarray:
    return np.broadcast_to(np.arange(float(hours)), (runs, hours))


def made_pairs(*, gust, breaks=None, rain=None, came=None) -> Pairs:
    """Pairs with what links look at and nothing else."""
    shape = np.shape(gust)
    empty = np.full(shape, NO)
    return Pairs(
        predictors={"gust": np.asarray(gust), "rain": empty if rain is None else rain},
        truth={"rain": empty if came is None else came},
        lead=ahead(*shape),
        month=np.zeros(shape, dtype=int),
        issued=np.zeros(shape[0], dtype=int),
        breaks=np.zeros(shape, dtype=bool) if breaks is None else breaks,
        latitude=LATITUDE,
        longitude=LONGITUDE,
    )


# Hour to hour -------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "lasts"), [(1.0, 4.0), (0.8, 5.0), (0.6, 12.0), (0.9, 2.5)])
def test_share_and_hours_are_found_again(share, lasts):
    """Of each correlation on its curve, the mean over lead times within 0.03, that of one
    lead within 0.06: 800 histories of which neighbouring hours say much the same.
    """
    found, hours = hold(noise(share=share, lasts=lasts), ahead(), LEADS)
    assert len(hours) == len(LEADS)
    assert found == pytest.approx(share, abs=0.04)
    for lag in (1, 2, 3, 6):
        wanted = share * math.exp(-lag / lasts)
        at_leads = [found * math.exp(-lag / at) for at in hours]
        assert at_leads == pytest.approx([wanted] * len(LEADS), abs=0.06)
        assert np.mean(at_leads) == pytest.approx(wanted, abs=0.03)


def test_hours_that_grow_with_the_lead_are_found_at_each():
    """Of errors that last 2 h at first and 10 h after three days."""
    lasts = np.interp(np.arange(HOURS) / 24.0, LEADS, (2.0, 4.0, 7.0, 10.0))
    share, hours = hold(noise(share=0.9, lasts=lasts, seed=4), ahead(), LEADS)
    assert share == pytest.approx(0.9, abs=0.05)
    assert list(hours) == sorted(hours)
    # Nearest to a lead the hours are a mean over half a day on either side.
    for at, wanted in zip(hours, (2.5, 4.0, 7.0, 9.5), strict=True):
        assert at == pytest.approx(wanted, rel=0.2)


def test_gaps_do_not_matter():
    """A fifth of the hours is not known."""
    left = noise(share=0.8, lasts=5.0, seed=2)
    left[np.random.default_rng(3).uniform(size=left.shape) < 0.2] = NO
    share, hours = hold(left, ahead(), LEADS)
    assert share * math.exp(-2.0 / np.mean(hours)) == pytest.approx(
        0.8 * math.exp(-2.0 / 5.0), abs=0.03
    )


def test_few_pairs_leave_the_table_one_starts_from():
    """At each lead time its own; without one, what the code says stands alone."""
    base = quantity({"gust": 1}, share=0.7, hours=(1.0, 2.0, 3.0, 4.0), leads=4)
    few = noise(2, HOURS)
    share, hours = hold(few, ahead(2), LEADS, base)
    assert (share, hours) == (pytest.approx(0.7), (1.0, 2.0, 3.0, 4.0))
    share, hours = hold(few, ahead(2), LEADS)
    assert 0.0 < share <= 1.0
    assert min(hours) > 0.0


def test_noise_without_memory_is_given_none():
    """Correlations of nought: whatever the curve, none of note an hour on."""
    left = np.random.default_rng(5).normal(size=(RUNS, HOURS))
    share, hours = hold(left, ahead(), LEADS)
    for at in hours:
        assert share * math.exp(-1.0 / at) < 0.1


# Rain ---------------------------------------------------------------------------------


def wet_hours(chance: np.ndarray, **more) -> np.ndarray:
    """Rain wherever the noise passes the mark whose tail is the chance."""
    marks = np.vectorize(lambda p: NORMAL.inv_cdf(1.0 - p))(chance)
    return (noise(*chance.shape, **more) > marks).astype(float)


@pytest.mark.parametrize(("share", "lasts"), [(0.9, 6.0), (0.7, 3.0)])
def test_the_hold_of_rain_is_found_behind_wet_and_dry(share, lasts):
    """From nothing but which hours were wet, their chances changing from hour to hour."""
    random = np.random.default_rng(6)
    swing = np.sin(np.arange(HOURS) / 5.0 + random.uniform(0, 6, (RUNS, 1)))
    chance = 0.35 + 0.25 * swing
    wet = wet_hours(chance, share=share, lasts=lasts, seed=7)
    found, hours = hold_of_rain(chance, wet, 4)
    assert len(set(hours)) == 1
    assert len(hours) == 4
    for lag in (1, 2, 3, 6):
        wanted = share * math.exp(-lag / lasts)
        assert found * math.exp(-lag / hours[0]) == pytest.approx(wanted, abs=0.06)


def test_small_chances_tell_the_hold_of_rain_too():
    """One hour in twenty-five is wet, as in a dry month."""
    chance = np.full((4 * RUNS, HOURS), 0.04)
    wet = wet_hours(chance, share=0.9, lasts=6.0, seed=8)
    found, hours = hold_of_rain(chance, wet, 2)
    for lag in (1, 3):
        wanted = 0.9 * math.exp(-lag / 6.0)
        assert found * math.exp(-lag / hours[0]) == pytest.approx(wanted, abs=0.12)


def test_the_hold_of_rain_does_not_hang_on_which_hours_are_looked_at():
    """Known hours only; with few of them the table one starts from stands."""
    base = made_error(rain=quantity({"one": -2}, share=0.66, hours=7.0))
    chance = np.full((1, HOURS), 0.3)
    wet = wet_hours(chance)
    assert hold_of_rain(chance, wet, 2, base) == (0.66, (7.0, 7.0))
    many = np.full((RUNS, HOURS), 0.3)
    came = wet_hours(many, share=0.8, lasts=4.0)
    came[:, ::7] = NO
    found, hours = hold_of_rain(many, came, 2)
    wanted = 0.8 * math.exp(-1.0 / 4.0)
    assert found * math.exp(-1.0 / hours[0]) == pytest.approx(wanted, abs=0.06)


@pytest.mark.parametrize("link", [-0.5, -0.1, 0.0, 0.4])
def test_the_link_of_air_with_rain_is_found(link):
    """Of the errors of air with the normal number behind rain."""
    behind, own = noise(seed=11), noise(seed=12)
    left = link * behind + math.sqrt(1.0 - link**2) * own
    chance = np.clip(0.3 + 0.2 * np.sin(np.arange(HOURS) / 4.0), 0.05, 0.9)
    chance = np.broadcast_to(chance, left.shape)
    marks = np.vectorize(lambda p: NORMAL.inv_cdf(1.0 - p))(chance)
    wet = (behind > marks).astype(float)
    assert with_rain(left, chance, wet) == pytest.approx(link, abs=0.06)
    wet[:, 10:] = NO
    left[:, 5:] = NO
    assert with_rain(left, chance, wet) == pytest.approx(link, abs=0.12)
    few = with_rain(left[:5], chance[:5], wet[:5], made_error(air_with_rain=-0.33))
    assert few == -0.33


def test_the_amounts_of_wet_hours_are_a_line():
    """The log of what fell against that of what was said; dry hours do not count."""
    random = np.random.default_rng(13)
    said = np.where(
        random.uniform(size=(RUNS, 24)) < 0.5, random.uniform(0, 8, (RUNS, 24)), 0.0
    )
    logs = 1.5 + 0.5 * np.log(np.maximum(said, 0.1)) + 0.3 * random.normal(size=said.shape)
    came = np.where(random.uniform(size=said.shape) < 0.3, np.exp(logs), 0.0)
    pairs = made_pairs(gust=said, rain=np.log1p(10.0 * said), came=came)
    rows = np.ones(said.shape, dtype=bool)
    found = amount_of_rain(pairs, rows)
    assert found == pytest.approx((1.5, 0.5, 0.3), abs=0.03)
    rows[:, :12] = False
    other = amount_of_rain(pairs, rows)
    assert other == pytest.approx((1.5, 0.5, 0.3), abs=0.04)
    assert other != found
    base = made_error(rain_amount=(9.0, 8.0, 7.0))
    assert amount_of_rain(pairs, np.zeros_like(rows), base) == (9.0, 8.0, 7.0)


# Gust and mean wind -------------------------------------------------------------------


@pytest.mark.parametrize("link", [0.0, 0.4, 0.8])
def test_the_link_of_gust_and_mean_wind_is_found(link):
    """In the same hour; with few pairs the table's, never below nought."""
    gust, own = noise(seed=14), noise(seed=15)
    wind = link * gust + math.sqrt(1.0 - link**2) * own
    assert same_hour(gust, wind) == pytest.approx(link, abs=0.02)
    assert same_hour(gust, -gust) == 0.0
    few = gust[:1, :50]
    assert same_hour(few, few, made_error(gust_with_wind=0.44)) == 0.44


# The morning --------------------------------------------------------------------------

MORNINGS = (30, 54, 78)  # of forecasts of 96 h, each in the seventh hour of its day


def at_mornings(runs: int = RUNS) -> np.ndarray:
    breaks = np.zeros((runs, HOURS), dtype=bool)
    breaks[:, MORNINGS] = True
    return breaks


def cut_noise(rest: float, *, runs: int = 4 * RUNS, lasts: float = 6.0, seed=16) -> np.ndarray:
    cut = np.ones(HOURS)
    cut[list(MORNINGS)] = rest
    return noise(runs, share=0.9, lasts=lasts, seed=seed, cut=cut)


OWN = quantity({"gust": 1}, share=0.9, hours=6.0, leads=len(LEADS))


@pytest.mark.parametrize("rest", [1.0, 0.7, 0.4])
def test_what_is_left_across_the_morning_is_found(rest):
    """After calm nights, over the hours on either side of the break-up."""
    gust = np.full((4 * RUNS, HOURS), 1.5)
    pairs = made_pairs(gust=gust, breaks=at_mornings(4 * RUNS))
    found = through_morning(cut_noise(rest), pairs, OWN, leads=_days(OWN))
    assert found == pytest.approx(rest, abs=0.06)


def test_only_calm_nights_count():
    """Half the forecasts are of windy nights, whose errors pass the morning whole."""
    runs = 4 * RUNS
    left = np.concatenate([cut_noise(0.4, runs=runs), cut_noise(1.0, runs=runs, seed=17)])
    gust = np.full((2 * runs, HOURS), 1.5)
    gust[runs:] = 3.0
    assert 1.5**2 < value("planning", "calm_night_gust") < 3.0**2
    found = through_morning(
        left, made_pairs(gust=gust, breaks=at_mornings(2 * runs)), OWN, leads=_days(OWN)
    )
    assert found == pytest.approx(0.4, abs=0.06)


def test_the_night_is_the_six_hours_before_the_morning():
    """As in drawing: the gusts of the hour itself and of the day do not count."""
    gust = np.full((4 * RUNS, HOURS), 9.0)
    for morning in MORNINGS:
        gust[:, morning - 6 : morning] = 1.5
    pairs = made_pairs(gust=gust, breaks=at_mornings(4 * RUNS))
    assert through_morning(cut_noise(0.4), pairs, OWN, leads=_days(OWN)) == pytest.approx(
        0.4, abs=0.06
    )


def test_a_night_that_is_not_said_is_not_calm():
    """Hours without a gust are no data, not gusts of nought."""
    base = made_error(morning=0.55)
    gust = np.full((RUNS, HOURS), NO)
    pairs = made_pairs(gust=gust, breaks=at_mornings())
    left = cut_noise(0.4, runs=RUNS)
    assert through_morning(left, pairs, OWN, base=base, leads=_days(OWN)) == 0.55


def test_too_few_mornings_leave_the_table():
    """Or, without one, nothing is cut."""
    pairs = made_pairs(gust=np.full((20, HOURS), 1.5), breaks=at_mornings(20))
    left = cut_noise(0.4, runs=20)
    assert (
        through_morning(left, pairs, OWN, base=made_error(morning=0.55), leads=_days(OWN))
        == 0.55
    )
    assert through_morning(left, pairs, OWN, leads=_days(OWN)) == 1.0


def test_hours_that_grow_with_the_lead_are_reckoned_with_at_the_morning():
    """Errors that last longer later on, and pass every morning whole: nothing is cut; cut to
    a half, a half is found.
    """
    lasts = np.interp(np.arange(HOURS) / 24.0, (0.0, 4.0), (2.0, 14.0))
    own = quantity({"gust": 1}, share=0.9, hours=(2.0, 5.0, 8.0, 11.0, 14.0), leads=5)
    cut = np.ones(HOURS)
    cut[list(MORNINGS)] = 0.5
    left = noise(4 * RUNS, share=0.9, lasts=lasts, seed=18, cut=cut)
    pairs = made_pairs(gust=np.full((4 * RUNS, HOURS), 1.5), breaks=at_mornings(4 * RUNS))
    assert through_morning(left, pairs, own, leads=_days(own)) == pytest.approx(0.5, abs=0.1)
