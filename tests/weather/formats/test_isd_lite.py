"""NOAA ISD-Lite: the last ten minutes of each hour under the full hour, tenths, no gust."""

from __future__ import annotations

import datetime as dt
import gzip

import numpy as np
import pandas as pd
import pytest

from planner.errors import MissingColumn, WeatherError
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import NO, SAMPLES, check_hours

PATH = SAMPLES / "isd-lite.txt"
#: Positions from 0 of year, month, day and hour; eight fields of six characters follow.
CLOCK = (slice(0, 4), slice(5, 7), slice(8, 10), slice(11, 13))
FIELDS = ("temp", "dew", "level", "direction", "speed", "sky", "rain", "rain_six")


def rows(text):
    """Cut lines at the positions of the format document; give each by its full hour."""
    table = {}
    for line in text.splitlines():
        assert len(line) == 61
        cells = [int(line[at : at + 6]) for at in range(13, 61, 6)]
        told = [NO if cell == -9999 else cell for cell in cells]
        when = dt.datetime(*(int(line[at]) for at in CLOCK), tzinfo=dt.UTC)
        table[when] = dict(zip(FIELDS, told, strict=True))
    return table


def filled(states):
    """One missing state between two that are there is halfway between them."""
    out = list(states)
    for at in range(1, len(out) - 1):
        if states[at] != states[at]:
            out[at] = (states[at - 1] + states[at + 1]) / 2.0
    return out


def reckoned(table):
    """Documented: 0.1 °C, 0.1 hPa, degrees, 0.1 m/s, eighths, 0.1 mm with -1 a trace."""
    get = lambda name: [row[name] for row in table.values()]  # noqa: E731
    return {
        "temp_air": filled([v / 10.0 for v in get("temp")]),
        "temp_dew": filled([v / 10.0 for v in get("dew")]),
        "pressure": [v * 10.0 for v in get("level")],
        "wind_direction": get("direction"),
        "wind_speed": [v / 10.0 for v in get("speed")],
        "cloud_cover": [100.0 * v / 8.0 if v <= 8 else NO for v in get("sky")],
        "precipitation": [0.025 if v == -1 else v / 10.0 for v in get("rain")],
    }


def test_again():
    """Every hour; the row of 06 on 20 April, a report of 05:53, is of the hour from 05:00."""
    weather, table = read_weather(PATH), rows(PATH.read_text())
    assert min(table) == dt.datetime(2026, 4, 20, 6, tzinfo=dt.UTC)
    check_hours(weather, "2026-04-20T05:00", **reckoned(table))
    assert (weather.format, weather.kind, weather.gust_meaning) == (
        "isd-lite",
        "observed",
        "none",
    )
    assert "wind_gust" not in weather.values
    assert {"no_gusts", "trace"} <= {note.code for note in weather.notes}
    assert weather.place.latitude is None


def test_the_same_hours_as_the_full_record():
    """The reports it was drawn from stand in the same hours, read from Global-hourly."""
    lite, full = read_weather(PATH), read_weather(SAMPLES / "isd.csv")
    assert lite.times.equals(full.times)
    given = np.array([row["temp"] == row["temp"] for row in rows(PATH.read_text()).values()])
    both = [weather.values["temp_air"][0, given] for weather in (lite, full)]
    np.testing.assert_allclose(*both)
    winds = full.values["wind_speed"] - lite.values["wind_speed"]
    assert np.nanmin(winds) == 0.0
    assert np.nanmax(winds) > 0.0  # of a report at half past, which is not in this file


def test_rain_of_six_hours_never_counts(tmp_path):
    """A station that gives only sums of six hours is refused, not read as a dry one."""
    lines = PATH.read_text().splitlines()
    assert any(row["rain_six"] > 0 for row in rows(PATH.read_text()).values())
    text = "\n".join(line[:49] + " -9999" + line[55:] for line in lines)
    (tmp_path / "six.txt").write_text(text + "\n")
    with pytest.raises(MissingColumn, match="blank in every row") as caught:
        read_weather(tmp_path / "six.txt")
    assert caught.value.key == "precipitation"


def test_words_of_old_skies_are_no_eighths(tmp_path):
    """Codes 0 to 8 are eighths; 9 to 19 leave the cloud open."""
    lines = PATH.read_text().splitlines()[:20]
    text = "\n".join(f"{line[:43]}{code:6d}{line[49:]}" for code, line in enumerate(lines))
    (tmp_path / "sky.txt").write_text(text + "\n")
    weather = read_weather(tmp_path / "sky.txt")
    expected = [0.0, 12.5, 25.0, 37.5, 50.0, 62.5, 75.0, 87.5, 100.0]
    np.testing.assert_array_equal(weather.values["cloud_cover"][0], expected + [NO] * 11)
    assert "impossible" not in {note.code for note in weather.notes}


def test_as_it_is_downloaded(tmp_path):
    """One .gz a station and year, named by its number; two of them join, a lost hour shows."""
    lines = PATH.read_text().splitlines(keepends=True)
    names = [tmp_path / f"999999-99999-{year}.gz" for year in (2025, 2026)]
    for name, part in zip(names, (lines[:20], lines[21:]), strict=True):
        name.write_bytes(gzip.compress("".join(part).encode()))
    weather, whole = read_weather(names), read_weather(PATH)
    assert weather.times.equals(whole.times)
    assert weather.times[20] == pd.Timestamp("2026-04-21T01:00Z")
    wind = whole.values["wind_speed"].copy()
    wind[0, 20] = np.nan
    np.testing.assert_array_equal(weather.values["wind_speed"], wind)


def test_a_station_of_three_hours(tmp_path):
    """Many stations report each third hour only: they are refused, and the step is told."""
    lines = PATH.read_text().splitlines(keepends=True)
    (tmp_path / "third.txt").write_text("".join(lines[::3]))
    with pytest.raises(WeatherError, match="3 hours apart"):
        read_weather(tmp_path / "third.txt")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("2026 04 21 02 ", "2026 04 31 02 ", "no date"),
        ("2026 04 21 02 ", "2026 04 21 25 ", "no hour"),
        ("2026 04 21 02 ", "2026 04 21 x2 ", '"x2" is not a number'),
        ("2026 04 21 02    76", "2026 04 21 02   7.x", r'"7\.x" is not a number'),
        ("2026 04 21 02    76", "2026 04 21 02      ", "11 fields"),
    ],
)
def test_a_broken_line_is_named(tmp_path, old, new, words):
    """No date, no hour, no number, a field too few."""
    path = tmp_path / "broken.txt"
    text = PATH.read_text()
    assert text.splitlines()[20].startswith(old)
    path.write_text(text.replace(old, new))
    with pytest.raises(WeatherError, match=words) as caught:
        read_weather(path)
    assert (caught.value.file, caught.value.line) == (str(path), 21)
