"""Every sample read twice: by the reader, and by a few lines from its documented meaning."""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import math
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import planner.errors as err
from planner.weather.read import read_weather
from planner.weather.table import COLUMNS

SAMPLES = Path(__file__).parents[2] / "data" / "samples"
TENTH_OF_A_MM_S = 1e-4  # m/s; rounding of unit factors
HOUR = dt.timedelta(hours=1)


def codes(weather):
    return [note.code for note in weather.notes]


def number(text):
    return math.nan if text.strip() in ("", "NA", "NaN") else float(text)


def column(weather, name):
    return dict(zip(weather.times.to_pydatetime(), weather.values[name][0], strict=True))


def utc(year, month, day, hour=0):
    return dt.datetime(year, month, day, hour, tzinfo=dt.UTC)


def same(found, expected):
    np.testing.assert_allclose(found, expected, rtol=0, atol=TENTH_OF_A_MM_S)


@pytest.mark.parametrize(
    ("name", "location"),
    [
        ("openmeteo.csv", None),
        ("planner.csv", None),
        ("knmi.txt", None),
        ("airports.csv", "QXB"),
    ],
)
def test_the_table_is_even_and_complete(name, location):
    """Times are UTC, an hour apart, in ns; values are (1, hours); origins are complete."""
    weather = read_weather(SAMPLES / name, location=location)
    assert str(weather.times.tz) == "UTC"
    assert weather.times.unit == "ns"
    assert (np.diff(weather.times.asi8) == 3600 * 10**9).all()
    assert all(value.shape == (1, weather.hours) for value in weather.values.values())
    assert all(value.dtype == np.float64 for value in weather.values.values())
    assert not any(value.flags.writeable for value in weather.values.values())
    assert set(weather.origin) == {one.name for one in COLUMNS}
    assert weather.weights.tolist() == [1.0]
    assert weather.format == Path(name).stem


def openmeteo_rows():
    lines = (SAMPLES / "openmeteo.csv").read_text(encoding="utf-8").split("\n")[3:]
    rows = list(csv.DictReader(lines))
    return [{key.split(" (")[0]: value for key, value in row.items()} for row in rows]


def test_open_meteo_sample_by_hand():
    """Rain and gust belong to the hour before the label; states are joined over its ends."""
    rows = openmeteo_rows()
    weather = read_weather(SAMPLES / "openmeteo.csv")
    rain, gust = column(weather, "precipitation"), column(weather, "wind_gust")
    wind, temp = column(weather, "wind_speed"), column(weather, "temp_air")
    thunder, aloft = column(weather, "thunder"), column(weather, "wind_speed_aloft")
    for before, row in zip([None, *rows], rows, strict=False):
        local = dt.datetime.fromisoformat(row["time"]).replace(tzinfo=dt.UTC)
        start = local + dt.timedelta(seconds=18000) - HOUR
        same(rain[start], number(row["precipitation"]))
        same(gust[start], number(row["wind_gusts_10m"]) / 3.6)
        if before is None:
            assert math.isnan(wind[start])
            assert math.isnan(temp[start])
            continue
        ends = (before, row)
        same(wind[start], max(number(end["wind_speed_10m"]) for end in ends) / 3.6)
        same(aloft[start], max(number(end["wind_speed_80m"]) for end in ends) / 3.6)
        same(temp[start], sum(number(end["temperature_2m"]) for end in ends) / 2)
        assert thunder[start] == float("95" in [end["weather_code"] for end in ends])
    assert weather.hours == len(rows)
    assert weather.kind == "forecast"
    assert weather.credit == "Weather data by Open-Meteo.com, CC BY 4.0"
    assert (weather.place.latitude, weather.place.elevation) == (44.75, 352.0)


def test_open_meteo_issue_time_is_the_first_whole_hour():
    """Nobody says when it was issued: the first hour with a wind, with a note."""
    weather = read_weather(SAMPLES / "openmeteo.csv")
    assert (weather.issued, weather.issued_from) == (utc(2026, 4, 20, 5), "first hour")
    assert "issued_assumed" in codes(weather)


def test_own_sample_by_hand():
    """The plain CSV is the table itself: same names, same units, label at the start."""
    lines = (SAMPLES / "planner.csv").read_text().splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    weather = read_weather(SAMPLES / "planner.csv")
    for name in rows[0]:
        if name != "time":
            by_hour = column(weather, name)
            for row in rows:
                start = dt.datetime.fromisoformat(row["time"]).astimezone(dt.UTC)
                assert by_hour[start] == float(row[name])
    assert weather.hours == len(rows)
    assert (weather.issued, weather.issued_from) == (pd.Timestamp("2026-04-20T10:30Z"), "file")
    assert weather.place.name == "Wexelby Flats"
    assert weather.credit == "invented sample"
    assert weather.notes == ()


def test_knmi_sample_by_hand():
    """Whole numbers in tenths; hour 24 ends at midnight UTC; trace, 990 and 9 are codes."""
    text = (SAMPLES / "knmi.txt").read_text()
    head, *lines = text[text.index("# STN") :].splitlines()
    names = [name.strip(" #") for name in head.split(",")]
    rows = [dict(zip(names, line.split(","), strict=True)) for line in lines if line.strip()]
    weather = read_weather(SAMPLES / "knmi.txt")
    got = {name: column(weather, name) for name in weather.values}
    for row in rows:
        day = dt.datetime.strptime(row["YYYYMMDD"], "%Y%m%d").replace(tzinfo=dt.UTC)
        start = day + HOUR * (int(row["HH"]) - 1)
        same(got["wind_speed"][start], number(row["FH"]) / 10)
        same(got["wind_gust"][start], number(row["FX"]) / 10)
        rain = number(row["RH"])
        same(got["precipitation"][start], 0.025 if rain == -1 else rain / 10)
        same(got["pressure"][start], number(row["P"]) * 10)
        same(got["ghi"][start], number(row["Q"]) * 10_000 / 3600)
        bearing, eighths = number(row["DD"]), number(row["N"])
        same(got["wind_direction"][start], math.nan if bearing == 990 else bearing)
        same(got["cloud_cover"][start], math.nan if eighths == 9 else eighths * 12.5)
        assert got["thunder"][start] == number(row["O"])
        if row["T"].strip():
            same(got["temp_air"][start], number(row["T"]) / 10)
    assert weather.hours == len(rows)
    assert (weather.kind, weather.issued, weather.gust_resolution) == ("observed", None, 1.0)
    assert weather.place.name == "station 999"
    assert {"trace", "gusts_missing", "place_unknown", "temperature_filled"} <= set(
        codes(weather)
    )


def test_airport_sample_by_hand():
    """US units; the report belongs to the hour its label begins; a blank gust stays blank."""
    rows = list(csv.DictReader((SAMPLES / "airports.csv").read_text().splitlines()))
    weather = read_weather(SAMPLES / "airports.csv", location="QXA")
    got = {name: column(weather, name) for name in weather.values}
    ours = [row for row in rows if row["origin"] == "QXA"]
    for row in ours:
        start = dt.datetime.fromisoformat(row["time_hour"])
        same(got["wind_speed"][start], number(row["wind_speed"]) * 0.44704)
        same(got["wind_gust"][start], number(row["wind_gust"]) * 0.44704)
        same(got["temp_air"][start], (number(row["temp"]) - 32) / 1.8)
        same(got["precipitation"][start], number(row["precip"]) * 25.4)
        same(got["pressure"][start], number(row["pressure"]) * 100)
    hole = utc(2026, 4, 21, 1)
    assert hole not in [dt.datetime.fromisoformat(row["time_hour"]) for row in ours]
    assert math.isnan(got["wind_speed"][hole])
    assert math.isnan(got["precipitation"][hole])
    same(
        got["temp_air"][hole], (got["temp_air"][hole - HOUR] + got["temp_air"][hole + HOUR]) / 2
    )
    assert weather.gust_meaning == "10-minute maximum"


def test_several_places_must_be_chosen():
    """A file of two airports names both and asks; a third is refused."""
    with pytest.raises(err.WeatherError, match="2 airports: QXA, QXB") as caught:
        read_weather(SAMPLES / "airports.csv")
    assert "--location" in caught.value.fix
    with pytest.raises(err.WeatherError, match='no airport "QXC"'):
        read_weather(SAMPLES / "airports.csv", location="QXC")
    with pytest.raises(err.WeatherError, match="does not name it"):
        read_weather(SAMPLES / "planner.csv", location="QXA")


def test_gzip_and_zip_read_the_same(tmp_path):
    """A packed file gives the table of the plain one."""
    data = (SAMPLES / "knmi.txt").read_bytes()
    packed = tmp_path / "knmi.txt.gz"
    packed.write_bytes(gzip.compress(data))
    zipped = tmp_path / "knmi.zip"
    with zipfile.ZipFile(zipped, "w") as box:
        box.writestr("uurgeg_999.txt", data)
    plain = read_weather(SAMPLES / "knmi.txt")
    for path in (packed, zipped):
        other = read_weather(path)
        assert other.times.equals(plain.times)
        for name, value in plain.values.items():
            np.testing.assert_array_equal(value, other.values[name])


def test_several_files_of_one_station(tmp_path):
    """Two halves read together are the whole; an overlap that agrees is dropped with a note."""
    lines = (SAMPLES / "knmi.txt").read_text().splitlines(keepends=True)
    start = next(i for i, line in enumerate(lines) if line.startswith("# STN")) + 2
    first, second = tmp_path / "a.txt", tmp_path / "b.txt"
    first.write_text("".join(lines[: start + 40]))
    second.write_text("".join(lines[:start] + lines[start + 30 :]))
    whole, joined = read_weather(SAMPLES / "knmi.txt"), read_weather([second, first])
    for name, value in whole.values.items():
        np.testing.assert_array_equal(value, joined.values[name])
    note = next(note for note in joined.notes if note.code == "overlap")
    assert note.text.startswith("10 hours in several of the files")
    with pytest.raises(err.WeatherError, match="planner, the first file's knmi"):
        read_weather([SAMPLES / "knmi.txt", SAMPLES / "planner.csv"])


HEAD = "time,temp_air,wind_speed,wind_gust,precipitation\n"


def own(tmp_path, body, *, head=HEAD, above=""):
    path = tmp_path / "own.csv"
    path.write_text(above + head + body, encoding="utf-8")
    return path


def hours(count, *, start="2026-04-20T00:00", offset="Z"):
    first = dt.datetime.fromisoformat(start)
    return [f"{first + HOUR * i:%Y-%m-%dT%H:%M}{offset}" for i in range(count)]


def test_options_overrule_the_file(tmp_path):
    """--label, --kind and --issued stand above what the file says."""
    body = "".join(f"{t},10,2,4,{i}\n" for i, t in enumerate(hours(6)))
    path = own(tmp_path, body, above="# label: start\n# kind: forecast\n")
    plain, ended = read_weather(path), read_weather(path, label="end")
    assert (plain.times[0], ended.times[0]) == (utc(2026, 4, 20), utc(2026, 4, 19, 23))
    assert read_weather(path, kind="observed").issued is None
    issued = read_weather(path, issued="2026-04-20T02:00+02:00")
    assert (issued.issued, issued.issued_from) == (utc(2026, 4, 20), "option")
    with pytest.raises(err.WeatherError, match="not one of"):
        read_weather(path, label="ends")
    with pytest.raises(err.WeatherError, match="no offset"):
        read_weather(path, issued="2026-04-20T02:00")
    with pytest.raises(err.WeatherError, match="after its last hour"):
        read_weather(path, issued="2026-04-22T02:00Z")


def test_units_in_the_header_of_the_plain_csv(tmp_path):
    """A column may name its unit in parentheses."""
    head = "time,temp_air (°F),wind_speed (mph),wind_gust (kn),precipitation (inch)\n"
    weather = read_weather(own(tmp_path, "2026-04-20T00:00Z,50,10,20,0.1\n", head=head))
    found = [weather.values[n][0, 0] for n in ("temp_air", "wind_speed", "wind_gust")]
    same(found, [10.0, 4.4704, 10.28889])
    same(weather.values["precipitation"], [[2.54]])


def test_a_misspelt_column_is_doubted(tmp_path):
    """A column that looks like one of ours is named with the right spelling."""
    head = "time,temp_air,wind_speed,wind_gusts,precipitation\n"
    weather = read_weather(own(tmp_path, "2026-04-20T00:00Z,10,2,4,0\n", head=head))
    note = next(note for note in weather.notes if note.code == "unknown_column")
    assert note.doubt
    assert '"wind_gust"' in note.text
    assert weather.gust_meaning == "none"


@pytest.mark.parametrize(
    ("head", "lacks"),
    [
        ("time,wind_speed,wind_gust,precipitation,cloud_cover\n", "temp_air"),
        ("time,temp_air,wind_gust,precipitation,cloud_cover\n", "wind_speed"),
        ("time,temp_air,wind_speed,wind_gust,cloud_cover\n", "precipitation"),
    ],
)
def test_a_needed_column_that_is_not_there(tmp_path, head, lacks):
    """Temperature, wind, and rain or its chance: else what was found is named."""
    with pytest.raises(err.MissingColumn, match="Found: ") as caught:
        read_weather(own(tmp_path, "2026-04-20T00:00Z,5,6,1,1\n", head=head))
    assert caught.value.key == lacks
    assert caught.value.exit_code == 3


def test_a_blank_column_is_a_missing_column(tmp_path):
    """A wind column without a single number does not count as wind."""
    with pytest.raises(err.MissingColumn, match="mean wind"):
        read_weather(own(tmp_path, "2026-04-20T00:00Z,5,,1,1\n"))


def test_chance_of_rain_does_for_rain(tmp_path):
    """Rain may be missing where its chance is given."""
    head = "time,temp_air,wind_speed,wind_gust,precipitation_probability\n"
    weather = read_weather(own(tmp_path, "2026-04-20T00:00Z,5,2,4,60\n", head=head))
    assert weather.has("precipitation_probability")
    assert not weather.has("precipitation")


OPEN_METEO = "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation\n"


def test_open_meteo_parts_of_rain(tmp_path):
    """Rain, showers and snow add up only if their sum is not given; 7 cm of snow hold 10 mm."""
    head = "time,temperature_2m (°C),wind_speed_10m (m/s),rain (mm),showers (mm),snowfall (cm)"
    body = "2026-01-20T00:00,1,2,0.5,0.25,0\n2026-01-20T01:00,1,2,0,0,0.7\n"
    path = tmp_path / "om.csv"
    path.write_text(f"{OPEN_METEO}44,-91,300,0,GMT,GMT\n\n{head}\n{body}", encoding="utf-8")
    same(read_weather(path).values["precipitation"], [[0.75, 1.0]])
    given = body.replace("\n", ",0.1\n")
    text = f"{OPEN_METEO}44,-91,300,0,GMT,GMT\n\n{head},precipitation (mm)\n{given}"
    path.write_text(text, encoding="utf-8")
    same(read_weather(path).values["precipitation"], [[0.1, 0.1]])


def test_open_meteo_unix_time_and_old_spellings(tmp_path):
    """Seconds since 1970 are UTC whatever the offset; old names and mp/h are known."""
    head = "time,temperature_2m (°F),windspeed_10m (mp/h),windgusts_10m (mp/h)"
    head += ",precipitation (inch)"
    rows = "".join(f"{1776643200 + 3600 * i},50,10,20,0.1\n" for i in range(3))
    path = tmp_path / "om.csv"
    path.write_text(f"{OPEN_METEO}44,-91,300,-18000,x,x\n\n{head}\n{rows}", encoding="utf-8")
    weather = read_weather(path)
    assert weather.times[0] == dt.datetime.fromtimestamp(1776643200, dt.UTC) - HOUR
    same(weather.values["wind_speed"][0, 1:], [4.4704, 4.4704])
    same(weather.values["temp_air"][0, 1:], [10.0, 10.0])
    same(weather.values["precipitation"], [[2.54, 2.54, 2.54]])


def test_open_meteo_ensemble_members(tmp_path):
    """Member columns become members of equal weight, the control first."""
    names = ("temperature_2m (°C)", "wind_speed_10m (m/s)", "precipitation (mm)")
    head = ",".join(
        name.replace(" (", f"{end} (")
        for name in names
        for end in ("", "_member01", "_member02")
    )
    body = "".join(f"2026-04-20T0{i}:00,1,2,3,4,5,6,0,0.5,1\n" for i in range(3))
    path = tmp_path / "om.csv"
    text = f"{OPEN_METEO}44,-91,300,0,GMT,GMT\n\ntime,{head}\n{body}"
    path.write_text(text, encoding="utf-8")
    weather = read_weather(path)
    assert (weather.members, weather.kind) == (3, "ensemble")
    assert weather.values["wind_speed"][:, 1].tolist() == [4.0, 5.0, 6.0]
    assert weather.values["precipitation"].sum(axis=1).tolist() == [0.0, 1.5, 3.0]
    same(weather.weights, [1 / 3] * 3)
    path.write_text(text.replace("wind_speed_10m_member02", "x"), encoding="utf-8")
    with pytest.raises(err.WeatherError, match="same members"):
        read_weather(path)


def test_open_meteo_daily_block_is_left(tmp_path):
    """What follows the hourly table behind a blank line is not read, and a note says so."""
    text = (SAMPLES / "openmeteo.csv").read_text(encoding="utf-8")
    daily = "\ntime,temperature_2m_max (°C)\n2026-04-20,15.0\n"
    current = "time,temperature_2m (°C),wind_speed_10m (km/h)\n2026-04-20T09:15,9.0,5.0\n\n"
    above, below = text.split("\n\n", 1)
    path = tmp_path / "om.csv"
    plain = read_weather(SAMPLES / "openmeteo.csv")
    for changed in (text + daily, f"{above}\n\n{current}{below}"):
        path.write_text(changed, encoding="utf-8")
        weather = read_weather(path)
        np.testing.assert_array_equal(weather.values["wind_gust"], plain.values["wind_gust"])
        assert ("other_blocks" in codes(weather)) == changed.endswith(daily)


def test_open_meteo_several_places(tmp_path):
    """Several places in one file: refused, then one is chosen with its own coordinates."""
    meta = f"location_id,{OPEN_METEO}0,44,-91,300,0,GMT,GMT\n1,45,-92,310,0,GMT,GMT\n"
    head = "location_id,time,temperature_2m (°C),wind_speed_10m (m/s),precipitation (mm)\n"
    body = "".join(f"{k},2026-04-20T0{i}:00,1,{2 + k},0\n" for k in (0, 1) for i in range(3))
    path = tmp_path / "om.csv"
    path.write_text(f"{meta}\n{head}{body}", encoding="utf-8")
    with pytest.raises(err.WeatherError, match="2 locations: 0, 1"):
        read_weather(path)
    weather = read_weather(path, location="1")
    assert weather.place.latitude == 45.0
    assert weather.values["wind_speed"][0, -1] == 3.0


# --- properties -----------------------------------------------------------------------------

TENTHS = st.integers(0, 90).map(lambda x: x / 10)
ROW = st.tuples(
    st.integers(-300, 400).map(lambda x: x / 10),
    TENTHS,
    st.none() | st.integers(3, 80).map(lambda x: x / 10),
    st.none() | TENTHS,
)
quiet = settings(
    deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def printed(row):
    temp, wind, more, rain = row
    gust = "" if more is None else repr(round(wind + more, 1))
    return f"{temp},{wind},{gust},{'' if rain is None else rain}"


@quiet
@given(rows=st.lists(ROW, min_size=1, max_size=50), data=st.data())
def test_round_trip_of_the_plain_csv(tmp_path, rows, data):
    """Any table written as our CSV, holes cut and lines shuffled, is read back as it was."""
    inner = st.integers(1, max(1, len(rows) - 2))
    holes = data.draw(st.sets(inner, max_size=(len(rows) - 1) // 3))
    lines = [
        f"{time},{printed(row)}\n"
        for i, (time, row) in enumerate(zip(hours(len(rows)), rows, strict=True))
        if i not in holes
    ]
    rows[0] = (rows[0][0], rows[0][1], rows[0][2], 0.1)
    lines[0] = f"{hours(1)[0]},{printed(rows[0])}\n"
    lines = data.draw(st.permutations(lines))
    weather = read_weather(own(tmp_path, "".join(lines)), zone="UTC")
    assert weather.hours == len(rows)
    for at, (temp, wind, more, rain) in enumerate(rows):
        expected = [wind, math.nan if more is None else round(wind + more, 1), rain]
        if at in holes:
            expected = [math.nan] * 3
        names = ("wind_speed", "wind_gust", "precipitation")
        found = [weather.values[name][0, at] for name in names]
        np.testing.assert_array_equal(found, np.array(expected, float))
        if at not in holes:
            assert weather.values["temp_air"][0, at] == temp


@quiet
@given(
    rows=st.lists(ROW, min_size=4, max_size=40),
    label=st.sampled_from(["start", "end", "closes"]),
)
def test_no_shift_loses_rain_or_gust(tmp_path, rows, label):
    """Whatever a label means, the total of rain and the largest gust are the file's."""
    rows[0] = (rows[0][0], rows[0][1], 5.0, 0.1)
    body = "".join(f"{t},{printed(r)}\n" for t, r in zip(hours(len(rows)), rows, strict=True))
    weather = read_weather(own(tmp_path, body), label=label)
    rain = sum(row[3] for row in rows if row[3] is not None)
    gust = max(round(row[1] + row[2], 1) for row in rows if row[2] is not None)
    assert np.nansum(weather.values["precipitation"]) == pytest.approx(rain)
    assert np.nanmax(weather.values["wind_gust"]) == gust


def test_no_shift_loses_rain_or_gust_of_the_forecast():
    """The same for the sample whose labels end their hours and whose states are joined."""
    rows = openmeteo_rows()
    weather = read_weather(SAMPLES / "openmeteo.csv")
    rain = sum(number(row["precipitation"]) for row in rows)
    gust = np.nanmax([number(row["wind_gusts_10m"]) for row in rows]) / 3.6
    assert weather.values["precipitation"].sum() == pytest.approx(rain)
    assert np.nanmax(weather.values["wind_gust"]) == pytest.approx(gust)


def test_files_of_two_stations_are_refused(tmp_path):
    """Nothing in them says which station, but they differ in nearly every hour they share."""
    text = (SAMPLES / "isd-lite.txt").read_text()
    (tmp_path / "a.txt").write_text(text)
    rows = [row.split() for row in text.splitlines()]
    other = [[*row[:4], str(int(row[4]) + 13), *row[5:]] for row in rows if row[4] != "-9999"]
    lines = [f"{' '.join(row[:4])}{''.join(f'{x:>6}' for x in row[4:])}\n" for row in other]
    (tmp_path / "b.txt").write_text("".join(lines))
    assert read_weather(tmp_path / "b.txt").format == "isd-lite"
    with pytest.raises(err.WeatherError, match="differ in"):
        read_weather([tmp_path / "a.txt", tmp_path / "b.txt"])
