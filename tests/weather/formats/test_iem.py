"""IEM airport reports: the reader against a few lines from the service's own description."""

from __future__ import annotations

import csv
import datetime as dt
import os
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from planner.errors import SeveralPlaces, WeatherError
from planner.weather.read import read_weather
from tests.weather.formats.reported import TRACE, by_hours, fallen, thundered

SAMPLE = Path(__file__).parents[3] / "data" / "samples" / "iem.csv"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[4] / "shared" / "weather")
).resolve()
KNOT = 1852.0 / 3600.0  # m/s
HOUR = dt.timedelta(hours=1)


def again(path):
    """Read the reports anew: per hour and column what the service's description means."""
    lines = [x for x in path.read_text().splitlines() if not x.startswith("#")]
    reports = []
    for row in csv.DictReader(lines):
        when = dt.datetime.strptime(row["valid"], "%Y-%m-%d %H:%M").replace(tzinfo=dt.UTC)

        def take(column, factor=1.0, row=row):
            return None if row[column] == "M" else float(row[column]) * factor

        def celsius(column, row=row):
            return None if row[column] == "M" else (float(row[column]) - 32.0) / 1.8

        gusts = [take("gust", KNOT), take("peak_wind_gust", KNOT)]
        gauge = TRACE if row["p01i"] == "T" else take("p01i", 25.4)
        said = {
            "temp_air": celsius("tmpf"),
            "temp_dew": celsius("dwpf"),
            "relative_humidity": take("relh"),
            "wind_direction": take("drct"),
            "wind_speed": take("sknt", KNOT),
            "wind_gust": max((x for x in gusts if x is not None), default=None),
            "precipitation": fallen(gauge, row["metar"]),
            "pressure": take("mslp", 100.0),
            "thunder": thundered(row["metar"]),
        }
        reports.append((when, said))
    return by_hours(reports)


def check(weather, expected, names, atol=1e-9):
    """Compare hour by hour; what the one lacks the other must lack."""
    assert sorted(expected) == [t.to_pydatetime() for t in weather.times if t in expected]
    for name in names:
        found = pd.Series(weather.values[name][0], index=weather.times)
        wanted = [expected.get(t.to_pydatetime(), {}).get(name, np.nan) for t in weather.times]
        np.testing.assert_allclose(found, wanted, rtol=1e-9, atol=atol, err_msg=name)


NAMES = (
    "temp_air",
    "temp_dew",
    "relative_humidity",
    "wind_direction",
    "wind_speed",
    "wind_gust",
    "precipitation",
    "pressure",
    "thunder",
)


def test_sample_hour_by_hour():
    """46 reports, four of them specials, in 42 hours, each as the description has it."""
    weather, expected = read_weather(SAMPLE), again(SAMPLE)
    check(weather, expected, NAMES)
    assert weather.format == "iem"
    assert weather.kind == "observed"
    assert weather.gust_meaning == "10-minute maximum"
    place = weather.place
    assert (place.latitude, place.longitude, place.elevation) == (44.03, -91.41, 262.0)
    assert "QLKF" in place.name
    assert not {n.code for n in weather.notes} & {"doubled", "doubled_differ", "report_clock"}


def test_peak_and_gust_the_larger_counts():
    """An hour's peak (PK WND) goes above the gust of its last ten minutes, never below."""
    weather = read_weather(SAMPLE)
    text = "\n".join(x for x in SAMPLE.read_text().splitlines() if not x.startswith("#"))
    rows = [row for row in csv.DictReader(text.splitlines()) if row["peak_wind_gust"] != "M"]
    assert rows
    top = max(float(row["peak_wind_gust"]) for row in rows) * KNOT
    assert np.nanmax(weather.values["wind_gust"]) == pytest.approx(top)


def test_rain_of_an_hour_is_counted_once(tmp_path):
    """Growing sums of one hour count once: the total is that of the hourly reports."""
    lines = SAMPLE.read_text().splitlines()
    head = next(at for at, line in enumerate(lines) if line.startswith("station"))
    hourly = [x for x in lines[head + 1 :] if x.split(",")[1].endswith(":53")]
    assert len(hourly) < len(lines) - head - 1
    (tmp_path / "hourly.csv").write_text("\n".join([*lines[: head + 1], *hourly]) + "\n")
    whole, alone = read_weather(SAMPLE), read_weather(tmp_path / "hourly.csv")
    total = alone.values["precipitation"].sum()
    assert total > 4.0
    assert whole.values["precipitation"].sum() == pytest.approx(total)


def test_trace_as_a_number(tmp_path):
    """0.0001 inch, the service's own spelling of a trace, is the same trace as T."""
    text = SAMPLE.read_text()
    assert ",T,29" in text
    (tmp_path / "n.csv").write_text(text.replace(",T,29", ",0.0001,29"))
    word, number = read_weather(SAMPLE), read_weather(tmp_path / "n.csv")
    np.testing.assert_array_equal(word.values["precipitation"], number.values["precipitation"])


def local_time(text, hours):
    """Write the column ``valid`` of the sample in another clock."""
    lines = text.splitlines()
    for at, line in enumerate(lines):
        cells = line.split(",")
        if cells[0] == "QLKF":
            when = dt.datetime.strptime(cells[1], "%Y-%m-%d %H:%M").replace(tzinfo=dt.UTC)
            cells[1] = f"{when + dt.timedelta(hours=hours):%Y-%m-%d %H:%M}"
            lines[at] = ",".join(cells)
    return "\n".join(lines) + "\n"


def test_download_in_local_time(tmp_path):
    """Times in another zone are told by the reports' own text, and that is said."""
    text = local_time(SAMPLE.read_text(), -5).replace("-> UTC", "-> America/Chicago")
    (tmp_path / "local.csv").write_text(text)
    weather, utc = read_weather(tmp_path / "local.csv"), read_weather(SAMPLE)
    assert weather.times.equals(utc.times)
    np.testing.assert_array_equal(weather.values["wind_gust"], utc.values["wind_gust"])


def test_nothing_but_the_table(tmp_path):
    """Neither lines above nor reports' text: times are UTC, as the service gives by default."""
    rows = [x for x in SAMPLE.read_text().splitlines() if not x.startswith("#")]
    (tmp_path / "only.csv").write_text("\n".join(x.rsplit(",", 1)[0] for x in rows) + "\n")
    weather, whole = read_weather(tmp_path / "only.csv"), read_weather(SAMPLE)
    assert weather.times.equals(whole.times)
    np.testing.assert_array_equal(weather.values["wind_gust"], whole.values["wind_gust"])
    assert [n.doubt for n in weather.notes if n.code == "clock_unconfirmed"] == [True]


@pytest.mark.parametrize("told_by", ["reports", "line", "option"])
def test_whatever_tells_the_clock_settles_it(tmp_path, told_by):
    """The reports' text, the line above the table, or --zone: no doubt is left."""
    lines = SAMPLE.read_text().splitlines()
    if told_by != "line":
        lines = [x for x in lines if not x.startswith("#")]
    if told_by != "reports":
        lines = [x if x.startswith("#") else x.rsplit(",", 1)[0] for x in lines]
    (tmp_path / "told.csv").write_text("\n".join(lines) + "\n")
    zone = "UTC" if told_by == "option" else None
    weather = read_weather(tmp_path / "told.csv", zone=zone)
    assert weather.times.equals(read_weather(SAMPLE).times)
    assert "clock_unconfirmed" not in {n.code for n in weather.notes}


def test_zone_above_the_table(tmp_path):
    """Without the reports' text the line "#DEBUG: Time Zone" tells the clock."""
    lines = local_time(SAMPLE.read_text(), -5).replace("-> UTC", "-> America/Chicago")
    bare = [x if x.startswith("#") else ",".join(x.split(",")[:-1]) for x in lines.splitlines()]
    (tmp_path / "bare.csv").write_text("\n".join(bare) + "\n")
    weather, utc = read_weather(tmp_path / "bare.csv"), read_weather(SAMPLE)
    assert weather.times.equals(utc.times)


@pytest.mark.parametrize("told_by", ["both", "line", "reports"])
def test_local_time_across_a_clock_change(tmp_path, told_by):
    """Sixty days in local time, through the night when the clocks go back: no hour moves.

    The first weeks all say UTC-5; the reports after the change say UTC-6, as the zone does.
    The line above the table and the reports' texts tell it together, and each alone.
    """
    zone, begin = ZoneInfo("America/Chicago"), dt.datetime(2026, 10, 1, 12, 53, tzinfo=dt.UTC)
    lines = ["station,valid,tmpf,sknt,p01i,metar"]
    if told_by != "reports":
        lines.insert(0, "#DEBUG: Time Zone     -> America/Chicago")
    for at in range(60 * 24):
        time = begin + at * HOUR
        report = f"QLKF {time:%d%H%M}Z 23005KT" if told_by != "line" else "M"
        local = time.astimezone(zone)
        lines.append(
            f"QLKF,{local:%Y-%m-%d %H:%M},{40 + at % 11},{5 + at % 3}.00,0.00,{report}"
        )
    (tmp_path / "autumn.csv").write_text("\n".join(lines) + "\n")
    weather = read_weather(tmp_path / "autumn.csv")
    assert weather.hours == 60 * 24
    assert weather.times[0] == pd.Timestamp("2026-10-01T12:00Z")
    warm = (40.0 + np.arange(60 * 24) % 11 - 32.0) / 1.8
    np.testing.assert_allclose(weather.values["temp_air"][0], warm)


def test_metric_columns(tmp_path):
    """tmpc, dwpc and p01m, which the service offers too, give the same table."""
    rows = [x for x in SAMPLE.read_text().splitlines() if not x.startswith("#")]
    table = pd.DataFrame(list(csv.DictReader(rows)))
    for ours, theirs in (("tmpc", "tmpf"), ("dwpc", "dwpf")):
        table[ours] = [str((float(x) - 32.0) / 1.8) for x in table.pop(theirs)]
    rain = table.pop("p01i")
    table["p01m"] = [x if x in "TM" else str(float(x) * 25.4) for x in rain]
    table.to_csv(tmp_path / "m.csv", index=False)
    weather, inches = read_weather(tmp_path / "m.csv"), read_weather(SAMPLE)
    for name in ("temp_air", "temp_dew", "precipitation"):
        np.testing.assert_allclose(weather.values[name], inches.values[name], atol=1e-9)


def test_two_stations_are_named(tmp_path):
    """A download of two stations asks which."""
    text = SAMPLE.read_text()
    other = [x.replace("QLKF", "QLKG") for x in text.splitlines() if x.startswith("QLKF")]
    (tmp_path / "two.csv").write_text(text + "\n".join(other) + "\n")
    with pytest.raises(SeveralPlaces, match="2 stations: QLKF, QLKG"):
        read_weather(tmp_path / "two.csv")
    one = read_weather(tmp_path / "two.csv", location="QLKG")
    assert one.hours == read_weather(SAMPLE).hours


def test_broken_cell(tmp_path):
    """A wind that is no number: the error names the file and its line."""
    lines = SAMPLE.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if ",2026-04-20 09:53," in line)
    cells = lines[at].split(",")
    cells[9] = "4..0"
    lines[at] = ",".join(cells)
    (tmp_path / "broken.csv").write_text("\n".join(lines) + "\n")
    with pytest.raises(WeatherError, match=r'"4\.\.0" is not a number') as caught:
        read_weather(tmp_path / "broken.csv")
    assert caught.value.line == at + 1
    assert caught.value.key == "sknt"
    assert str(caught.value.file).endswith("broken.csv")


@pytest.mark.skipif(not SHARED.is_dir(), reason=f"no weather records at {SHARED}")
def test_real_reports_without_a_gauge():
    """Two real reports of 1996 have no sum of rain, but drizzle in words: not dry hours."""
    path = SHARED / "api_samples" / "iem_asos_CXY_1996.csv"
    weather, expected = read_weather(path), again(path)
    names = [n for n in NAMES if n not in ("pressure", "wind_gust")]
    check(weather, expected, names)
    assert weather.values["precipitation"].tolist() == [[TRACE, TRACE]]
    assert sorted(expected)[0] == dt.datetime(1995, 12, 31, 23, tzinfo=dt.UTC)
