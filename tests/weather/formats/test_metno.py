"""MET Norway locationforecast: states at a time, sums of the hour that follows."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

from planner.errors import GapTooLong, WeatherError
from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import (
    NO,
    SAMPLES,
    after,
    check_hours,
    first,
    gust_of,
    mean,
)
from tests.weather.test_real import SHARED, needs_shared

PATH = SAMPLES / "metno.json"
HOURLY = 37  # of the sample's steps, an hour apart


def answer():
    """The sample as a tree of its own."""
    return json.loads(PATH.read_text(encoding="utf-8"))


def raw(tree):
    """A tree as the service would send it."""
    return Raw(name="answer.json", data=json.dumps(tree).encode())


def compact(tree):
    """What the shorter answer holds: no gust, no dew point, no chances."""
    left_out = ("wind_speed_of_gust", "dew_point_temperature")
    left_out += ("probability_of_precipitation", "probability_of_thunder")
    for step in tree["properties"]["timeseries"]:
        for block in step["data"].values():
            for name in left_out:
                block["details"].pop(name, None)
    for name in left_out:
        tree["properties"]["meta"]["units"].pop(name)
    return tree


def reckoned(tree, steps):
    """Documented: "instant" holds at the time, "next_1_hours" for the hour from it on."""
    series = tree["properties"]["timeseries"][:steps]
    state = lambda name: [s["data"]["instant"]["details"].get(name, NO) for s in series]  # noqa: E731
    coming = lambda name: [  # noqa: E731
        s["data"].get("next_1_hours", {}).get("details", {}).get(name, NO) for s in series
    ]
    wind = state("wind_speed")
    hour_wind = after(wind, max)
    gust = after(gust_of(state("wind_speed_of_gust"), wind), max)
    return {
        "temp_air": after(state("air_temperature"), mean),
        "temp_dew": after(state("dew_point_temperature"), mean),
        "wind_speed": hour_wind,
        "wind_gust": gust_of(gust, hour_wind),
        "wind_direction": after(state("wind_from_direction"), first),
        "cloud_cover": after(state("cloud_area_fraction"), mean),
        "pressure": [100.0 * p for p in after(state("air_pressure_at_sea_level"), mean)],
        "precipitation": coming("precipitation_amount"),
        "precipitation_probability": coming("probability_of_precipitation"),
    }


def test_again():
    """Every hour of the sample by its documented meaning; the label is the hour's start."""
    weather = read_weather(PATH)
    check_hours(weather, "2026-05-04T09:00", **reckoned(answer(), HOURLY))
    place = weather.place
    assert (place.latitude, place.longitude, place.elevation) == (44.02, -91.4, 265.0)
    assert weather.issued == dt.datetime(2026, 5, 4, 8, 52, 11, tzinfo=dt.UTC)
    assert weather.issued_from == "file"
    assert (weather.kind, weather.gust_meaning) == ("forecast", "hour maximum")


def test_thunder_from_a_tenth_on_or_by_the_symbol():
    """10 % and more, or a symbol with thunder in it; 9 % alone is none."""
    tree = answer()
    series = tree["properties"]["timeseries"]
    made = {2: (9.9, "rain"), 3: (10.0, "rain"), 5: (0.0, "rainandthunder")}
    for step, (chance, symbol) in made.items():
        series[step]["data"]["next_1_hours"]["details"]["probability_of_thunder"] = chance
        series[step]["data"]["next_1_hours"]["summary"]["symbol_code"] = symbol
    thunder = read_weather(raw(tree)).values["thunder"][0]
    assert (thunder[2], thunder[3], thunder[5]) == (0.0, 1.0, 1.0)
    expected = [
        float(
            "thunder" in s["data"]["next_1_hours"]["summary"]["symbol_code"]
            or s["data"]["next_1_hours"]["details"]["probability_of_thunder"] >= 10.0
        )
        for s in series[: HOURLY - 1]
    ]
    np.testing.assert_array_equal(thunder[: HOURLY - 1], expected)
    assert 0 < sum(expected) < HOURLY - 1


def test_steps_six_hours_apart_are_no_data():
    """Wind is not drawn between them; from when on is said."""
    weather = read_weather(PATH)
    note = next(note for note in weather.notes if note.code == "wide_steps")
    assert "2026-05-05 21:00" in note.text
    assert "6 hours" in note.text
    late = weather.times >= "2026-05-05T21:00Z"
    for name in ("wind_speed", "wind_gust", "precipitation"):
        assert np.isnan(weather.values[name][0][late]).all()
        assert not np.isnan(weather.values[name][0][~late]).any()


def test_rain_and_gusts_are_those_of_the_answer():
    """Sums of the hourly steps, largest gust of the states: nothing lost by the labels."""
    series = answer()["properties"]["timeseries"][:HOURLY]
    weather = read_weather(PATH)
    hours = [s["data"]["next_1_hours"]["details"] for s in series[:-1]]
    rain = sum(hour["precipitation_amount"] for hour in hours)
    assert rain > 0
    assert np.nansum(weather.values["precipitation"]) == pytest.approx(rain)
    gusts = [s["data"]["instant"]["details"]["wind_speed_of_gust"] for s in series]
    assert np.nanmax(weather.values["wind_gust"]) == max(gusts)


def test_compact_has_no_gust():
    """The shorter answer is read; gusts are to be estimated, and thunder is by the symbol."""
    tree = compact(answer())
    weather = read_weather(raw(tree))
    expected = reckoned(tree, HOURLY)
    for name in ("wind_gust", "temp_dew", "precipitation_probability"):
        del expected[name]
        assert not weather.has(name)
    check_hours(weather, "2026-05-04T09:00", **expected)
    assert weather.gust_meaning == "none"
    assert "no_gusts" in {note.code for note in weather.notes}
    assert weather.values["thunder"][0][16] == 1.0


def test_a_state_that_is_absent_is_no_data():
    """A step without wind leaves both hours beside it without."""
    tree = answer()
    del tree["properties"]["timeseries"][5]["data"]["instant"]["details"]["wind_speed"]
    weather = read_weather(raw(tree))
    assert np.flatnonzero(np.isnan(weather.values["wind_speed"][0])).tolist() == [4, 5, 36]


def step_without_data(tree):
    """Nothing under a time."""
    del tree["properties"]["timeseries"][7]["data"]


def time_in_words(tree):
    """No time."""
    tree["properties"]["timeseries"][7]["time"] = "noon"


def wind_in_words(tree):
    """No number."""
    tree["properties"]["timeseries"][7]["data"]["instant"]["details"]["wind_speed"] = "calm"


def wind_in_millimetres(tree):
    """No unit of speed."""
    tree["properties"]["meta"]["units"]["wind_speed"] = "mm"


@pytest.mark.parametrize(
    ("change", "words", "where"),
    [
        (wind_in_millimetres, '"mm"', "wind_speed"),
        (step_without_data, "not laid out", ""),
        (time_in_words, "noon", ""),
        (wind_in_words, '"calm"', "entry 8"),
    ],
)
def test_broken_answers_name_file_and_entry(change, words, where):
    """No unit, no step, no time, no number."""
    tree = answer()
    change(tree)
    with pytest.raises(WeatherError, match=words) as caught:
        read_weather(raw(tree))
    assert caught.value.file == "answer.json"
    assert where in str(caught.value.key or "")


def test_half_an_answer_is_refused():
    """A line cut off is named."""
    data = PATH.read_bytes()[:6000]
    with pytest.raises(WeatherError, match="breaks off") as caught:
        read_weather(Raw(name="half.json", data=data))
    assert caught.value.line == data.count(b"\n") + 1


@needs_shared
def test_the_layout_again():
    """The one hour of the folder's example: begins 06:00 UTC, no rain, 2.7 m/s in gusts."""
    path = SHARED / "api_samples" / "metno_locationforecast_layout_SYNTHETIC.json"
    with pytest.raises(GapTooLong, match="no whole hour"):
        read_weather(path)  # states need a second step to be an hour's
    tree = json.loads(path.read_text(encoding="utf-8"))
    series = tree["properties"]["timeseries"]
    series.append(json.loads(json.dumps(series[0]).replace("06:00", "07:00")))
    weather = read_weather(raw(tree))
    expected = reckoned(tree, 2)
    lacking = ("cloud_cover", "pressure")
    assert not any(weather.has(name) for name in lacking)
    expected = {name: numbers for name, numbers in expected.items() if name not in lacking}
    check_hours(weather, "2026-04-20T06:00", **expected)
    assert weather.values["precipitation"].tolist() == [[0.0, 0.0]]
