"""Archives read twice: by the reader, and by csv or pandas from their documented meaning."""

from __future__ import annotations

import csv
import datetime as dt
import math
import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import planner.errors as err
from planner.weather.archive import read_archive
from planner.weather.read import read_weather

SAMPLE = Path(__file__).parents[2] / "data" / "samples" / "archive.csv"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[3] / "shared" / "weather")
).resolve()
FORECASTS = SHARED / "nyc_forecast_archive" / "forecasts_2023-10_2024-12.csv.gz"
ANALYSIS = SHARED / "nyc_forecast_archive" / "analysis_2023-10_2025-01.csv.gz"
needs_shared = pytest.mark.skipif(
    not FORECASTS.exists(), reason=f"no archive of forecasts in {SHARED}; set FILM_WEATHER"
)
ROUNDING = 1e-5  # mm; 7 cm of snow are printed as a factor of six digits
HOUR = dt.timedelta(hours=1)


def codes(notes):
    return [note.code for note in notes]


def time(text):
    return pd.Timestamp(text, tz="UTC")


def sample_rows():
    lines = SAMPLE.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_sample_by_hand():
    """Every number of every row is found again in the forecast it belongs to."""
    rows, archive = sample_rows(), read_archive(SAMPLE)
    issues = sorted({dt.datetime.fromisoformat(row["issued"]) for row in rows})
    assert list(archive.issues.to_pydatetime()) == issues
    assert len(archive) == 3
    for i, issue in enumerate(issues):
        weather = archive.weather(i)
        ours = [row for row in rows if dt.datetime.fromisoformat(row["issued"]) == issue]
        assert weather.hours == len(ours) == 48
        for name in set(rows[0]) - {"issued", "time"}:
            found = dict(
                zip(weather.times.to_pydatetime(), weather.values[name][0], strict=True)
            )
            for row in ours:
                hour = dt.datetime.fromisoformat(row["time"]).astimezone(dt.UTC)
                expected = float(row[name]) if row[name] else math.nan
                np.testing.assert_equal(found[hour], expected)


def test_a_forecast_of_an_archive_is_a_forecast():
    """Kind, issue time, place, credit and shape are those of any forecast; nothing to write."""
    archive = read_archive(SAMPLE)
    weather = archive.weather(1)
    assert (weather.kind, weather.issued_from, weather.members) == ("forecast", "column", 1)
    assert weather.issued == archive.issues[1] == time("2026-04-29T10:00")
    assert weather.times[0] == weather.issued
    assert (np.diff(weather.times.asi8) == 3600 * 10**9).all()
    assert all(value.shape == (1, 48) for value in weather.values.values())
    assert not any(value.flags.writeable for value in weather.values.values())
    assert (
        weather.credit
        == archive.credit
        == "Invented forecasts for a made-up place, free to use"
    )
    assert (archive.latitude, archive.longitude) == (44.02, -91.40)
    assert weather.place.name == "Larkfield"
    assert weather.origin["wind_gust"] == "given"
    assert weather.origin["ghi"] == "missing"
    assert (archive.format, archive.file) == ("planner", str(SAMPLE))
    assert codes(archive.notes) == ["gusts_missing"]
    with pytest.raises(IndexError):
        archive.weather(3)


def test_between_keeps_what_was_issued_in_a_stretch():
    """The first time belongs to the stretch, the last does not; forecasts stay as they are."""
    archive = read_archive(SAMPLE)
    later = archive.between(archive.issues[1], archive.issues[2])
    assert later.issues.tolist() == [archive.issues[1]]
    found, whole = later.weather(0), archive.weather(1)
    assert found.times.equals(whole.times)
    np.testing.assert_array_equal(found.values["temp_air"], whole.values["temp_air"])
    assert len(archive.between(archive.issues[0], archive.issues[2] + HOUR)) == 3
    assert len(archive.between(time("2020-01-01"), time("2020-02-01"))) == 0


PLAIN = "issued,time,temp_air,wind_speed,wind_gust,precipitation\n"


def written(tmp_path, rows, *, head=PLAIN, name="a.csv"):
    path = tmp_path / name
    path.write_text(head + "".join(row + "\n" for row in rows), encoding="utf-8")
    return path


def plain(issued, *, hours=6, base=0.0, skip=()):
    """Rows of one forecast: every number says its hour, so that a shift shows."""
    first = dt.datetime.fromisoformat(issued)
    return [
        f"{issued}Z,{first + HOUR * h:%Y-%m-%dT%H:%M}Z,{base + h},{1 + h / 10},{3 + h / 10},{h}"
        for h in range(hours)
        if h not in skip
    ]


UNITS = (
    "issue_time_utc,valid_time_utc,lead_h,temp_air_c,wind_speed_m_s,wind_gust_m_s,"
    "precipitation_mm,snowfall_cm\n"
)
#: Two forecasts of which the second begins where the first ends: (label, temp, wind, gust,
#: rain, snow).
TWO = {
    "2024-01-01 10:00:00": [
        ("2024-01-01 10:00:00", 1, 2.0, 6.0, 0.5, 0.0),
        ("2024-01-01 11:00:00", 3, 1.0, 7.0, 0.0, 0.7),
        ("2024-01-01 12:00:00", 5, 4.0, 8.0, 0.2, 0.0),
    ],
    "2024-01-01 13:00:00": [
        ("2024-01-01 13:00:00", 100 / 4, 9.0, 20.0, 3.0, 0.0),
        ("2024-01-01 14:00:00", 15, 8.0, 21.0, 0.0, 0.0),
    ],
}


def two(tmp_path):
    rows = [
        ",".join(map(str, (issue, row[0], lead, *row[1:])))
        for issue, all_rows in TWO.items()
        for lead, row in enumerate(all_rows)
    ]
    return written(tmp_path, rows, head=UNITS)


def test_ends_of_hours_are_joined_inside_a_forecast_only(tmp_path):
    """Rain and gust move to the hour before the label, states are joined, none from another."""
    archive = read_archive(two(tmp_path))
    assert archive.format == "archive"
    first, second = archive.weather(0), archive.weather(1)
    assert first.times[0] == time("2024-01-01T09:00")
    assert second.times[0] == time("2024-01-01T12:00")
    nan = math.nan
    np.testing.assert_equal(first.values["temp_air"], [[nan, 2.0, 4.0]])
    np.testing.assert_equal(first.values["wind_speed"], [[nan, 2.0, 4.0]])
    np.testing.assert_equal(first.values["wind_gust"], [[6.0, 7.0, 8.0]])
    np.testing.assert_equal(second.values["temp_air"], [[nan, 20.0]])
    np.testing.assert_equal(second.values["wind_gust"], [[20.0, 21.0]])
    snow = first.values["precipitation"]
    np.testing.assert_allclose(snow, [[0.5, 1.0, 0.2]], rtol=0, atol=ROUNDING)


def test_label_start_takes_every_number_as_it_stands(tmp_path):
    """Nothing is shifted and nothing joined; the last hour is there whole."""
    archive = read_archive(two(tmp_path), label="start")
    for i, rows in enumerate(TWO.values()):
        weather = archive.weather(i)
        assert [f"{t:%Y-%m-%d %H:%M:%S}" for t in weather.times] == [row[0] for row in rows]
        for at, name in ((1, "temp_air"), (2, "wind_speed"), (3, "wind_gust")):
            np.testing.assert_equal(weather.values[name][0], [row[at] for row in rows])


def test_a_hole_stays_inside_its_forecast(tmp_path):
    """A missing row is an hour without numbers; the grid has no gap; others are untouched."""
    rows = plain("2026-04-20T06:00", skip=(2, 3, 4)) + plain("2026-04-20T12:00")
    archive = read_archive(written(tmp_path, rows))
    holed, whole = archive.weather(0), archive.weather(1)
    assert (holed.hours, whole.hours) == (6, 6)
    np.testing.assert_equal(holed.values["temp_air"][0], [0, 1, *[math.nan] * 3, 5])
    np.testing.assert_equal(holed.values["precipitation"][0], [0, 1, *[math.nan] * 3, 5])
    assert not np.isnan(whole.values["temp_air"]).any()
    gaps = next(note for note in archive.notes if note.code == "gaps")
    assert gaps.text == "3 hours not in the file, in 1 of 2 forecasts."


def test_forecasts_of_different_length(tmp_path):
    """Each forecast keeps its own first and last hour."""
    rows = plain("2026-04-20T06:00", hours=9) + plain("2026-04-20T12:00", hours=2, base=20)
    archive = read_archive(written(tmp_path, rows))
    assert archive.hours.tolist() == [9, 2]
    assert archive.weather(1).values["temp_air"].tolist() == [[20.0, 21.0]]


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_each_forecast_is_what_a_reader_of_one_gives(tmp_path, data):
    """Whatever rows are lacking, in whatever order: as if each forecast were read alone."""
    issues = ["2026-04-20T06:00", "2026-04-20T12:00", "2026-04-20T13:00"]
    rows = []
    for base, issue in enumerate(issues):
        skip = data.draw(st.sets(st.integers(1, 10), max_size=3))
        rows += plain(issue, hours=12, base=base * 10, skip=skip)
    rows = data.draw(st.permutations(rows))
    label = data.draw(st.sampled_from(["start", "end"]))
    path = written(tmp_path, rows)
    archive = read_archive(path, label=label)
    for i, issue in enumerate(issues):
        found, alone = archive.weather(i), read_weather(path, label=label, issued=f"{issue}Z")
        assert found.times.equals(alone.times)
        assert found.issued == alone.issued == time(issue)
        assert found.origin == alone.origin
        for name, value in alone.values.items():
            np.testing.assert_array_equal(found.values[name], value)


def test_rows_out_of_order_are_sorted_with_a_note(tmp_path):
    """The order of the lines does not matter and is told."""
    rows = plain("2026-04-20T12:00") + plain("2026-04-20T06:00")
    archive = read_archive(written(tmp_path, rows))
    assert archive.issues.tolist() == [time("2026-04-20T06:00"), time("2026-04-20T12:00")]
    assert "sorted" in codes(archive.notes)


def test_years_in_several_files(tmp_path):
    """Files of one place are one archive; a file that is none is refused."""
    one = written(tmp_path, plain("2026-04-20T06:00"))
    other = written(tmp_path, plain("2026-04-19T06:00"), name="b.csv")
    assert read_archive([one, other]).issues.tolist() == [
        time("2026-04-19T06:00"),
        time("2026-04-20T06:00"),
    ]
    twice = written(tmp_path, plain("2026-04-19T06:00"), name="c.csv")
    with pytest.raises(err.WeatherError, match=r"already, in b\.csv, line 2"):
        read_archive([one, other, twice])
    bare = [row.split(",", 1)[1] for row in plain("2026-04-18T06:00")]
    forecast = written(tmp_path, bare, head=PLAIN.split(",", 1)[1], name="d.csv")
    with pytest.raises(err.WeatherError, match="as other files do") as caught:
        read_archive([one, forecast])
    assert caught.value.file == str(forecast)


def test_bare_times_in_the_night_the_clocks_go_back(tmp_path):
    """Each forecast passes the doubled hour once: its lines tell the two apart."""
    hours = ["00:00", "01:00", "01:00", "02:00"]
    rows = [
        f"{issue},2026-11-01T{hour},{i},1,3,{i}"
        for issue in ("2026-10-31T06:00", "2026-10-31T18:00")
        for i, hour in enumerate(hours)
    ]
    archive = read_archive(written(tmp_path, rows), zone="America/Chicago")
    assert archive.issues.tolist() == [time("2026-10-31T11:00"), time("2026-10-31T23:00")]
    for i in range(2):
        assert archive.weather(i).times[0] == time("2026-11-01T05:00")
        assert archive.weather(i).values["temp_air"].tolist() == [[0.0, 1.0, 2.0, 3.0]]


ONE = plain("2026-04-20T06:00")
NEXT = plain("2026-04-20T12:00")


@pytest.mark.parametrize(
    ("rows", "line", "words"),
    [
        ([*ONE, *NEXT, "2026-04-20T12:00Z,2026-04-20T09:00Z,1,1,3,0"], 14, "before its forec"),
        ([*ONE, *NEXT, "2026-04-20T12:00Z,2027-04-20T09:00Z,1,1,3,0"], 14, "over 35 days"),
        (
            [*ONE, *NEXT, ONE[2]],
            14,
            r"2026-04-20 08:00 UTC of .* 06:00 UTC is there .*, in line 4",
        ),
        ([*ONE, *NEXT, "2026-04-20T12:00Z,,1,1,3,0"], 14, "no time"),
        ([*ONE, *NEXT, ",2026-04-20T18:00Z,1,1,3,0"], 14, "no time"),
        ([*ONE, *NEXT, "2026-13-01T00:00Z,2026-04-20T18:00Z,1,1,3,0"], 14, "is not a time"),
        ([*ONE, *NEXT, "2026-04-20T12:00Z,2026-04-20T18:20Z,1,1,3,0"], 14, "20 minutes past"),
        (ONE, None, "one forecast only, issued 2026-04-20 06:00 UTC"),
        ([*ONE[:1], *NEXT[:1]], None, "2 rows for 2 forecasts"),
        (ONE[::3] + NEXT[::3], None, "3 hours apart"),
    ],
)
def test_what_is_refused_names_file_and_line(tmp_path, rows, line, words):
    """Each fault of an archive is told in plain words, with the line where there is one."""
    path = written(tmp_path, rows)
    with pytest.raises(err.WeatherError, match=words) as caught:
        read_archive(path)
    assert (caught.value.file, caught.value.line) == (str(path), line)
    assert caught.value.fix


def test_the_hour_in_which_it_was_issued_belongs_to_a_forecast(tmp_path):
    """A forecast issued at 5:40 may begin with the hour from 5:00."""
    rows = [row.replace("06:00Z", "06:40Z", 1) for row in ONE] + NEXT
    archive = read_archive(written(tmp_path, rows))
    assert archive.issues[0] == time("2026-04-20T06:40")
    assert archive.weather(0).times[0] == time("2026-04-20T06:00")


def test_few_rows_with_a_wrong_date_are_refused(tmp_path):
    """Forecasts that lack nine tenths of their hours are not read as if they were whole."""
    far = [row.replace("T12:00Z,2026-04-20", "T12:00Z,2026-05-20") for row in NEXT[4:]]
    with pytest.raises(err.GapTooLong, match=r"Of the \d+ hours .* only 12 are in the file"):
        read_archive(written(tmp_path, [*ONE, *NEXT[:4], *far]))


def test_a_file_without_issue_times_is_no_archive(tmp_path):
    """The missing column is named, or the format that has none."""
    with pytest.raises(err.WeatherError, match="No column says when") as caught:
        read_archive(SAMPLE.with_name("planner.csv"))
    assert (caught.value.key, caught.value.exit_code) == ("issued", 3)
    with pytest.raises(err.WeatherError, match="No column says when") as caught:
        read_archive(SAMPLE.with_name("openmeteo.csv"))
    assert "openmeteo file holds one" in caught.value.fix
    with pytest.raises(err.WeatherError, match="does not name it"):
        read_archive(SAMPLE, location="QXA")
    with pytest.raises(err.WeatherError, match="whole hours"):
        read_archive(SAMPLE, label="closes")
    text = SAMPLE.read_text(encoding="utf-8").replace("# label", "# kind: observed\n# label")
    record = written(tmp_path, [], head=text)
    with pytest.raises(err.WeatherError, match='"observed" is not one of'):
        read_archive(record)


def test_one_forecast_is_wanted_of_an_archive():
    """A reader of one forecast says how many there are, and takes the one asked for."""
    with pytest.raises(err.WeatherError, match="holds 3 forecasts, issued from") as caught:
        read_weather(SAMPLE)
    assert "2026-04-28 10:00 to 2026-04-30 10:00 UTC" in caught.value.message
    assert "replay or learn" in caught.value.fix
    assert "--issued 2026-04-30T10:00Z" in caught.value.fix
    with pytest.raises(err.WeatherError, match="None of its 3 forecasts") as caught:
        read_weather(SAMPLE, issued="2026-04-29T09:00-05:00")
    assert "--issued 2026-04-29T10:00Z" in caught.value.fix
    weather = read_weather(SAMPLE, issued="2026-04-29T05:00-05:00")
    assert (weather.issued, weather.issued_from) == (time("2026-04-29T10:00"), "column")
    same = read_archive(SAMPLE).weather(1)
    assert weather.times.equals(same.times)
    np.testing.assert_array_equal(weather.values["wind_gust"], same.values["wind_gust"])


def test_a_file_of_one_forecast_with_its_issue_times(tmp_path):
    """The column says when it was issued; an option overrules it, as it does the file."""
    path = written(tmp_path, ONE)
    weather = read_weather(path)
    assert (weather.issued, weather.issued_from) == (time("2026-04-20T06:00"), "column")
    assert (weather.kind, weather.hours) == ("forecast", 6)
    assert "unknown_column" not in codes(weather.notes)
    overruled = read_weather(path, issued="2026-04-20T05:00Z")
    assert (overruled.issued, overruled.issued_from) == (time("2026-04-20T05:00"), "option")
    assert read_weather(path, kind="observed").issued is None


def record(tmp_path):
    head = "valid_time_utc,temp_air_c,wind_speed_m_s,wind_gust_m_s,precipitation_mm\n"
    rows = [f"2024-01-01 {h:02d}:00:00,{h},{h / 10},{2 + h / 10},0.{h}" for h in range(10)]
    return written(tmp_path, rows, head=head)


def test_the_record_in_the_same_spelling(tmp_path):
    """Without issue times it is what happened, rain and gust of the hour before the label."""
    weather = read_weather(record(tmp_path))
    assert (weather.kind, weather.issued, weather.format) == ("observed", None, "archive")
    assert weather.times[0] == time("2023-12-31T23:00")
    hour = weather.times.get_loc(time("2024-01-01T04:00"))
    found = [weather.values[n][0, hour] for n in ("temp_air", "wind_gust", "precipitation")]
    assert found == pytest.approx([4.5, 2.5, 0.5])
    as_is = read_weather(record(tmp_path), kind="observed", label="start")
    hour = as_is.times.get_loc(time("2024-01-01T04:00"))
    found = [as_is.values[n][0, hour] for n in ("temp_air", "wind_gust", "precipitation")]
    assert found == pytest.approx([4.0, 2.4, 0.4])


@pytest.fixture(scope="module")
def table():
    """Give the forecasts as pandas reads them, cloud and gust that cannot be taken out."""
    table = pd.read_csv(FORECASTS)
    for name in ("issue_time_utc", "valid_time_utc"):
        table[name] = pd.to_datetime(table[name], utc=True)
    table["rain"] = table["precipitation_mm"] + table["snowfall_cm"] * 10 / 7
    table["cloud"] = table["cloud_cover_pct"].where(table["cloud_cover_pct"].between(0, 100))
    gust = table["wind_gust_m_s"].where(table["wind_gust_m_s"] >= 0)
    raised = np.maximum(gust, table["wind_speed_m_s"])  # a gust is not below its mean
    table["gust"] = raised.where(gust.notna())
    return table.sort_values(["issue_time_utc", "valid_time_utc"])


def block(table, name):
    return table[name].to_numpy(float).reshape(916, 240)


def close(found, expected):
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-4)


@needs_shared
def test_real_archive_unshifted(table):
    """All 916 forecasts of 240 hours, number by number, labels as they stand."""
    archive = read_archive(FORECASTS, label="start")
    assert archive.issues.tolist() == table["issue_time_utc"].drop_duplicates().tolist()
    assert archive.credit
    columns = {
        "temp_air": "temp_air_c",
        "temp_dew": "dew_point_c",
        "relative_humidity": "relative_humidity_pct",
        "wind_speed": "wind_speed_m_s",
        "wind_gust": "gust",
        "wind_direction": "wind_direction_deg",
        "precipitation": "rain",
        "precipitation_probability": "precipitation_probability_pct",
        "cloud_cover": "cloud",
    }
    assert set(archive.values) == set(columns)
    forecasts = [archive.weather(i) for i in range(len(archive))]
    stamps = np.concatenate([weather.times.asi8 for weather in forecasts])
    valid = pd.DatetimeIndex(table["valid_time_utc"]).as_unit("ns")
    np.testing.assert_array_equal(stamps, valid.asi8)
    for name, column in columns.items():
        found = np.concatenate([weather.values[name] for weather in forecasts])
        close(found, block(table, column))


@needs_shared
def test_real_archive_shifted(table):
    """Rain and gust stand an hour earlier, states are joined over both ends of the hour."""
    archive = read_archive(FORECASTS)
    forecasts = [archive.weather(i) for i in range(len(archive))]
    begins = table.groupby("issue_time_utc")["valid_time_utc"].min() - HOUR
    assert [weather.times[0] for weather in forecasts] == begins.tolist()

    def found(name):
        return np.concatenate([weather.values[name] for weather in forecasts])

    close(found("precipitation"), block(table, "rain"))
    temp, wind = block(table, "temp_air_c"), block(table, "wind_speed_m_s")
    close(found("temp_air")[:, 1:], (temp[:, :-1] + temp[:, 1:]) / 2)
    larger = np.maximum(wind[:, :-1], wind[:, 1:])
    close(found("wind_speed")[:, 1:], larger)
    assert np.isnan(found("temp_air")[:, 0]).all()
    gust = block(table, "gust")[:, 1:]
    close(found("wind_gust")[:, 1:], np.where(np.isnan(gust), gust, np.maximum(gust, larger)))


@needs_shared
def test_real_archive_is_not_one_forecast(table):
    """Read as one forecast it is refused with its span; one issue time picks its forecast."""
    with pytest.raises(
        err.WeatherError, match=r"holds 916 forecasts.*2023-10-01 10:00 to 2024-12-31"
    ):
        read_weather(FORECASTS)
    weather = read_weather(FORECASTS, issued="2024-03-09T23:00Z", label="start")
    rows = table[table["issue_time_utc"] == time("2024-03-09T23:00")]
    close(weather.values["temp_air"][0], rows["temp_air_c"])
    assert weather.times[-1] == rows["valid_time_utc"].iloc[-1]


@needs_shared
@pytest.mark.parametrize("label", [None, "start"])
def test_real_record(label):
    """What happened, hour by hour: rain and gust at or before their label, as asked."""
    weather = read_weather(ANALYSIS, kind="observed", label=label)
    table = pd.read_csv(ANALYSIS)
    table.index = pd.to_datetime(table["valid_time_utc"], utc=True)
    early = pd.Timedelta(hours=0 if label else 1)
    rows = table.reindex(weather.times + early)
    rain = rows["precipitation_mm"] + rows["snowfall_cm"] * 10 / 7
    close(weather.values["precipitation"][0], rain.where(rain <= 200))
    gust = rows["wind_gust_m_s"].to_numpy()
    found = weather.values["wind_gust"][0]
    assert (found[~np.isnan(gust)] >= gust[~np.isnan(gust)] - 1e-9).all()
    if label:
        np.testing.assert_allclose(
            found, np.maximum(gust, rows["wind_speed_m_s"].to_numpy()), atol=1e-9
        )
    assert weather.kind == "observed"
    assert (table.index[0] - early) == weather.times[0]
