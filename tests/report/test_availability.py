"""Which hours hold a number, counted again hour by hour: gaps, years, shares."""

from __future__ import annotations

import datetime as dt
from itertools import groupby
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.report.availability import gaps, holds, longest_gap, shares, years
from planner.weather.table import Weather
from tests.report.made_weather import ALL, weather_with

ZONES = ("UTC", "America/Chicago", "Asia/Kolkata", "Australia/Lord_Howe", "America/Havana")
#: Lengths on both sides of two months and of three years [h].
LENGTHS = (1, 30, 59 * 24 + 23, 60 * 24, 400 * 24, 1160 * 24)


@st.composite
def weathers(draw: st.DrawFn, lengths: tuple[int, ...] = LENGTHS) -> Weather:
    """Draw weather of any length whose columns have holes of any length."""
    hours = draw(st.sampled_from(lengths))
    day = draw(st.integers(0, 3000))
    first = f"{dt.date(2019, 1, 1) + dt.timedelta(days=day)} {draw(st.integers(0, 23)):02d}:00"
    there = {}
    for name in draw(st.lists(st.sampled_from(ALL), min_size=1, unique=True)):
        mask = np.ones((draw(st.integers(1, 2)), hours), bool)
        for _ in range(draw(st.integers(0, 4))):
            begin = draw(st.integers(0, hours - 1))
            end = begin + draw(st.integers(1, hours))
            mask[draw(st.integers(0, len(mask) - 1)), begin:end] = False
        there[name] = mask
    members = max(map(len, there.values()))
    there = {name: np.broadcast_to(mask, (members, hours)) for name, mask in there.items()}
    return weather_with(there, first=first)


def label(time: dt.datetime, by: str) -> str:
    """Give the row of a local time, from its own digits."""
    text = time.isoformat()
    return {"day": text[:10], "month": text[:7], "month of the year": text[5:7]}[by]


@settings(deadline=None, max_examples=25)
@given(weather=weathers(), zone=st.sampled_from(ZONES))
def test_shares_are_those_of_a_plain_loop(weather: Weather, zone: str) -> None:
    """Every hour once, in the row and column that the standard library's clock gives it."""
    found = shares(weather, ALL, time_zone=zone)
    clock = ZoneInfo(zone)
    hours: dict[tuple[str, int], int] = {}
    there: dict[tuple[str, str, int], int] = {}
    for at, time in enumerate(weather.times.to_pydatetime()):
        local = time.astimezone(clock)
        row = label(local, found.by)
        hours[row, local.hour] = hours.get((row, local.hour), 0) + 1
        for name in ALL:
            if name not in weather.values:
                continue
            column = weather.values[name]
            if not any(
                column[member, at] != column[member, at] for member in range(len(column))
            ):
                key = (name, row, local.hour)
                there[key] = there.get(key, 0) + 1
    for at, row in enumerate(found.rows):
        for hour in range(24):
            assert found.hours[at, hour] == hours.get((row, hour), 0)
            for name in ALL:
                count = there.get((name, row, hour), 0)
                assert found.there[name][at, hour] == count
                share = found.share(name)[at, hour]
                if (row, hour) in hours:
                    assert share == pytest.approx(count / hours[row, hour])
                else:
                    assert np.isnan(share)
    assert found.hours.sum() == weather.hours
    assert {row for row, _ in hours} <= set(found.rows)


@pytest.mark.parametrize(
    ("hours", "by", "first", "last", "rows"),
    [
        (240, "day", "2026-04-28", "2026-05-08", 11),
        (60 * 24 - 1, "day", "2026-04-28", "2026-06-27", 61),
        (60 * 24, "month", "2026-04", "2026-06", 3),
        (24 * 365 * 3 - 24 * 40, "month", "2026-04", "2029-03", 36),
        (24 * 365 * 3, "month of the year", "01", "12", 12),
    ],
)
def test_rows_are_days_months_or_months_of_the_year(
    hours: int, by: str, first: str, last: str, rows: int
) -> None:
    """Days under two months, months in sequence up to 36 of them, then the twelve; by hand."""
    weather = weather_with({"wind_speed": np.ones(hours)}, first="2026-04-28 12:00")
    found = shares(weather, ("wind_speed",), time_zone="UTC")
    assert (found.by, found.rows[0], found.rows[-1], len(found.rows)) == (by, first, last, rows)


def test_the_night_the_clocks_go_back_has_an_hour_twice_and_forward_one_never() -> None:
    """Chicago 2026: on March 8 there is no 2:00, on November 1 there are two 1:00."""
    spring = weather_with({"wind_gust": np.ones(24)}, first="2026-03-08 06:00")
    found = shares(spring, ("wind_gust",), time_zone="America/Chicago")
    assert found.hours[0, 2] == 0
    assert np.isnan(found.share("wind_gust")[0, 2])
    there = np.ones(25, bool)
    there[1] = False  # the first of the two
    autumn = weather_with({"wind_gust": there}, first="2026-11-01 05:00")
    found = shares(autumn, ("wind_gust",), time_zone="America/Chicago")
    assert found.hours[0, 1] == 2
    assert found.share("wind_gust")[0, 1] == 0.5


def empty(weather: Weather, at: int) -> bool:
    """Say of one hour, number by number, whether the file gives nothing."""
    names = set(weather.values) - {"temp_air", "temp_dew"} or set(weather.values)
    return all(np.isnan(x) for name in names for x in weather.values[name][:, at])


@settings(deadline=None, max_examples=25)
@given(weather=weathers((1, 30, 200, 24 * 400)))
def test_gaps_are_those_of_a_run_length_count(weather: Weather) -> None:
    """Runs of empty hours in order, none touching the next; of two longest the first."""
    expected, at = [], 0
    for nothing, run in groupby(empty(weather, x) for x in range(weather.hours)):
        count = len(list(run))
        if nothing:
            expected.append((weather.times[at], count))
        at += count
    found = gaps(weather)
    assert [(x.first, x.hours) for x in found] == expected
    longest = longest_gap(found)
    if expected:
        most = max(count for _, count in expected)
        assert longest is not None
        assert (longest.first, longest.hours) == next(x for x in expected if x[1] == most)
    else:
        assert longest is None


def test_a_filled_temperature_does_not_hide_a_gap() -> None:
    """Readers fill temperature over short gaps; the wind shows that the rows are not there."""
    there = np.ones(10, bool)
    there[4:6] = False
    weather = weather_with({"temp_air": np.ones(10), "wind_speed": there})
    assert [x.hours for x in gaps(weather)] == [2]
    assert gaps(weather_with({"temp_air": np.ones(10)})) == ()


@settings(deadline=None, max_examples=25)
@given(weather=weathers((1, 366 * 24, 366 * 24 + 1, 900 * 24)))
def test_years_are_counted_hour_by_hour(weather: Weather) -> None:
    """Only if the file spans more than a year; every hour in its own year, UTC."""
    found = years(weather)
    if weather.hours <= 366 * 24:
        assert found == ()
        return
    counts: dict[int, list[int]] = {}
    for at, time in enumerate(weather.times):
        row = counts.setdefault(time.year, [0, 0, 0])
        row[0] += 1
        row[1] += empty(weather, at)
        gusts = weather.values.get("wind_gust")
        row[2] += gusts is None or bool(np.isnan(gusts[:, at]).any())
    assert {x.year: [x.hours, x.missing, x.blank_gusts] for x in found} == counts
    assert [x.year for x in found] == sorted(counts)


def test_an_hour_holds_a_number_only_if_no_member_lacks_it() -> None:
    """With two possible weathers, one blank is a blank."""
    weather = weather_with({"wind_gust": [[1, 0, 1, 0], [1, 1, 0, 0]]})
    assert holds(weather, "wind_gust").tolist() == [True, False, False, False]
    assert holds(weather, "ghi").tolist() == [False] * 4
    assert [x.first for x in gaps(weather)] == [pd.Timestamp("2031-04-29 08:00", tz="UTC")]
