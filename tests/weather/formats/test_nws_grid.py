"""NWS forecast of a grid square: intervals, rain as totals, against the service's words."""

from __future__ import annotations

import copy
import json
import os
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.weather.read import read_weather

SAMPLE = Path(__file__).parents[3] / "data" / "samples" / "nws-grid.json"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[4] / "shared" / "weather")
).resolve()
needs_shared = pytest.mark.skipif(
    not SHARED.is_dir(), reason=f"no weather records at {SHARED}; set FILM_WEATHER"
)
NAMES = {
    "temperature": "temp_air",
    "dewpoint": "temp_dew",
    "relativeHumidity": "relative_humidity",
    "windSpeed": "wind_speed",
    "windGust": "wind_gust",
    "windDirection": "wind_direction",
    "quantitativePrecipitation": "precipitation",
    "probabilityOfPrecipitation": "precipitation_probability",
    "skyCover": "cloud_cover",
    "weather": "thunder",
}


def hours_of(valid):
    """Give the hours of an interval."""
    begin, length = valid.split("/")
    days, hours = re.match(r"P(?:(\d+)D)?(?:T(\d+)H)?", length).groups()
    count = 24 * int(days or 0) + int(hours or 0)
    return pd.date_range(pd.Timestamp(begin), periods=count, freq="h")


def again(tree):
    """Give every hour of every layer: totals shared, all else as it stands, km/h as m/s."""
    out = {}
    for layer, name in NAMES.items():
        hours = {}
        for each in tree["properties"].get(layer, {}).get("values", []):
            span = hours_of(each["validTime"])
            value = each["value"]
            if layer == "weather":
                value = float(any(x["weather"] == "thunderstorms" for x in value))
            elif value is None:
                value = np.nan
            elif layer == "quantitativePrecipitation":
                value /= len(span)
            elif layer in ("windSpeed", "windGust"):
                value /= 3.6
            hours |= dict.fromkeys(span, value)
        out[name] = pd.Series(hours, dtype=float)
    return out


def check(weather, tree):
    """Compare hour by hour; the gust is never below the mean of its hour."""
    expected = again(tree)
    for name, hours in expected.items():
        if hours.notna().any():
            wanted = hours.reindex(weather.times).to_numpy()
            if name == "wind_gust":
                wind = expected["wind_speed"].reindex(weather.times).to_numpy()
                wanted = np.where(wind > wanted, wind, wanted)
            found = weather.values[name][0]
            if name.startswith("temp"):  # two hours at most are filled between others
                known = ~np.isnan(wanted)
                found, wanted = found[known], wanted[known]
            np.testing.assert_allclose(found, wanted, rtol=1e-9, atol=1e-12, err_msg=name)
    return expected


def test_sample_hour_by_hour():
    """54 hours out of intervals of one to twenty-four."""
    tree = json.loads(SAMPLE.read_text())
    weather = read_weather(SAMPLE)
    check(weather, tree)
    assert weather.format == "nws-grid"
    assert weather.kind == "forecast"
    assert weather.times[0] == pd.Timestamp("2026-05-04T09:00Z")
    assert weather.hours == 54
    assert weather.issued == pd.Timestamp("2026-05-04T08:41:12Z")
    assert weather.issued_from == "file"
    assert weather.gust_meaning == "hour maximum"
    assert weather.place.latitude == pytest.approx(44.02)
    assert weather.place.longitude == pytest.approx(-91.415)
    assert weather.place.elevation == pytest.approx(265.176)


def test_totals_and_maxima_are_conserved():
    """Rain adds up to the totals of the intervals; the largest gust is the largest given."""
    tree = json.loads(SAMPLE.read_text())
    weather = read_weather(SAMPLE)
    layers = tree["properties"]
    total = sum(x["value"] for x in layers["quantitativePrecipitation"]["values"])
    assert total > 5.0
    assert weather.values["precipitation"].sum() == pytest.approx(total, rel=1e-12)
    gusts = [x["value"] for x in layers["windGust"]["values"] if x["value"] is not None]
    assert np.nanmax(weather.values["wind_gust"]) == pytest.approx(max(gusts) / 3.6)
    assert np.isnan(weather.values["wind_gust"][0, 50:]).all()
    assert not np.isnan(weather.values["wind_gust"][0, :50]).any()


def test_thunder_and_the_chance_of_long_intervals():
    """Thunder where the words say so; a chance for hours at once is noted."""
    weather = read_weather(SAMPLE)
    thunder = weather.values["thunder"][0]
    np.testing.assert_array_equal(np.flatnonzero(thunder), np.arange(30, 36))
    note = next(n for n in weather.notes if n.code == "chance_of_hours")
    assert "15 hours" in note.text
    assert (weather.values["precipitation_probability"][0, 9:24] == 10.0).all()


def test_another_split_of_the_same_rain(tmp_path):
    """The same total in intervals of one hour gives the same rain."""
    tree = json.loads(SAMPLE.read_text())
    layer = tree["properties"]["quantitativePrecipitation"]
    layer["values"] = [
        {"validTime": f"{hour.isoformat()}/PT1H", "value": each["value"] / len(span)}
        for each in layer["values"]
        for span in [hours_of(each["validTime"])]
        for hour in span
    ]
    (tmp_path / "one.json").write_text(json.dumps(tree))
    one, whole = read_weather(tmp_path / "one.json"), read_weather(SAMPLE)
    np.testing.assert_allclose(one.values["precipitation"], whole.values["precipitation"])


@pytest.mark.parametrize(
    ("change", "words", "where"),
    [
        (("value", "brisk"), '"brisk" is not a number', "windSpeed"),
        (
            ("validTime", "2026-05-04T09:00:00+00:00/6H"),
            "not an interval",
            "windSpeed, entry 2",
        ),
    ],
)
def test_broken_entries(tmp_path, change, words, where):
    """A value that is no number, an interval that is none: file and entry are named."""
    tree = json.loads(SAMPLE.read_text())
    tree["properties"]["windSpeed"]["values"][1][change[0]] = change[1]
    (tmp_path / "broken.json").write_text(json.dumps(tree))
    with pytest.raises(WeatherError, match=words) as caught:
        read_weather(tmp_path / "broken.json")
    assert where in str(caught.value.key)
    assert "entry" in str(caught.value.key)
    assert str(caught.value.file).endswith("broken.json")


def test_half_an_answer(tmp_path):
    """An answer that breaks off is refused, not half read."""
    text = SAMPLE.read_text()
    (tmp_path / "half.json").write_text(text[: len(text) // 2])
    with pytest.raises(WeatherError, match="breaks off"):
        read_weather(tmp_path / "half.json")


@needs_shared
@pytest.mark.parametrize(
    "name", ["nws_detailed_forecast.json", "nws_gridpoint_layout_SYNTHETIC.json"]
)
def test_real_answers(name):
    """A real answer of 2022 and the bare layout, hour by hour, with their totals."""
    path = SHARED / "api_samples" / name
    tree = json.loads(path.read_text())
    weather = read_weather(path)
    expected = check(weather, tree)
    assert weather.issued == pd.Timestamp(tree["properties"]["updateTime"])
    layer = tree["properties"]["quantitativePrecipitation"]["values"]
    total = sum(x["value"] or 0.0 for x in layer)
    assert np.nansum(weather.values["precipitation"]) == pytest.approx(total)
    first = min(hours.index.min() for hours in expected.values() if len(hours))
    assert weather.times[0] == first


@needs_shared
def test_real_answer_in_other_units(tmp_path):
    """The unit beside a layer counts: the same winds in m/s are the same."""
    tree = json.loads((SHARED / "api_samples" / "nws_detailed_forecast.json").read_text())
    other = copy.deepcopy(tree)
    layer = other["properties"]["windSpeed"]
    layer["uom"] = "wmoUnit:m_s-1"
    for each in layer["values"]:
        each["value"] = None if each["value"] is None else each["value"] / 3.6
    (tmp_path / "si.json").write_text(json.dumps(other))
    (tmp_path / "kmh.json").write_text(json.dumps(tree))
    a, b = (read_weather(tmp_path / f"{name}.json") for name in ("si", "kmh"))
    np.testing.assert_allclose(a.values["wind_speed"], b.values["wind_speed"])
