"""A table written as CSV and read back is the same table."""

import datetime as dt
import tomllib

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from planner.weather.file.text import Raw
from planner.weather.live.line import Answer
from planner.weather.live.service import find_service
from planner.weather.live.written import csv_text, rounded_weather, source_text
from planner.weather.read import read_weather
from planner.weather.table import COLUMN, Note, Weather, WeatherPlace
from tests.weather.live.made_line import NOW

#: Ranges in which the reader has nothing to mend or to doubt.
RANGES = {
    "temp_air": (-20, 40),
    "temp_dew": (-30, -20),
    "relative_humidity": (20, 100),
    "wind_speed": (0, 15),
    "wind_gust": (20, 40),
    "wind_direction": (0, 360),
    "wind_speed_aloft": (0, 40),
    "precipitation": (0, 20),
    "precipitation_probability": (2, 100),  # all below 1 would be shares
    "cloud_cover": (2, 100),
    "ghi": (0, 1000),
    "pressure": (95_000, 105_000),
    "thunder": (0, 1),
}
NEEDED = {"temp_air", "wind_speed", "precipitation"}
MAY_BE_BLANK = {"wind_gust", "wind_direction", "cloud_cover", "ghi"}


#: Doubts, which are sentences, with any letter and sign in them.
DOUBTS = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"], include_characters=" ")
).map(lambda text: Note(code="x", text=" ".join(f"It is {text}.".split()), doubt=True))


@st.composite
def tables(draw):
    """A table as a reader makes it: needed columns whole, others here and there or not."""
    hours, members = draw(st.integers(3, 30)), draw(st.sampled_from([1, 1, 2, 3, 12]))
    chosen = draw(st.sets(st.sampled_from(sorted(RANGES)))) | NEEDED
    if "relative_humidity" in chosen:
        chosen -= {"temp_dew"}  # a reader holds the three against each other
    values = {}
    for name in sorted(chosen):
        low, high = RANGES[name]
        count = 1 if name == "precipitation_probability" else members
        numbers = st.floats(low, high, width=32).map(lambda x: round(float(x), 4))
        if name == "thunder":
            numbers = st.sampled_from([0.0, 1.0])
        array = draw(arrays.arrays(np.float64, (count, hours), elements=numbers))
        if name in MAY_BE_BLANK:
            array = np.where(draw(arrays.arrays(bool, (count, hours))), np.nan, array)
        values[name] = array
    first = pd.Timestamp("2026-05-06T00:00Z").as_unit("ns")
    times = pd.date_range(first, periods=hours, freq="h", name="time")
    origin = {
        name: "given" if name in values and not np.isnan(values[name]).all() else "missing"
        for name in COLUMN
    }
    observed = members == 1 and draw(st.booleans())
    kind = "ensemble" if members > 1 else "observed" if observed else "forecast"
    meaning = draw(st.sampled_from(["hour maximum", "10-minute maximum"]))
    return Weather(
        times=times,
        values=values,
        weights=np.full(members, 1 / members),
        kind=kind,
        origin=origin,
        issued=None if observed else first + dt.timedelta(minutes=draw(st.integers(0, 90))),
        issued_from="" if observed else draw(st.sampled_from(["file", "fetched"])),
        notes=draw(st.lists(DOUBTS, max_size=3).map(tuple)),
        place=WeatherPlace(
            latitude=draw(st.sampled_from([44.02, -33.9])),
            longitude=-91.4,
            elevation=draw(st.sampled_from([None, 265.0, -3.5])),
            name=draw(st.sampled_from(["", "Larkfield, north: field"])),
        ),
        credit=draw(st.sampled_from(["Weather data by A, B: C", "Données # libres"])),
        gust_meaning=meaning if origin["wind_gust"] == "given" else "none",
        gust_resolution=draw(st.sampled_from([0.514444, 1.0])),
    )


@settings(max_examples=60)
@given(tables())
def test_a_table_written_and_read_is_the_same(weather):
    text = csv_text(weather, fetched=NOW, stale="the line broke")
    back = read_weather(Raw(name="written.csv", data=text.encode()))
    pd.testing.assert_index_equal(back.times, weather.times, check_freq=False)
    for name, origin in weather.origin.items():
        assert back.origin[name] == origin, name
        if origin == "given":
            np.testing.assert_array_equal(back.values[name], weather.values[name], name)
    for name in ("kind", "issued", "issued_from", "place", "credit", "gust_meaning"):
        assert getattr(back, name) == getattr(weather, name), name
    kept = [note for note in back.notes if note.code == "from_service"]
    assert [note.text for note in kept] == [note.text for note in weather.notes]
    assert all(note.doubt for note in kept)
    assert back.members == weather.members
    np.testing.assert_array_equal(back.weights, weather.weights)
    if weather.has("wind_gust"):
        assert back.gust_resolution == pytest.approx(weather.gust_resolution)


def test_a_doubt_is_a_line_of_its_own_and_other_notes_are_none():
    """Not the one that it is an old copy either: "stale" says that already."""
    weather = Weather(
        times=pd.date_range("2026-05-06", periods=2, freq="h", tz="UTC"),
        values={},
        weights=np.ones(1),
        kind="forecast",
        origin={},
        notes=(
            Note(code="a", text="First,\n doubt: two.", doubt=True),
            Note(code="b", text="No doubt."),
            Note(code="stale", text="An old copy.", doubt=True),
            Note(code="c", text="Second.", doubt=True),
        ),
    )
    lines = csv_text(weather, stale="the line broke").splitlines()
    assert [line for line in lines if "doubt" in line] == [
        "# doubt: First, doubt: two.",
        "# doubt: Second.",
    ]
    assert "old copy" not in "".join(lines)
    assert "# stale: the line broke" in lines


def test_the_file_can_be_read_by_a_person():
    times = pd.date_range("2026-05-06T05:00Z", periods=2, freq="h")
    values = {
        "temp_air": np.array([[7.25, np.nan]]),
        "wind_speed": np.array([[2.0, 3.0], [4.0, 1 / 3]]),
    }
    weather = Weather(
        times=times,
        values=values,
        weights=np.array([0.5, 0.5]),
        kind="ensemble",
        origin={"temp_air": "given", "wind_speed": "given"},
        issued=times[0],
        place=WeatherPlace(latitude=44.02, longitude=-91.4),
        credit="Two\nlines",
    )
    assert csv_text(rounded_weather(weather), fetched=NOW) == (
        "# latitude: 44.02\n"
        "# longitude: -91.4\n"
        "# kind: ensemble\n"
        "# issued: 2026-05-06T05:00Z\n"
        "# label: start\n"
        "# gust_meaning: not said\n"
        "# credit: Two lines\n"
        "# fetched: 2026-05-06T11:30Z\n"
        "time,temp_air,wind_speed_member01,wind_speed_member02\n"
        "2026-05-06T05:00Z,7.25,2.0,4.0\n"
        "2026-05-06T06:00Z,,3.0,0.3333\n"
    )


@pytest.mark.parametrize("stale", [False, True])
def test_where_it_is_from_is_toml(stale):
    weather = Weather(
        times=pd.date_range("2026-05-06", periods=2, freq="h", tz="UTC"),
        values={},
        weights=np.ones(1),
        kind="forecast",
        origin={},
        issued=pd.Timestamp(NOW),
    )
    answer = Answer(
        data=b"",
        url="https://x",
        fetched=NOW,
        first=NOW,
        age=dt.timedelta(hours=2),
        stale=stale,
        why='it said "no"\nand hung up' if stale else "",
    )
    service = find_service("open-meteo")
    text = source_text(service, answer, asked=("https://x", "https://y"), weather=weather)
    told = tomllib.loads(text)
    assert told["service"] == "open-meteo"
    assert told["asked"] == ["https://x", "https://y"]
    assert told["fetched"] == told["issued"] == NOW
    assert told["issued_from"] == "fetched"
    assert told["credit"] == service.credit
    assert told["license"] == "CC BY 4.0"
    assert told["planner"]
    assert told["stale"] is stale
    assert told.get("why") == ('it said "no" and hung up' if stale else None)
    assert told.get("age_minutes") == (120 if stale else None)
