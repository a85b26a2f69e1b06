"""NOAA Local Climatological Data, both versions, against its documentation."""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import io
import os
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.weather.read import read_weather
from tests.weather.formats.reported import TRACE, by_hours, fallen, hour_closed, thundered

SAMPLES = Path(__file__).parents[3] / "data" / "samples"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[4] / "shared" / "weather")
).resolve()
needs_shared = pytest.mark.skipif(
    not SHARED.is_dir(), reason=f"no weather records at {SHARED}; set FILM_WEATHER"
)
HOUR = dt.timedelta(hours=1)
MILE = 1609.344 / 3600.0  # m/s in a mph
COLUMNS = {
    "temp_air": "HourlyDryBulbTemperature",
    "temp_dew": "HourlyDewPointTemperature",
    "relative_humidity": "HourlyRelativeHumidity",
    "wind_speed": "HourlyWindSpeed",
    "wind_gust": "HourlyWindGustSpeed",
    "wind_direction": "HourlyWindDirection",
    "precipitation": "HourlyPrecipitation",
    "pressure": "HourlyStationPressure",
}


def in_si(name, number):
    """Turn a number of version 1 into the table's unit."""
    if name.startswith("temp"):
        return (number - 32.0) / 1.8
    factor = {"precipitation": 25.4, "pressure": 3386.389}.get(name, 1.0)
    return number * (MILE if name in ("wind_speed", "wind_gust") else factor)


def value(name, text, *, version):
    """Give what a cell means, None where it is blank, missing or suspect."""
    text = text.strip()
    if text in ("", "M", "*", "VRB") or text.endswith("s"):
        return None
    if text == "T":
        return TRACE
    if version == 1:
        return in_si(name, float(text))
    return float(text) * (100.0 if name == "pressure" else 1.0)


def again(text, *, version, hours_west):
    """Read a file anew: reports in the hour they close; a SYNOP beside those of an airport
    repeats them, so it adds at most a larger gust or rain.
    """
    rows = []
    for row in csv.DictReader(io.StringIO(text, newline="")):
        kind = row["REPORT_TYPE"].strip()
        if kind.startswith("FM-"):
            when = dt.datetime.fromisoformat(row["DATE"]).replace(tzinfo=dt.UTC)
            rows.append((when + dt.timedelta(hours=hours_west), kind, row))
    airport = {hour_closed(when) for when, kind, _ in rows if kind != "FM-12"}
    reports = []
    for when, kind, row in rows:
        said = {n: value(n, row[column], version=version) for n, column in COLUMNS.items()}
        said["precipitation"] = fallen(said["precipitation"], row["REM"])
        said["thunder"] = thundered(row["REM"])
        if kind == "FM-12" and hour_closed(when) in airport:
            said = {n: said[n] for n in ("wind_gust", "precipitation")}
        reports.append((when, said))
    return by_hours(reports)


def check(weather, expected):
    """Compare hour by hour; temperature may be filled over two hours, nothing else."""
    wind = weather.values["wind_speed"][0]
    for name in (*COLUMNS, "thunder"):
        found = weather.values[name][0]
        wanted = np.array(
            [expected.get(t.to_pydatetime(), {}).get(name, np.nan) for t in weather.times]
        )
        known = ~np.isnan(wanted)
        if name == "wind_gust":
            wanted = np.where(known & (wind > wanted), wind, wanted)
        np.testing.assert_allclose(
            found[known], wanted[known], rtol=1e-7, atol=1e-9, err_msg=name
        )
        if name not in ("temp_air", "temp_dew"):
            assert np.isnan(found[~known]).all(), name


@pytest.mark.parametrize(("name", "version"), [("lcd", 2), ("lcd-us", 1)])
def test_samples_hour_by_hour(name, version):
    """Both versions of the same two days, told apart by the station's spelling."""
    path = SAMPLES / f"{name}.csv"
    weather = read_weather(path)
    with path.open(newline="") as file:
        check(weather, again(file.read(), version=version, hours_west=6))
    assert weather.format == name
    assert weather.hours == 42
    assert weather.times[0] == pd.Timestamp("2026-04-20T05:00Z")
    assert weather.gust_resolution == pytest.approx(1852 / 3600, abs=1e-6)
    assert weather.place.name == "LARKFIELD AIRFIELD, QX"
    codes = {note.code for note in weather.notes}
    assert {"other_rows", "suspect", "trace", "gusts_missing"} <= codes


def test_both_versions_say_the_same():
    """The two samples are one record: they agree within their own rounding."""
    si, us = (read_weather(SAMPLES / f"{name}.csv") for name in ("lcd", "lcd-us"))
    assert si.times.equals(us.times)
    near = {"temp_air": 0.34, "wind_speed": 0.28, "wind_gust": 0.28, "precipitation": 0.051}
    for name, room in near.items():
        np.testing.assert_allclose(si.values[name], us.values[name], rtol=0, atol=room)
        assert np.array_equal(np.isnan(si.values[name]), np.isnan(us.values[name]))


def test_standard_time_in_april(tmp_path):
    """Reports say UTC-6 in April, when clocks on walls there say UTC-5; so does the place."""
    text = (SAMPLES / "lcd.csv").read_text()
    bare = re.sub(r"MET\d{3}.*?,(?=2007)", ",", text)
    assert "METAR" not in bare
    (tmp_path / "bare.csv").write_text(bare)
    by_place = read_weather(tmp_path / "bare.csv")
    assert by_place.times.equals(read_weather(SAMPLES / "lcd.csv").times)


def test_reports_alone_tell_the_clock(tmp_path):
    """An order without coordinates has the same hours, by its reports."""
    text = (SAMPLES / "lcd-us.csv").read_text().replace(",44.03,-91.41,", ",,,")
    (tmp_path / "order.csv").write_text(text)
    order = read_weather(tmp_path / "order.csv")
    assert order.place.latitude is None
    assert order.times.equals(read_weather(SAMPLES / "lcd-us.csv").times)


def test_nothing_to_tell_the_clock(tmp_path):
    """Neither reports nor coordinates: the zone is asked for, and standard time kept in it."""
    text = re.sub(r"MET\d{3}.*?,(?=2007)", ",", (SAMPLES / "lcd.csv").read_text())
    text = text.replace(",44.03,-91.41,", ",,,")
    (tmp_path / "lost.csv").write_text(text)
    with pytest.raises(WeatherError, match="--zone"):
        read_weather(tmp_path / "lost.csv")
    asked = read_weather(tmp_path / "lost.csv", zone="America/Chicago")
    assert asked.times.equals(read_weather(SAMPLES / "lcd.csv").times)


def test_doubles_change_nothing(tmp_path):
    """Without the SYNOPs, which repeat the airport's reports, the table is the same."""
    lines = (SAMPLES / "lcd.csv").read_text().splitlines()
    kept = [line for line in lines if ",FM-12," not in line]
    assert len(lines) - len(kept) == 7
    (tmp_path / "airport.csv").write_text("\n".join(kept) + "\n")
    without, whole = read_weather(tmp_path / "airport.csv"), read_weather(SAMPLES / "lcd.csv")
    for name, values in whole.values.items():
        np.testing.assert_array_equal(without.values[name], values)


@pytest.mark.parametrize("name", ["lcd", "lcd-us"])
def test_broken_cell(tmp_path, name):
    """A letter that is no flag in a number: file, line and column are named."""
    lines = (SAMPLES / f"{name}.csv").read_text().splitlines()
    cells = next(csv.reader([lines[8]]))
    at = next(csv.reader([lines[0]])).index("HourlyWindSpeed")
    cells[at] = "3x"
    out = io.StringIO()
    csv.writer(out).writerow(cells)
    lines[8] = out.getvalue().strip()
    (tmp_path / "broken.csv").write_text("\n".join(lines) + "\n")
    with pytest.raises(WeatherError, match='"3x" is not a number') as caught:
        read_weather(tmp_path / "broken.csv")
    assert (caught.value.line, caught.value.key) == (9, "HourlyWindSpeed")
    assert str(caught.value.file).endswith("broken.csv")


@needs_shared
@pytest.mark.parametrize(
    ("name", "version", "west", "format_name", "first"),
    [
        ("LCD_USW00014939.csv.gz", 2, 6, "lcd", "2023-01-01T05:00Z"),
        ("LCD_order_3876540.csv.gz", 1, 5, "lcd-us", "2020-01-01T05:00Z"),
    ],
)
def test_real_files(name, version, west, format_name, first):
    """About 2,000 real rows each; the times are the file's own, whatever its name says."""
    path = SHARED / "station_samples" / name
    weather = read_weather(path)
    with gzip.open(path, "rt", newline="") as file:
        expected = again(file.read(), version=version, hours_west=west)
    check(weather, expected)
    assert weather.format == format_name
    assert weather.times[0] == pd.Timestamp(first)
    assert weather.hours == (max(expected) - min(expected)) // HOUR + 1
    gusts = int((~np.isnan(weather.values["wind_gust"])).sum())
    assert gusts == sum("wind_gust" in x for x in expected.values())
    assert 0.10 < gusts / len(expected) < 0.20
    wanted = sum(x.get("precipitation", 0.0) for x in expected.values())
    assert np.nansum(weather.values["precipitation"]) == pytest.approx(wanted)


@needs_shared
def test_real_hours_against_the_days_of_the_file():
    """Rain by hours adds up to the file's own sums of days, and no gust exceeds a day's peak.

    Of 55 days one has more than its hours tell (snow, melted later); a special report after
    the last hourly one counts twice, so up to a tenth more is let pass. The file ends within
    a day.
    """
    path = SHARED / "station_samples" / "LCD_USW00014939.csv.gz"
    weather = read_weather(path)
    with gzip.open(path, "rt", newline="") as file:
        told = {
            row["DATE"][:10]: (row["DailyPrecipitation"], row["DailyPeakWindSpeed"])
            for row in csv.DictReader(file)
            if row["REPORT_TYPE"].strip() == "SOD"
        }
    rain = weather.values["precipitation"][0]
    rain = np.where(rain == 0.025, 0.0, rain)  # days do not add traces up
    table = pd.DataFrame({"rain": rain, "gust": weather.values["wind_gust"][0]})
    day = weather.times.tz_convert("Etc/GMT+6").strftime("%Y-%m-%d")
    rain, gust = (table.groupby(day)[name] for name in ("rain", "gust"))
    rain, gust = rain.sum()[:-1], gust.max()[:-1]
    wet = {d: float(mm) for d, (mm, _) in told.items() if mm not in ("", "T") and d in rain}
    off = [d for d, mm in wet.items() if abs(rain[d] - mm) > max(0.3, 0.1 * mm)]
    assert len(wet) > 40
    assert len(off) <= 1
    peaks = {d: float(peak) for d, (_, peak) in told.items() if peak and d in gust}
    assert len(peaks) > 40
    assert not [d for d, peak in peaks.items() if gust[d] > peak + 0.3]
