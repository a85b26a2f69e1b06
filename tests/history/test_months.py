"""Months learned from and months scored: which they are, and that they are kept apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.history.months import blocked, in_words, months_scored, overlap, paired, unseen
from planner.history.pairs import gather
from planner.history.replay import morning_runs
from planner.weather.archive import read_archive
from planner.weather.miss.error_file import error_text, shipped_error
from planner.weather.read import read_weather
from tests.history import made_archive as made

MARCH, APRIL, MAY = (12 * 2030 + month - 1 for month in (3, 4, 5))
HERE = {"latitude": made.LATITUDE, "longitude": made.LONGITUDE}


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """Sixty days from 3 March, three days ahead each."""
    folder = tmp_path_factory.mktemp("made")
    forecasts, came = made.made_tables()
    return (
        read_archive(made.write_table(forecasts, folder / "forecasts.csv")),
        read_weather(made.write_table(came, folder / "came.csv"), kind="observed"),
    )


@pytest.fixture(scope="module")
def pairs(both):
    return gather(*both, **HERE, time_zone=made.ZONE)


def counted(times):
    local = times.tz_convert(made.ZONE)
    return {12 * time.year + time.month - 1 for time in local}


def test_months_scored_are_those_of_every_hour_that_was_observed(both):
    """Hour by hour of every morning run; beyond the observations nothing is scored."""
    archive, came = both
    runs = [archive.weather(i) for i in morning_runs(archive, made.ZONE)]
    assert months_scored(archive, came, made.ZONE) == (MARCH, APRIL, MAY)
    for last in ("2030-03-25 12:00", "2030-03-31 12:00", "2030-04-30 12:00"):
        end = pd.Timestamp(last, tz="UTC")
        seen = came.between(came.times[0], end)
        expected = set().union(*(counted(run.times[run.times < end]) for run in runs))
        assert months_scored(archive, seen, made.ZONE) == tuple(sorted(expected))


def test_a_month_begins_by_the_clock_of_the_place(both):
    """Midnight of 1 April in Chicago is 05:00 UTC: one hour before it is still March."""
    archive, came = both
    for hour, expected in ((4, (MARCH,)), (5, (MARCH,)), (6, (MARCH, APRIL))):
        seen = came.between(came.times[0], pd.Timestamp(f"2030-04-01 {hour:02d}:00", tz="UTC"))
        assert months_scored(archive, seen, made.ZONE) == expected


def test_nothing_is_scored_of_other_days(both):
    """Observations of another year leave no month."""
    archive, came = both
    later = replace(came, times=came.times + pd.Timedelta(days=400))
    assert months_scored(archive, later, made.ZONE) == ()


def test_overlap_is_of_the_same_place_only():
    """Months in common count where the table was learned, not a thousand km away."""
    table = replace(shipped_error(), months=("2030-02", "2030-03", "2030-05"), **HERE)
    assert overlap(table, (MARCH, APRIL, MAY), **HERE) == ("2030-03", "2030-05")
    assert overlap(table, (APRIL,), **HERE) == ()
    assert overlap(table, (MARCH, APRIL, MAY), latitude=30.0, longitude=-91.4) == ()


@pytest.mark.parametrize(
    ("names", "words"),
    [
        ([], ""),
        (["2030-03"], "2030-03"),
        (["2030-12", "2031-01", "2031-03"], "2030-12 to 2031-01, 2031-03"),
    ],
)
def test_months_in_words(names, words):
    """Months in a row are one stretch, over the end of a year too."""
    assert in_words(names) == words


def test_first_and_last_pair(both):
    """The first hour of the first forecast; the last that was both said and seen."""
    archive, came = both
    assert paired(archive, came) == (archive.issues[0], archive.times.max())
    end = pd.Timestamp("2030-03-25 12:00", tz="UTC")
    assert paired(archive, came.between(came.times[0], end))[1] == end - pd.Timedelta(hours=1)
    wind = np.where(came.times < end, came.values["wind_speed"], np.nan)
    blank = replace(came, values={**came.values, "wind_speed": wind})
    assert paired(archive, blank)[1] == end - pd.Timedelta(hours=1)
    with pytest.raises(WeatherError, match="observed"):
        paired(archive, replace(came, values={**came.values, "wind_speed": wind * np.nan}))


def changed(pairs, month):
    """Other truth in one month; all else is the same."""
    truth = {
        name: np.where(pairs.month == month, 1.3 * column + 0.2, column)
        for name, column in pairs.truth.items()
    }
    return replace(pairs, truth=truth)


def test_a_month_is_scored_by_a_table_that_has_not_seen_it(pairs):
    """What came in April changes the table for March and leaves the one for April."""
    plain, other = (blocked(x, "made") for x in (pairs, changed(pairs, APRIL)))
    assert error_text(plain(APRIL)) == error_text(other(APRIL))
    assert error_text(plain(MARCH)) != error_text(other(MARCH))
    assert plain(APRIL).months == ("2030-03", "2030-05")
    assert plain(MARCH).months == ("2030-04", "2030-05")


def test_each_month_is_fitted_once(pairs):
    """The second time the same table is given."""
    error_for = blocked(pairs, "made")
    assert error_for(MARCH) is error_for(MARCH)


def test_one_month_teaches_nothing_of_itself(pairs):
    """With truth of one month only there is no other to learn from; the month is named."""
    truth = {
        name: np.where(pairs.month == APRIL, column, np.nan)
        for name, column in pairs.truth.items()
    }
    alone = replace(pairs, truth=truth)
    assert unseen(pairs) == ()
    assert unseen(alone) == (MARCH, MAY)
    with pytest.raises(WeatherError, match="2030-04"):
        blocked(alone, "made")
