"""Meteostat hourly: the hour before the label, km/h, and which numbers a model filled in."""

from __future__ import annotations

import csv
import gzip

import numpy as np
import pytest

from planner.errors import WeatherError
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import SAMPLES, check_hours, gust_of, number
from tests.weather.test_real import SHARED, needs_shared

PATH = SAMPLES / "meteostat.csv"


def rows():
    """The sample's rows by the names of its header."""
    return list(csv.DictReader(PATH.read_text().splitlines()))


def reckoned(table):
    """Documented: km/h, mm, °C, hPa, eighths; the hour named is the one that ended."""
    get = lambda name: [number(row[name]) for row in table]  # noqa: E731
    wind = [v / 3.6 for v in get("wspd")]
    return {
        "temp_air": get("temp"),
        "relative_humidity": get("rhum"),
        "wind_speed": wind,
        "wind_gust": gust_of([v / 3.6 for v in get("wpgt")], wind),
        "wind_direction": get("wdir"),
        "precipitation": get("prcp"),
        "cloud_cover": [12.5 * v for v in get("cldc")],
        "pressure": [100.0 * v for v in get("pres")],
        "thunder": [float(23 <= v <= 26) for v in get("coco")],
    }


def test_again():
    """Every hour; the row of 0 o'clock on 20 April is of the hour from 23:00 on."""
    weather = read_weather(PATH)
    check_hours(weather, "2026-04-19T23:00", **reckoned(rows()))
    assert (weather.kind, weather.gust_meaning) == ("observed", "not said")
    assert "thunder" in weather.values
    assert weather.values["thunder"].sum() == 1.0


def test_sums_and_largest_are_those_of_the_file():
    """Rain and gusts by the csv module alone."""
    weather = read_weather(PATH)
    rain = sum(number(row["prcp"]) for row in rows())
    assert rain > 0
    assert weather.values["precipitation"].sum() == pytest.approx(rain)
    gusts = [number(row["wpgt"]) for row in rows()]
    assert np.nanmax(weather.values["wind_gust"]) == pytest.approx(np.nanmax(gusts) / 3.6)


def test_what_a_model_filled_is_counted():
    """As many as the columns of sources say, column by column, and it is a doubt."""
    note = next(n for n in read_weather(PATH).notes if n.code == "model_filled")
    assert note.doubt
    models = ("metno_forecast", "dwd_mosmix")
    for name in ("temp", "wspd", "wpgt", "prcp"):
        count = sum(row[f"{name}_source"] in models for row in rows())
        assert count > 0
        assert f"{count} of 48 of {name}" in note.text
    assert "pres" not in note.text


def test_measured_alone_is_no_doubt(tmp_path):
    """Without a model in the sources nothing is said of one."""
    text = PATH.read_text().replace("metno_forecast", "synop").replace("dwd_mosmix", "synop")
    (tmp_path / "m.csv").write_text(text)
    assert "model_filled" not in {n.code for n in read_weather(tmp_path / "m.csv").notes}


def test_as_it_is_downloaded(tmp_path):
    """One .csv.gz a year; two of them join."""
    lines = PATH.read_text().splitlines(keepends=True)
    for name, part in (("a", lines[:20]), ("b", [lines[0], *lines[20:]])):
        (tmp_path / f"{name}.csv.gz").write_bytes(gzip.compress("".join(part).encode()))
    weather = read_weather([tmp_path / "a.csv.gz", tmp_path / "b.csv.gz"])
    whole = read_weather(PATH)
    assert weather.times.equals(whole.times)
    for name, values in whole.values.items():
        np.testing.assert_array_equal(weather.values[name], values, err_msg=name)


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("2026,4,20,6,", "2026,4,31,6,", 8, "no date"),
        ("2026,4,20,6,", "2026,4,20,25,", 8, "no hour"),
        ("2026,4,20,6,", "2026,4,20,six,", 8, '"six" is not a number'),
        ("2026,4,20,6,", "2026,4,20,6,1,", 8, "fields where the header has"),
    ],
)
def test_a_broken_line_is_named(tmp_path, old, new, line, words):
    """No date, no hour, no number, a field too many."""
    path = tmp_path / "broken.csv"
    text = PATH.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    with pytest.raises(WeatherError, match=words) as caught:
        read_weather(path)
    assert (caught.value.file, caught.value.line) == (str(path), line)


@needs_shared
def test_the_layout_again():
    """Two rows of the folder's example, one with a gust of a model."""
    path = SHARED / "api_samples" / "meteostat_hourly_layout_SYNTHETIC.csv"
    table = list(csv.DictReader(path.read_text().splitlines()))
    weather = read_weather(path)
    check_hours(weather, "2025-04-20T05:00", **reckoned(table))
    note = next(n for n in weather.notes if n.code == "model_filled")
    assert "1 of 2 of wpgt" in note.text
    assert "1 of 2 of prcp" in note.text
