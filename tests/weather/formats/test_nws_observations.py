"""NWS observations of a station: units and marks beside each value, reports at any minute."""

from __future__ import annotations

import datetime as dt
import json
import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import PlannerError, WeatherError
from planner.weather.read import read_weather
from tests.weather.formats.reported import by_hours

SAMPLE = Path(__file__).parents[3] / "data" / "samples" / "nws-observations.json"
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[4] / "shared" / "weather")
).resolve()
needs_shared = pytest.mark.skipif(
    not SHARED.is_dir(), reason=f"no weather records at {SHARED}; set FILM_WEATHER"
)
NAMES = {
    "temperature": "temp_air",
    "dewpoint": "temp_dew",
    "windSpeed": "wind_speed",
    "windGust": "wind_gust",
    "windDirection": "wind_direction",
    "precipitationLastHour": "precipitation",
}
#: Of a unit's code, in the table's unit.
FACTOR = {"km_h-1": 1.0 / 3.6, "m_s-1": 1.0, "mm": 1.0, "m": 1000.0, "degC": 1.0}
FACTOR["degree_(angle)"] = 1.0
FAILED = "XQB"  # marks of MADIS: rejected, questioned, refused by hand


def again(tree):
    """Read the answer anew: what did not fail, in the hour that its report closes."""
    reports = []
    for each in tree["features"]:
        said = each["properties"]
        here = {"thunder": float("thunder" in said["textDescription"].lower())}
        for theirs, ours in NAMES.items():
            quantity = said[theirs]
            mark = str(quantity["qualityControl"]).rpartition(":")[2]
            if quantity["value"] is not None and mark not in FAILED:
                factor = FACTOR[quantity["unitCode"].rpartition(":")[2]]
                here[ours] = quantity["value"] * factor
        reports.append((dt.datetime.fromisoformat(said["timestamp"]), here))
    return by_hours(reports)


def check(weather, expected):
    """Compare hour by hour; the hour whose only temperature failed is filled."""
    for name in (*NAMES.values(), "thunder"):
        wanted = np.array([expected.get(t, {}).get(name, np.nan) for t in weather.times])
        found = weather.values[name][0]
        if name.startswith("temp"):
            blank = np.flatnonzero(np.isnan(wanted))
            wanted[blank] = (wanted[blank - 1] + wanted[blank + 1]) / 2.0
        np.testing.assert_allclose(found, wanted, rtol=1e-9, err_msg=name)


def test_sample_hour_by_hour():
    """Newest first, four specials, two values that failed their tests."""
    weather, tree = read_weather(SAMPLE), json.loads(SAMPLE.read_text())
    expected = again(tree)
    check(weather, expected)
    assert weather.format == "nws-observations"
    assert weather.hours == len(expected) == 34
    assert len(tree["features"]) == 38
    assert weather.gust_meaning == "10-minute maximum"
    place = weather.place
    assert (place.latitude, place.longitude, place.elevation) == (44.03, -91.41, 262.0)
    wind = weather.values["wind_speed"][0]
    assert np.isnan(wind).sum() == 1


def test_order_does_not_matter(tmp_path):
    """Oldest first gives the same table as newest first."""
    tree = json.loads(SAMPLE.read_text())
    tree["features"].reverse()
    (tmp_path / "oldest.json").write_text(json.dumps(tree))
    oldest, newest = read_weather(tmp_path / "oldest.json"), read_weather(SAMPLE)
    for name, values in newest.values.items():
        np.testing.assert_array_equal(oldest.values[name], values, err_msg=name)


def test_units_of_2019(tmp_path):
    """Wind in m/s, rain in metres and marks "qc:V", as answers were then, are the same."""
    tree = json.loads(SAMPLE.read_text())
    for each in tree["features"]:
        for name, quantity in each["properties"].items():
            if isinstance(quantity, dict) and "qualityControl" in quantity:
                quantity["qualityControl"] = f"qc:{quantity['qualityControl']}"
                unit = {"wmoUnit:km_h-1": ("unit:m_s-1", 3.6), "wmoUnit:mm": ("unit:m", 1000.0)}
                code, divisor = unit.get(quantity["unitCode"], (quantity["unitCode"], 1.0))
                quantity["unitCode"] = code
                if quantity["value"] is not None:
                    quantity["value"] /= divisor
            assert name
    (tmp_path / "old.json").write_text(json.dumps(tree))
    old, new = read_weather(tmp_path / "old.json"), read_weather(SAMPLE)
    for name, values in new.values.items():
        np.testing.assert_allclose(old.values[name], values, rtol=1e-9, err_msg=name)


def test_broken_entry(tmp_path):
    """A value that is no number: file and entry are named."""
    tree = json.loads(SAMPLE.read_text())
    tree["features"][4]["properties"]["windSpeed"]["value"] = "calm"
    path = tmp_path / "broken.json"
    path.write_text(json.dumps(tree))
    with pytest.raises(WeatherError, match='"calm" is not a number') as caught:
        read_weather(path)
    assert caught.value.key == "entry 5, windSpeed"
    assert caught.value.file == str(path)


@needs_shared
@pytest.mark.parametrize("name", ["", "_multiple"])
def test_real_answers(tmp_path, name):
    """Real answers of 2019 have no rain, and that is said; with rain they are read."""
    path = SHARED / "api_samples" / f"nws_stations_observations{name}.json"
    with pytest.raises(WeatherError, match="no column of rain"):
        read_weather(path)
    tree = json.loads(path.read_text())
    for each in tree["features"]:
        each["properties"]["precipitationLastHour"]["value"] = 0.0005
    (tmp_path / "rain.json").write_text(json.dumps(tree))
    weather = read_weather(tmp_path / "rain.json")
    check(weather, again(tree))
    assert weather.times[0] == pd.Timestamp("2019-06-27T10:00Z")
    np.testing.assert_allclose(weather.values["precipitation"], 0.5)
    np.testing.assert_allclose(weather.values["wind_speed"], 10.0)


@needs_shared
def test_real_answer_without_values():
    """A report that says nothing is no weather: a plain error, no crash."""
    path = SHARED / "api_samples" / "nws_stations_observations_missing_value.json"
    with pytest.raises(PlannerError):
        read_weather(path)
