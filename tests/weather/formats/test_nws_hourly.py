"""NWS hourly forecast: winds in words, no amounts, against the service's answers."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import WeatherError
from planner.weather.read import read_weather

SAMPLE = Path(__file__).parents[3] / "data" / "samples" / "nws-hourly.json"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[4] / "shared" / "weather")
).resolve()
SPEED = {"mph": 0.44704, "km/h": 1.0 / 3.6}  # in m/s
POINTS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W"]
POINTS += ["WNW", "NW", "NNW"]


def again(tree):
    """Give every hour by the service's own words."""
    hours = {}
    for each in tree["properties"]["periods"]:
        *words, unit = each["windSpeed"].split()
        fahrenheit = each["temperatureUnit"] == "F"
        degrees = each["temperature"]
        hours[pd.Timestamp(each["startTime"]).tz_convert("UTC")] = {
            "temp_air": (degrees - 32.0) / 1.8 if fahrenheit else float(degrees),
            "temp_dew": float(each["dewpoint"]["value"]),
            "relative_humidity": float(each["relativeHumidity"]["value"]),
            "wind_speed": float(words[-1]) * SPEED[unit],
            "wind_direction": 22.5 * POINTS.index(each["windDirection"]),
            "precipitation_probability": float(each["probabilityOfPrecipitation"]["value"]),
            "thunder": float("thunder" in each["shortForecast"].lower()),
        }
    return pd.DataFrame(hours).T


def check(weather, tree):
    """Compare hour by hour."""
    expected = again(tree)
    assert list(expected.index) == list(weather.times)
    assert set(expected) == weather.values.keys()
    for name in expected:
        np.testing.assert_allclose(weather.values[name][0], expected[name], err_msg=name)


def test_sample_hour_by_hour():
    """Winds such as "5 to 10 mph" count with the larger; no gust and no amount of rain."""
    weather, tree = read_weather(SAMPLE), json.loads(SAMPLE.read_text())
    assert any(" to " in x["windSpeed"] for x in tree["properties"]["periods"])
    check(weather, tree)
    assert weather.format == "nws-hourly"
    assert weather.gust_meaning == "none"
    assert not weather.has("precipitation")
    assert weather.issued == pd.Timestamp("2026-05-04T08:41:12Z")
    assert weather.place.latitude == pytest.approx(44.02)
    assert "no_gusts" in {note.code for note in weather.notes}
    assert weather.values["thunder"].sum() == 6


def changed(tmp_path, **words):
    """Write the sample with its third hour changed."""
    tree = json.loads(SAMPLE.read_text())
    tree["properties"]["periods"][2] |= words
    path = tmp_path / "changed.json"
    path.write_text(json.dumps(tree))
    return path


def test_wind_as_a_quantity(tmp_path):
    """The coming spelling of the wind, a value with a unit, is read too, gusts with it."""
    tree = json.loads(SAMPLE.read_text())
    for each in tree["properties"]["periods"]:
        mph = float(each["windSpeed"].split()[-2])
        each["windSpeed"] = {"unitCode": "wmoUnit:km_h-1", "value": mph * 1.609344}
        each["windGust"] = {"unitCode": "wmoUnit:km_h-1", "value": mph * 1.5 * 1.609344 + 3.0}
    (tmp_path / "q.json").write_text(json.dumps(tree))
    words, quantity = read_weather(SAMPLE), read_weather(tmp_path / "q.json")
    np.testing.assert_allclose(words.values["wind_speed"], quantity.values["wind_speed"])
    assert quantity.gust_meaning == "hour maximum"
    gust = quantity.values["wind_speed"] * 1.5 + 3.0 / 3.6
    np.testing.assert_allclose(quantity.values["wind_gust"], gust)


@pytest.mark.parametrize(
    ("words", "key"),
    [
        ({"windSpeed": "fresh"}, "windSpeed"),
        ({"windDirection": "NxW"}, "windDirection"),
        ({"temperature": "mild"}, "temperature"),
    ],
)
def test_broken_entries(tmp_path, words, key):
    """A word that is no wind, no direction, no number: file and entry are named."""
    path = changed(tmp_path, **words)
    with pytest.raises(WeatherError, match="is not a number") as caught:
        read_weather(path)
    assert caught.value.key == f"entry 3, {key}"
    assert caught.value.file == str(path)


@pytest.mark.skipif(not SHARED.is_dir(), reason=f"no weather records at {SHARED}")
@pytest.mark.parametrize("units", ["us", "si"])
def test_real_answers(units):
    """Two real hours of 2019 in both systems of units."""
    path = SHARED / "api_samples" / f"nws_gridpoints_forecast_hourly_{units}.json"
    weather, tree = read_weather(path), json.loads(path.read_text())
    check(weather, tree)
    assert weather.times[0] == pd.Timestamp("2019-10-15T00:00Z")
    assert weather.issued == pd.Timestamp("2019-10-14T23:16:24Z")
    assert weather.place.latitude == pytest.approx(29.995, abs=0.001)
