"""NOAA Global-hourly: composite fields with marks, against the ISD documentation."""

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
from tests.weather.formats.reported import TRACE, by_hours, hour_closed

SAMPLE = Path(__file__).parents[3] / "data" / "samples" / "isd.csv"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[4] / "shared" / "weather")
).resolve()
needs_shared = pytest.mark.skipif(
    not SHARED.is_dir(), reason=f"no weather records at {SHARED}; set FILM_WEATHER"
)
SUMS = ("SOD", "SOM", "SOY")
NAMES = (
    "temp_air",
    "temp_dew",
    "wind_speed",
    "wind_direction",
    "wind_gust",
    "precipitation",
    "pressure",
)


def tenths(text, missing, mark):
    """A whole number in tenths; None if it is missing or its mark says 2, 3, 6 or 7."""
    return None if text.lstrip("+") == missing or mark in "2367" else int(text) / 10.0


def elements(row):
    """Give what one report says, by the document's element definitions."""
    out = {}
    direction, mark, _, speed, speed_mark = row["WND"].split(",")
    out["wind_speed"] = tenths(speed, "9999", speed_mark)
    turn = tenths(direction, "999", mark)
    out["wind_direction"] = None if turn is None else turn * 10.0
    out["temp_air"] = tenths(row["TMP"].split(",")[0], "9999", row["TMP"][-1])
    out["temp_dew"] = tenths(row["DEW"].split(",")[0], "9999", row["DEW"][-1])
    level = tenths(row["SLP"].split(",")[0], "99999", row["SLP"][-1])
    out["pressure"] = None if level is None else level * 100.0
    if row.get("OC1"):
        gust, mark = row["OC1"].split(",")
        out["wind_gust"] = tenths(gust, "9999", mark)
    rain = []
    for name in ("AA1", "AA2", "AA3", "AA4"):
        if row.get(name):
            hours, depth, condition, mark = row[name].split(",")
            if hours == "01" and condition in "29E":
                depth = tenths(depth, "9999", mark)
                if condition == "2":  # a trace, with nothing in the gauge
                    depth = depth or TRACE
                rain += [] if depth is None else [depth]
    out["precipitation"] = max(rain) if rain else None
    return {name: value for name, value in out.items() if value is not None}


def again(rows):
    """Put reports into the hours they close; a SYNOP beside an airport's adds gust and rain."""
    told = []
    for row in rows:
        kind = row["REPORT_TYPE"].strip()
        if kind not in SUMS:
            when = dt.datetime.fromisoformat(row["DATE"]).replace(tzinfo=dt.UTC)
            told.append((when, kind, elements(row)))
    airport = {hour_closed(when) for when, kind, _ in told if kind in ("FM-15", "FM-16")}
    reports = []
    for when, kind, said in told:
        if kind not in ("FM-15", "FM-16") and hour_closed(when) in airport:
            said = {n: said[n] for n in ("wind_gust", "precipitation") if n in said}
        reports.append((when, said))
    return by_hours(reports)


def check(weather, expected):
    """Compare hour by hour; temperature may be filled over two hours, nothing else."""
    filled = 0
    assert weather.values.keys() >= {name for x in expected.values() for name in x}
    for name in weather.values.keys() & set(NAMES):
        found = pd.Series(weather.values[name][0], index=weather.times).to_numpy()
        wanted = np.array(
            [expected.get(t.to_pydatetime(), {}).get(name, np.nan) for t in weather.times]
        )
        known = ~np.isnan(wanted)
        if name == "wind_gust":  # never below the mean of its hour
            wind = weather.values["wind_speed"][0]
            wanted = np.where(known & (wind > wanted), wind, wanted)
        np.testing.assert_allclose(found[known], wanted[known], rtol=1e-9, err_msg=name)
        if name in ("temp_air", "temp_dew"):
            filled += int((~np.isnan(found) & ~known).sum())
        else:
            assert np.isnan(found[~known]).all(), name
    return filled


def sample_rows():
    """Give the sample's rows by the csv module."""
    return list(csv.DictReader(SAMPLE.read_text().splitlines()))


def test_sample_hour_by_hour():
    """Marks, missing codes, one-hour rain only, airport before SYNOP, no sums of days."""
    weather = read_weather(SAMPLE)
    check(weather, again(sample_rows()))
    assert weather.format == "isd"
    assert weather.hours == 42
    assert (weather.place.latitude, weather.place.longitude) == (44.03, -91.41)
    assert weather.place.name == "LARKFIELD AIRFIELD, QX"
    codes = {note.code for note in weather.notes}
    assert {"other_rows", "suspect"} <= codes
    assert "impossible" not in codes


def test_longer_sums_are_no_hour():
    """The total is that of the one-hour sums: the six-hour sums in the file add nothing."""
    rows = sample_rows()
    six = [r for r in rows if r["AA1"].startswith("06") or r["AA2"].startswith("06")]
    assert len(six) > 6
    hourly = [r for r in rows if r["REPORT_TYPE"] == "FM-15"]
    total = 0.0
    for row in hourly:
        field = "AA2" if row["AA1"].startswith("06") else "AA1"
        hours, depth, condition, _ = row[field].split(",")
        assert hours == "01"
        total += 0.025 if condition == "2" else int(depth) / 10.0
    found = read_weather(SAMPLE).values["precipitation"]
    assert np.nansum(found) == pytest.approx(total)
    assert (found > 0).sum() == 7  # three of them traces


def test_traces_are_told():
    """Condition 2 of a one-hour sum: what it counts as is said."""
    told = [note.text for note in read_weather(SAMPLE).notes if note.code == "trace"]
    assert len(told) == 1
    assert "0.025" in told[0]


def test_a_synop_beside_an_airport_adds_gust_and_rain_alone(tmp_path):
    """It repeats the airport's report, or is of another minute: its peaks count, no more."""
    rows = sample_rows()
    airport = {hour_closed(time(x)) for x in rows if x["REPORT_TYPE"].strip() == "FM-15"}
    doubles = [x for x in rows if x["REPORT_TYPE"].strip() == "FM-12"]
    assert doubles
    assert {hour_closed(time(x)) for x in doubles} <= airport
    row = doubles[3]
    hour = hour_closed(time(row))
    row |= {"WND": "200,1,N,0311,1", "TMP": "+0333,1", "DEW": "+0222,1", "SLP": "09876,1"}
    row |= {"OC1": "0345,1", "AA1": "01,0077,9,1"}
    with (tmp_path / "s.csv").open("w", newline="") as out:
        writer = csv.DictWriter(out, list(rows[0]), quoting=csv.QUOTE_ALL)
        writer.writeheader()
        writer.writerows(rows)
    changed, usual = read_weather(tmp_path / "s.csv"), read_weather(SAMPLE)
    at = usual.times.get_loc(pd.Timestamp(hour))
    for name, values in usual.values.items():
        other = np.flatnonzero(changed.values[name][0] != values[0])
        other = other[~np.isnan(values[0, other]) | ~np.isnan(changed.values[name][0, other])]
        assert other.tolist() == ([at] if name in ("wind_gust", "precipitation") else []), name
    assert changed.values["wind_gust"][0, at] == 34.5
    assert changed.values["precipitation"][0, at] == 7.7


def time(row):
    """Give the time of a report."""
    return dt.datetime.fromisoformat(row["DATE"]).replace(tzinfo=dt.UTC)


def test_broken_part(tmp_path):
    """A part that is no number: file, line and part are named."""
    text = SAMPLE.read_text().splitlines()
    text[12] = re.sub(r'"(\d{3}),5,N,\d{4},5"', r'"\1,5,N,00x1,5"', text[12])
    assert "00x1" in text[12]
    (tmp_path / "broken.csv").write_text("\n".join(text) + "\n")
    with pytest.raises(WeatherError, match='"00x1" is not a number') as caught:
        read_weather(tmp_path / "broken.csv")
    assert (caught.value.line, caught.value.key) == (13, "WND.3")
    assert str(caught.value.file).endswith("broken.csv")


@needs_shared
def test_real_rows_have_no_hourly_rain(tmp_path):
    """Two real SYNOPs have 24-hour rain only: no hour is made of it. The rest is read."""
    path = SHARED / "api_samples" / "noaa_global_hourly_94733_2019.csv"
    with pytest.raises(WeatherError, match="no column of rain"):
        read_weather(path)
    text = path.read_text()
    assert '"24,0000,9,1"' in text
    text = text.replace('"24,0000,9,1"', '"01,0000,9,1"').replace(
        '"24,0004,3,1"', '"01,0004,9,1"'
    )
    text = text.replace("2019-01-05", "2019-01-03").replace("22:00", "21:00", 1)
    (tmp_path / "two.csv").write_text(text)
    weather = read_weather(tmp_path / "two.csv")
    check(weather, again(csv.DictReader(io.StringIO(text))))
    np.testing.assert_allclose(weather.values["wind_speed"][0], [1.0, 2.6])
    np.testing.assert_allclose(weather.values["precipitation"][0], [0.0, 0.4])


def from_fixed_width(line):
    """Write one record of the fixed-width archive as a row of the CSV."""
    row = {
        "STATION": line[4:15],
        "DATE": f"{line[15:19]}-{line[19:21]}-{line[21:23]}T{line[23:25]}:{line[25:27]}:00",
        "REPORT_TYPE": line[41:46],
        "WND": f"{line[60:63]},{line[63]},{line[64]},{line[65:69]},{line[69]}",
        "TMP": f"{line[87:92]},{line[92]}",
        "DEW": f"{line[93:98]},{line[98]}",
        "SLP": f"{line[99:104]},{line[104]}",
    }
    added = line[105:].split("REM")[0]
    for at in re.finditer(r"AA([1-4])(\d{2})(\d{4})(.)(.)", added):
        row[f"AA{at[1]}"] = ",".join(at.groups()[1:])
    gust = re.search(r"OC1(\d{4})(.)", added)
    row["OC1"] = ",".join(gust.groups()) if gust else ""
    return row


@needs_shared
def test_a_year_of_real_records(tmp_path):
    """12,146 real records of 2016, rewritten as CSV by the document's positions."""
    path = SHARED / "station_samples" / "DS3505_KAMW_2016.txt.gz"
    with gzip.open(path, "rt") as file:
        rows = [from_fixed_width(line.rstrip("\n")) for line in file]
    assert len(rows) == 12_146
    names = [*rows[0], "AA1", "AA2", "AA3", "AA4", "OC1"]
    with (tmp_path / "year.csv").open("w", newline="") as out:
        writer = csv.DictWriter(out, list(dict.fromkeys(names)), quoting=csv.QUOTE_ALL)
        writer.writeheader()
        writer.writerows(rows)
    weather, expected = read_weather(tmp_path / "year.csv"), again(rows)
    assert check(weather, expected) <= 40
    wanted = sum(x.get("precipitation", 0.0) for x in expected.values())
    assert np.nansum(weather.values["precipitation"]) == pytest.approx(wanted)
    assert np.nanmax(weather.values["wind_gust"]) == max(
        x.get("wind_gust", 0.0) for x in expected.values()
    )
