"""Clocks: offsets, zones, the hour that comes twice and the one that never comes."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import WeatherError
from planner.weather.hourly.clock import read_zone
from planner.weather.read import read_weather

HEAD = "time,temp_air,wind_speed,wind_gust,precipitation\n"
HOUR = dt.timedelta(hours=1)


def written(tmp_path, times, above=""):
    path = tmp_path / "clock.csv"
    path.write_text(above + HEAD + "".join(f"{t},10,2,4,{i}\n" for i, t in enumerate(times)))
    return path


def order(weather):
    return weather.values["precipitation"][0].tolist()


FALL = [f"2026-11-01T{hour:02d}:00" for hour in (0, 1, 1, 2, 3)]


@pytest.mark.parametrize("turned", [False, True])
def test_the_hour_that_comes_twice(tmp_path, turned):
    """Clocks went back at 2 in New York: the lines' order tells, also last line first."""
    times = FALL[::-1] if turned else FALL
    weather = read_weather(written(tmp_path, times), zone="America/New_York")
    assert weather.times[0] == dt.datetime(2026, 11, 1, 4, tzinfo=dt.UTC)
    assert weather.hours == 5
    assert order(weather) == ([4, 3, 2, 1, 0] if turned else [0, 1, 2, 3, 4])
    assert "clock_change" in [note.code for note in weather.notes]


def test_the_hour_that_comes_twice_but_stands_once(tmp_path):
    """One of the two is missing: read as the first, with a doubt, and the gap is noted."""
    weather = read_weather(written(tmp_path, FALL[:2] + FALL[3:]), zone="America/New_York")
    notes = {note.code: note for note in weather.notes}
    assert notes["clock_once"].doubt
    assert "2026-11-01" in notes["clock_once"].text
    assert "gaps" in notes


def test_a_time_that_does_not_exist_is_refused(tmp_path):
    """Clocks went from 2 to 3 on 8 March 2026 in New York: 02:00 is refused with its line."""
    times = [f"2026-03-08T{hour:02d}:00" for hour in (0, 1, 2, 3)]
    with pytest.raises(WeatherError, match="does not exist in America/New_York") as caught:
        read_weather(written(tmp_path, times), zone="America/New_York")
    assert caught.value.line == 4


def test_the_skipped_hour_is_no_gap(tmp_path):
    """From 01:00 to 03:00 on that night is one hour."""
    times = [f"2026-03-08T{hour:02d}:00" for hour in (0, 1, 3, 4)]
    weather = read_weather(written(tmp_path, times), zone="America/New_York")
    assert weather.hours == 4
    assert "gaps" not in [note.code for note in weather.notes]


def test_offsets_may_change_inside_a_file(tmp_path):
    """Times that say their offset need no zone, also across a clock change."""
    offsets = ("-04:00", "-04:00", "-05:00", "-05:00", "-05:00")
    times = [time + offset for time, offset in zip(FALL, offsets, strict=True)]
    weather = read_weather(written(tmp_path, times))
    assert weather.hours == 5
    assert order(weather) == [0, 1, 2, 3, 4]


def test_the_zone_in_the_file_and_the_option(tmp_path):
    """A comment may name the zone; an option that says another overrules it with a doubt."""
    path = written(
        tmp_path, ["2026-07-01T00:00", "2026-07-01T01:00"], "# zone: Europe/London\n"
    )
    assert read_weather(path).times[0].hour == 23
    weather = read_weather(path, zone="UTC")
    assert weather.times[0].hour == 0
    assert [note.doubt for note in weather.notes if note.code == "zone"] == [True]


@pytest.mark.parametrize("zone", ["Nowhere/Town", "America/Newyork", "", "5"])
def test_no_such_zone(tmp_path, zone):
    """A zone that does not exist is refused with one that does."""
    with pytest.raises(WeatherError, match="not a time zone") as caught:
        read_weather(written(tmp_path, FALL), zone=zone)
    assert "America/New_York" in caught.value.fix


@pytest.mark.parametrize(
    ("text", "hours"), [("-04:00", -4.0), ("+0530", 5.5), ("UTC+2", 2.0), ("GMT-5", -5.0)]
)
def test_fixed_offsets(text, hours):
    """Fixed offsets are zones too."""
    assert read_zone(text).utcoffset(None) == dt.timedelta(hours=hours)


ZONES = ("America/New_York", "Europe/London", "Australia/Sydney", "America/Santiago", "UTC")


@settings(
    deadline=None, max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    zone=st.sampled_from(ZONES),
    first=st.integers(0, 2 * 365 * 24),
    count=st.integers(1, 60),
)
def test_local_times_written_by_zoneinfo_come_back(tmp_path, zone, first, count):
    """Hours written in local time without offset come back as they were, in any night."""
    start = dt.datetime(2024, 1, 1, tzinfo=dt.UTC) + HOUR * first
    true = [start + HOUR * i for i in range(count)]
    local = [time.astimezone(ZoneInfo(zone)).replace(tzinfo=None) for time in true]
    weather = read_weather(written(tmp_path, [f"{t:%Y-%m-%d %H:%M}" for t in local]), zone=zone)
    nights = {time.date() for time in (local[0], local[-1])}
    once = [note.text for note in weather.notes if note.code == "clock_once"]
    if not once:
        assert weather.times.to_pydatetime().tolist() == true
    else:  # the file begins or ends between the two passes, and the note names that night
        assert any(str(night) in text for night in nights for text in once)
