"""Several files as one record: what they must say alike, and what nothing in them says."""

from __future__ import annotations

import pytest

from planner.errors import WeatherError
from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import SAMPLES

HEAD = {
    "kind": "forecast",
    "label": "start",
    "issued": "2026-05-04T00:00Z",
    "gust_meaning": "hour maximum",
    "gust_resolution": "0.5",
    "name": "Larkfield",
    "fetched": "2026-05-04T00:10Z",
    "stale": "the service did not answer",
}
OTHER = {
    "kind": "observed",
    "label": "end",
    "issued": "2026-05-04T06:00Z",
    "gust_meaning": "10-minute maximum",
    "gust_resolution": "1",
    "name": "Wexelby Flats",
    "fetched": "2026-05-04T06:10Z",
    "stale": "the service was told to wait",
}


def half(number, head):
    """Give the first or second half of a day, in the planner's own format, with a head."""
    above = [f"# {key}: {word}" for key, word in head.items()]
    rows = [f"2026-05-04T{12 * number + h:02d}:00Z,9,2,5,0.0" for h in range(12)]
    lines = [*above, "time,temp_air,wind_speed,wind_gust,precipitation", *rows]
    return Raw(name=f"half{number}.csv", data=("\n".join(lines) + "\n").encode())


def codes(weather):
    """The codes of its notes."""
    return {note.code for note in weather.notes}


def test_files_that_say_the_same_are_one():
    """Two halves under one head."""
    weather = read_weather([half(0, HEAD), half(1, HEAD)])
    assert weather.hours == 24
    assert weather.place.name == "Larkfield"


@pytest.mark.parametrize("key", list(HEAD))
@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_files_that_say_different_things_are_refused(key, order):
    """Two forecasts, or a forecast and a record, are not one table: the key is named."""
    heads = [HEAD, HEAD | {key: OTHER[key]}]
    with pytest.raises(WeatherError) as caught:
        read_weather([half(number, heads[number]) for number in order])
    assert caught.value.key == key
    assert caught.value.file == f"half{order[1]}.csv"
    assert OTHER[key] in caught.value.message
    assert HEAD[key] in caught.value.message


@pytest.mark.parametrize("key", list(HEAD))
def test_a_file_that_is_silent_says_something_else(key):
    """What one file says is not taken for the others."""
    silent = {name: word for name, word in HEAD.items() if name != key}
    for heads in ((HEAD, silent), (silent, HEAD)):
        with pytest.raises(WeatherError) as caught:
            read_weather([half(number, head) for number, head in enumerate(heads)])
        assert caught.value.key == key


def test_files_that_name_no_station_are_doubted():
    """Neither a station in the rows nor coordinates above: nobody says they are one's."""
    nameless = [half(number, {}) for number in (0, 1)]
    weather = read_weather(nameless)
    notes = {note.code: note for note in weather.notes}
    assert notes["station_unconfirmed"].doubt
    assert "station_unconfirmed" not in codes(read_weather(nameless[0]))


def test_coordinates_or_a_station_tell_that_files_belong_together():
    """Then there is nothing to doubt."""
    placed = {"latitude": "44.02", "longitude": "-91.40"}
    assert "station_unconfirmed" not in codes(read_weather([half(n, placed) for n in (0, 1)]))
    named = sorted(SAMPLES.glob("dwd_*.txt"))
    assert "station_unconfirmed" not in codes(read_weather(named))


RECORD = {"kind": "observed", "latitude": "44.02", "longitude": "-91.40", "name": "Larkfield"}


def test_a_record_may_be_fetched_piece_by_piece():
    """Fetched on two days, and the mast moved by a hundredth of a degree between."""
    first = RECORD | {"fetched": "2026-05-04T13:00Z"}
    later = RECORD | {"fetched": "2026-05-05T01:00Z", "latitude": "44.03"}
    weather = read_weather([half(0, first), half(1, later)])
    assert weather.hours == 24
    assert "station_unconfirmed" not in codes(weather)


@pytest.mark.parametrize(
    "other",
    [{"latitude": "44.2"}, {"longitude": "-91.6"}, {"latitude": None, "longitude": None}],
)
def test_files_of_other_places_are_refused(other):
    """Tens of kilometres away, or one that does not say."""
    head = {key: word for key, word in (RECORD | other).items() if word is not None}
    with pytest.raises(WeatherError, match="the first file for"):
        read_weather([half(0, RECORD), half(1, head)])
    two = [RECORD | {"kind": "forecast", "latitude": north} for north in ("44.02", "44.03")]
    with pytest.raises(WeatherError, match="the first file for"):
        read_weather([half(number, head) for number, head in enumerate(two)])
