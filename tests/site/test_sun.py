"""Sun places and times against the NREL report, the Naval Observatory and an almanac."""

from __future__ import annotations

import csv
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import ephem
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.site.sun import SUNRISE_BELOW, local_moment, sun_elevation, sun_times

PUBLISHED = Path(__file__).parents[1] / "published"
TWO_SECONDS = 2.0
ROUNDED_MINUTE = 33.0  # s: half a minute for the rounding, 3 s for two algorithms
MILLI_DEGREE = 0.001

with (PUBLISHED / "sun_times.csv").open() as file:
    PRINTED = list(csv.DictReader(file))

PLACES = {
    "Oregon": (44.05, -123.09, "America/Los_Angeles"),
    "Sydney": (-33.87, 151.21, "Australia/Sydney"),
    "Nairobi": (-1.29, 36.82, "Africa/Nairobi"),
    "Reykjavik": (64.15, -21.94, "Atlantic/Reykjavik"),
    "Kiritimati": (1.87, -157.43, "Pacific/Kiritimati"),
}
YEAR = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")


def pvlib_elevation(times, latitude, longitude):
    from pvlib.solarposition import get_solarposition

    return get_solarposition(times, latitude, longitude)["elevation"]


def seconds(stamps):
    return np.asarray(stamps).astype("datetime64[ns]").astype(np.int64) / 1e9


def clock(day, text, zone):
    return pd.Timestamp(f"{day} {text}").tz_localize(zone).timestamp()


def test_elevation_of_the_nrel_example():
    """NREL/TP-560-34302 table A5.1: 39.872046 deg before refraction."""
    moment = pd.DatetimeIndex(["2003-10-17 12:30:30-07:00"])
    made = sun_elevation(moment, 39.742476, -105.1786)
    assert float(made[0]) == pytest.approx(39.872046, abs=MILLI_DEGREE / 10)


@pytest.mark.parametrize("place", list(PLACES))
def test_elevation_is_pvlibs(place):
    """Interpolating between days loses nothing against the full algorithm."""
    latitude, longitude, _ = PLACES[place]
    times = pd.date_range("2019-12-30", periods=1500, freq="7h13min", tz="UTC")
    full = pvlib_elevation(times, latitude, longitude)
    made = sun_elevation(times, latitude, longitude)
    np.testing.assert_allclose(made, full, atol=MILLI_DEGREE / 10)


def test_elevation_ignores_the_index_unit():
    """Nanoseconds, microseconds or seconds, and any zone, are the same moment."""
    moment = pd.DatetimeIndex(["2026-03-20 15:00", "2026-03-20 16:00"], tz="UTC")
    wanted = sun_elevation(moment, 44.0, -93.0)
    for unit in ("s", "ms", "us", "ns"):
        other = moment.as_unit(unit).tz_convert("Asia/Kolkata")
        np.testing.assert_array_equal(sun_elevation(other, 44.0, -93.0), wanted)


@pytest.mark.parametrize("row", PRINTED, ids=lambda row: f"{row['latitude']}-{row['date']}")
def test_printed_to_the_second(row):
    """Sunrise, noon and sunset printed in seconds by NREL.

    NREL prints the sunset of the UTC date: west of Greenwich a sunset after midnight
    UTC is that of the local day before, and so it stands in the table.
    """
    made = sun_times(
        [date.fromisoformat(row["date"])],
        float(row["latitude"]),
        float(row["longitude"]),
        time_zone=row["zone"],
    )
    for name in ("sunrise", "noon", "sunset"):
        if row[name]:
            wanted = clock(row["date"], row[name], row["zone"])
            got = seconds(getattr(made, name))[0]
            assert got == pytest.approx(wanted, abs=float(row["tolerance_s"])), name


def test_printed_minutes_of_a_year():
    """All 730 minutes of a Naval Observatory table; sunsets fall on the next UTC date."""
    lines = (PUBLISHED / "usno_sun_2023.txt").read_text().splitlines()
    wanted = {}
    for line in lines:
        if not line.startswith("#"):
            day, *cells = line.split()
            for month in range(12):
                rise, set_ = cells[2 * month : 2 * month + 2]
                if rise != "--":
                    wanted[date(2023, month + 1, int(day))] = (rise, set_)
    days = sorted(wanted)
    assert len(days) == 365
    made = sun_times(days, 36.95, -112.52, time_zone="Etc/GMT+7")
    for index, stamps in enumerate((made.sunrise, made.sunset)):
        printed = [
            clock(day, f"{wanted[day][index][:2]}:{wanted[day][index][2:]}", "Etc/GMT+7")
            for day in days
        ]
        assert np.abs(seconds(stamps) - printed).max() <= ROUNDED_MINUTE


def almanac(latitude, longitude, noons, horizon="-0:50"):
    """Rising before and setting after each noon by an independent almanac [s]."""
    place = ephem.Observer()
    place.lat, place.lon = str(latitude), str(longitude)
    place.pressure, place.horizon, place.elevation = 0, horizon, 0
    found = []
    for noon in noons:
        place.date = ephem.Date(datetime.fromtimestamp(noon, UTC).replace(tzinfo=None))
        pair = []
        for look in (place.previous_rising, place.next_setting):
            moment = look(ephem.Sun(), use_center=True).datetime()
            pair.append(moment.replace(tzinfo=UTC).timestamp())
        found.append(pair)
    return np.array(found).T


@pytest.mark.parametrize("place", list(PLACES))
def test_a_year_against_an_almanac(place):
    """Every sunrise and sunset of a year at five places, both sides of the date line."""
    latitude, longitude, zone = PLACES[place]
    made = sun_times(YEAR, latitude, longitude, time_zone=zone)
    rise, set_ = almanac(latitude, longitude, seconds(made.noon))
    assert np.abs(seconds(made.sunrise) - rise).max() <= TWO_SECONDS
    assert np.abs(seconds(made.sunset) - set_).max() <= TWO_SECONDS


def test_work_light_height_against_an_almanac():
    """The same for the sun 3.44 deg down, where work light ends under a clear sky."""
    latitude, longitude, zone = PLACES["Oregon"]
    made = sun_times(YEAR[::5], latitude, longitude, time_zone=zone, below=3.44)
    rise, set_ = almanac(latitude, longitude, seconds(made.noon), horizon="-3:26:24")
    assert np.abs(seconds(made.sunrise) - rise).max() <= TWO_SECONDS
    assert np.abs(seconds(made.sunset) - set_).max() <= TWO_SECONDS


@pytest.mark.parametrize("place", list(PLACES))
def test_events_belong_to_their_local_date(place):
    """Sunrise, noon and sunset carry the local date asked for, the clock change included."""
    latitude, longitude, zone = PLACES[place]
    made = sun_times(YEAR, latitude, longitude, time_zone=zone)
    for stamps in (made.sunrise, made.noon):
        local = pd.DatetimeIndex(stamps).tz_localize("UTC").tz_convert(zone)
        assert (local.tz_localize(None).normalize() == pd.DatetimeIndex(YEAR)).all()


def test_polar_day_and_night_against_an_almanac():
    """At 69.65 N the sun stays up or down on just the days an almanac says."""
    made = sun_times(YEAR, 69.65, 18.96, time_zone="Europe/Oslo")
    place = ephem.Observer()
    place.lat, place.lon, place.pressure, place.horizon = "69.65", "18.96", 0, "-0:50"
    up, down = [], []
    for noon in seconds(made.noon):
        heights = []
        for hours in (-12, 0, 12):
            moment = datetime.fromtimestamp(noon, UTC) + timedelta(hours=hours)
            place.date = ephem.Date(moment.replace(tzinfo=None))
            heights.append(np.degrees(float(ephem.Sun(place).alt)))
        up.append(min(heights) > -SUNRISE_BELOW)
        down.append(max(heights) < -SUNRISE_BELOW)
    assert 50 < sum(up) < 90
    assert 40 < sum(down) < 70
    np.testing.assert_array_equal(made.always_up, up)
    np.testing.assert_array_equal(made.never_up, down)
    assert np.isnat(made.sunrise[made.always_up | made.never_up]).all()


def test_poles():
    """At the poles the sun is up half the year and down the other half."""
    for latitude in (90.0, -90.0):
        made = sun_times(YEAR, latitude, 0.0, time_zone="UTC")
        assert 180 < made.always_up.sum() < 195
        assert (made.always_up | made.never_up).sum() > 360


def test_height_by_date():
    """Each date and each half of the day may have its own height; a gap gives no time."""
    days = YEAR[:3]
    below = np.array([[0.8333, 6.0, np.nan], [3.4, 0.8333, 3.4]])
    made = sun_times(days, 44.0, -93.0, time_zone="America/Chicago", below=below)
    one = sun_times(days, 44.0, -93.0, time_zone="America/Chicago", below=6.0)
    assert made.sunrise[1] == one.sunrise[1]
    assert made.sunset[1] < one.sunset[1]
    assert np.isnat(made.sunrise[2])
    assert not np.isnat(made.sunset[2])
    assert not made.above.any()
    assert not made.under.any()


def test_a_midnight_that_does_not_exist():
    """Where clocks jump at midnight the day starts an hour later."""
    moment = local_moment([date(2018, 11, 4)], "America/Sao_Paulo", hours=0)
    assert moment[0] == datetime(2018, 11, 4, 3, tzinfo=UTC).timestamp()


def test_nothing_and_missing_moments():
    """No dates give no times; a missing moment gives no height, its neighbours stand."""
    assert sun_times([], 44.0, -93.0, time_zone="UTC").sunrise.shape == (0,)
    moments = pd.DatetimeIndex(["2026-06-21 18:00", None]).tz_localize("UTC")
    made = sun_elevation(moments, 44.0, -93.0)
    assert made[0] > 60.0
    assert np.isnan(made[1])


@settings(max_examples=60, deadline=None)
@given(
    day=st.dates(date(1990, 1, 1), date(2060, 12, 31)),
    latitude=st.floats(-64, 64),
    longitude=st.floats(-180, 180),
    below=st.floats(-0.5, 1.5),
)
def test_sun_is_where_it_should_be(day, latitude, longitude, below):
    """At each time given, pvlib finds the sun at the height asked for."""
    made = sun_times([day], latitude, longitude, time_zone="UTC", below=below)
    assert made.sunrise[0] < made.noon[0] < made.sunset[0]
    moments = pd.DatetimeIndex([made.sunrise[0], made.sunset[0]]).tz_localize("UTC")
    found = pvlib_elevation(moments, latitude, longitude)
    np.testing.assert_allclose(found, -below, atol=MILLI_DEGREE)
