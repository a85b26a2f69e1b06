"""Open-Meteo in CSV and JSON: old and new spellings, models, members, places, errors."""

from __future__ import annotations

import copy
import csv
import datetime as dt
import json

import numpy as np
import pytest

from planner.errors import SeveralPlaces, UnknownFormat, WeatherError
from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import (
    MPH,
    SAMPLES,
    before,
    celsius,
    check_hours,
    first,
    gust_of,
    mean,
    number,
)
from tests.weather.test_real import SHARED, needs_shared

JSON = SAMPLES / "openmeteo.json"


def answer():
    """The sample as a tree of its own."""
    return json.loads(JSON.read_text(encoding="utf-8"))


def raw(tree, name="answer.json"):
    """A tree as a service would send it."""
    return Raw(name=name, data=json.dumps(tree).encode())


def reckoned(tree):
    """Documented: rain, its chance, gust and sun of the hour before; the rest at the label."""
    hourly = tree["hourly"]
    columns = {}
    for name, values in hourly.items():
        for word in ("speed", "gusts", "direction"):
            name = name.replace(f"wind{word}", f"wind_{word}")
        columns[name.replace("dewpoint", "dew_point")] = values
    speed = lambda name: [number(v) * MPH for v in columns[name]]  # noqa: E731
    begin = dt.datetime.fromisoformat(columns["time"][0])
    begin -= dt.timedelta(seconds=tree["utc_offset_seconds"]) + dt.timedelta(hours=1)
    wind = speed("wind_speed_10m")
    gust = gust_of(speed("wind_gusts_10m"), wind)
    hour_wind = before(wind, max)
    rain = columns.get("precipitation")
    if rain is None:
        parts = zip(columns["rain"], columns["showers"], columns["snowfall"], strict=True)
        rain = [a + b + snow / 7.0 for a, b, snow in parts]  # 7 cm of snow hold 10 mm
    return begin, {
        "temp_air": before([celsius(x) for x in columns["temperature_2m"]], mean),
        "temp_dew": before([celsius(x) for x in columns["dew_point_2m"]], mean),
        "wind_speed": hour_wind,
        "wind_gust": gust_of(gust, hour_wind),
        "wind_direction": before(columns["wind_direction_10m"], first),
        "precipitation": [25.4 * number(x) for x in rain],
        "precipitation_probability": [number(x) for x in columns["precipitation_probability"]],
    }


def test_json_again():
    """Every hour of the sample in °F, mp/h and inch, by its documented meaning."""
    weather = read_weather(JSON)
    begin, columns = reckoned(answer())
    check_hours(weather, begin, **columns)
    codes = answer()["hourly"]["weather_code"]
    thunder = before([float(code >= 95) for code in codes], max)
    np.testing.assert_array_equal(weather.values["thunder"][0], thunder)
    np.testing.assert_array_equal(
        weather.values["ghi"][0], answer()["hourly"]["shortwave_radiation"]
    )
    assert (weather.place.latitude, weather.place.longitude) == (44.02, -91.4)
    assert weather.place.elevation == 265.0
    assert weather.gust_meaning == "hour maximum"


def test_csv_again():
    """Every hour of the CSV sample, which is in km/h and mm."""
    path = SAMPLES / "openmeteo.csv"
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()[3:]))
    get = lambda name: [number(r[name].replace("NaN", "")) for r in rows]  # noqa: E731
    wind = [v / 3.6 for v in get("wind_speed_10m (km/h)")]
    gust = gust_of([v / 3.6 for v in get("wind_gusts_10m (km/h)")], wind)
    hour_wind = before(wind, max)
    begin = dt.datetime.fromisoformat(rows[0]["time"]) + dt.timedelta(hours=5 - 1)
    check_hours(
        read_weather(path),
        begin,
        temp_air=before(get("temperature_2m (°C)"), mean),
        wind_speed=hour_wind,
        wind_gust=gust_of(gust, hour_wind),
        precipitation=get("precipitation (mm)"),
    )


def test_json_and_csv_of_one_forecast_are_one(tmp_path):
    """The same numbers written in the service's other layout."""
    tree = answer()
    head = [k for k in tree if k not in ("hourly", "hourly_units", "generationtime_ms")]
    names = list(tree["hourly"])
    lines = [",".join(head), ",".join(str(tree[k]) for k in head), ""]
    units = tree["hourly_units"]
    lines.append(",".join(n if n == "time" else f"{n} ({units[n]})" for n in names))
    for row in zip(*tree["hourly"].values(), strict=True):
        lines.append(",".join("NaN" if cell is None else str(cell) for cell in row))
    (tmp_path / "f.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    one, other = read_weather(JSON), read_weather(tmp_path / "f.csv")
    assert one.times.equals(other.times)
    for name, values in one.values.items():
        np.testing.assert_array_equal(values, other.values[name], err_msg=name)


def test_sums_and_largest_are_those_of_the_answer():
    """No rain is lost or made by the shift of hours, no gust cut."""
    hourly, weather = answer()["hourly"], read_weather(JSON)
    assert weather.values["precipitation"].sum() == pytest.approx(
        25.4 * sum(hourly["precipitation"])
    )
    largest = max(x for x in hourly["wind_gusts_10m"] if x is not None)
    assert np.nanmax(weather.values["wind_gust"]) == pytest.approx(largest * MPH)


def test_unix_time_and_metric_units():
    """Seconds since 1970 are UTC whatever offset stands beside them."""
    tree = answer()
    start = dt.datetime(2026, 5, 4, 5, tzinfo=dt.UTC).timestamp()
    hours = len(tree["hourly"]["time"])
    tree["hourly"]["time"] = [int(start) + 3600 * h for h in range(hours)]
    tree["hourly_units"]["time"] = "unixtime"
    begin, columns = reckoned(answer())
    check_hours(read_weather(raw(tree)), begin, **columns)


def test_old_spellings_are_the_new():
    """windspeed_10m, windgusts_10m, winddirection_10m, dewpoint_2m, cloudcover, weathercode."""
    tree = answer()
    for new, old in (
        ("wind_speed_10m", "windspeed_10m"),
        ("wind_gusts_10m", "windgusts_10m"),
        ("wind_direction_10m", "winddirection_10m"),
        ("dew_point_2m", "dewpoint_2m"),
        ("relative_humidity_2m", "relativehumidity_2m"),
        ("cloud_cover", "cloudcover"),
        ("weather_code", "weathercode"),
        ("wind_speed_80m", "windspeed_80m"),
    ):
        for block in ("hourly", "hourly_units"):
            tree[block][old] = tree[block].pop(new)
    tree["hourly_units"]["windspeed_10m"] = "mph"
    weather, usual = read_weather(raw(tree)), read_weather(JSON)
    for name, values in usual.values.items():
        np.testing.assert_array_equal(weather.values[name], values, err_msg=name)


def two_models():
    """The sample from two models, the second with a quarter more wind."""
    tree = answer()
    for block in ("hourly", "hourly_units"):
        names = [name for name in tree[block] if name != "time"]
        for name in names:
            values = tree[block].pop(name)
            for model, factor in (("icon_seamless", 1.0), ("gfs_seamless", 1.25)):
                wind = (
                    block == "hourly" and name.startswith("wind_") and "direction" not in name
                )
                more = [v if v is None else v * factor for v in values] if wind else values
                tree[block][f"{name}_{model}"] = more
    return tree


def test_of_several_models_one_is_asked_for():
    """Both are named; each read is that of its own columns."""
    tree = two_models()
    with pytest.raises(WeatherError, match="gfs_seamless, icon_seamless"):
        read_weather(raw(tree))
    with pytest.raises(WeatherError, match='no model "icon"'):
        read_weather(raw(tree), model="icon")
    usual = read_weather(JSON)
    one = read_weather(raw(tree), model="icon_seamless")
    other = read_weather(raw(tree), model="gfs_seamless")
    for name, values in usual.values.items():
        np.testing.assert_allclose(one.values[name], values, err_msg=name)
    np.testing.assert_allclose(other.values["wind_gust"], 1.25 * usual.values["wind_gust"])
    np.testing.assert_array_equal(other.values["precipitation"], usual.values["precipitation"])


def test_a_single_model_named_in_every_column_is_read():
    """One model only: nothing to choose."""
    tree = answer()
    for block in ("hourly", "hourly_units"):
        for name in [name for name in tree[block] if name != "time"]:
            tree[block][f"{name}_ecmwf_ifs025"] = tree[block].pop(name)
    weather = read_weather(raw(tree))
    for name, values in read_weather(JSON).values.items():
        np.testing.assert_array_equal(weather.values[name], values, err_msg=name)


def test_earlier_runs_do_not_come_before_the_forecast():
    """_previous_day1 stands beside the forecast; only on request is it read."""
    tree = answer()
    for name in ("temperature_2m", "precipitation", "wind_speed_10m"):
        values = tree["hourly"][name]
        tree["hourly"][f"{name}_previous_day1"] = [v + 1.0 for v in values]
        tree["hourly_units"][f"{name}_previous_day1"] = tree["hourly_units"][name]
    weather, usual = read_weather(raw(tree)), read_weather(JSON)
    for name, values in usual.values.items():
        np.testing.assert_array_equal(weather.values[name], values, err_msg=name)
    run = read_weather(raw(tree), model="previous_day1")
    rain = [25.4 * (v + 1.0) for v in tree["hourly"]["precipitation"]]
    np.testing.assert_allclose(run.values["precipitation"][0], rain)
    warm = before([celsius(v + 1.0) for v in tree["hourly"]["temperature_2m"]], mean)
    np.testing.assert_allclose(run.values["temp_air"][0], warm)


def only_earlier(*days):
    """The sample as what was forecast some days before each hour, and nothing newer."""
    tree = answer()
    for block in ("hourly", "hourly_units"):
        for name in [name for name in tree[block] if name != "time"]:
            values = tree[block].pop(name)
            tree[block] |= {f"{name}_previous_day{day}": values for day in days}
    return tree


@pytest.mark.parametrize("days", [(1,), (2,), (1, 2)])
def test_earlier_runs_alone_are_not_taken_for_the_forecast(days):
    """Not even one of them: it is asked for by its name, and the fix gives one."""
    with pytest.raises(WeatherError, match="previous_day") as caught:
        read_weather(raw(only_earlier(*days)))
    assert caught.value.key == "model"
    assert f"--model previous_day{days[0]}" in caught.value.fix


@pytest.mark.parametrize("day", [1, 3])
def test_an_earlier_run_is_days_old(day):
    """It says so as a doubt, and is taken as issued that many days before its first hour."""
    run = read_weather(raw(only_earlier(day)), model=f"previous_day{day}")
    usual = read_weather(JSON)
    notes = {note.code: note for note in run.notes}
    assert notes["earlier_run"].doubt
    assert f"{day} d" in notes["earlier_run"].text
    assert usual.issued - run.issued == dt.timedelta(days=day)
    assert "earlier_run" not in {note.code for note in usual.notes}
    for name, values in usual.values.items():
        np.testing.assert_array_equal(run.values[name], values, err_msg=name)


PARTS = {"rain": 0.01, "showers": 0.02, "snowfall": 0.07}  # inch


def in_parts(*names):
    """The sample with parts of its rain instead of the sum."""
    tree = answer()
    hours = len(tree["hourly"]["time"])
    del tree["hourly"]["precipitation"], tree["hourly_units"]["precipitation"]
    for name in names:
        tree["hourly"][name], tree["hourly_units"][name] = [PARTS[name]] * hours, "inch"
    return raw(tree)


@pytest.mark.parametrize(
    "names", [("rain",), ("showers",), ("snowfall",), ("rain", "snowfall"), ()]
)
def test_rain_without_showers_is_no_sum(names):
    """A part alone is not the rain of the hour: its chance is all that is known."""
    weather = read_weather(in_parts(*names))
    assert not weather.has("precipitation")
    assert weather.has("precipitation_probability")


@pytest.mark.parametrize("snow", [False, True])
def test_rain_and_showers_are_the_sum_with_snow_or_without(snow):
    """Who asks for no snow in summer loses nothing."""
    names = ("rain", "showers", "snowfall") if snow else ("rain", "showers")
    wanted = 25.4 * (0.01 + 0.02 + (0.07 / 7.0 if snow else 0.0))
    found = read_weather(in_parts(*names)).values["precipitation"]
    np.testing.assert_allclose(found, wanted, rtol=1e-5)


def with_members(ending):
    """The sample with two members more, each with more of all that it holds."""
    tree = answer()
    hourly, units = tree["hourly"], tree["hourly_units"]
    for name in [name for name in hourly if name != "time"]:
        values, unit = hourly.pop(name), units.pop(name)
        for member in range(3):
            told = f"{name}{ending(member)}"
            units[told] = unit
            more = 0.5 * member if "wind_" in name and "direction" not in name else 0.0
            hourly[told] = [None if v is None else v + more for v in values]
    return tree


@pytest.mark.parametrize(
    "ending",
    [
        lambda m: f"_member{m:02d}" if m else "",
        lambda m: f"_member{m:02d}_icon_seamless" if m else "_icon_seamless",
        lambda m: f"_icon_seamless_member{m:02d}" if m else "_icon_seamless",
    ],
    ids=["alone", "before the model", "behind the model"],
)
def test_members_wherever_their_number_stands(ending):
    """Control and two members, in order, in every column."""
    weather = read_weather(raw(with_members(ending)))
    assert (weather.kind, weather.members) == ("ensemble", 3)
    hourly = answer()["hourly"]
    for member in range(3):
        wind = [(v + 0.5 * member) * MPH for v in hourly["wind_speed_10m"]]
        np.testing.assert_allclose(weather.values["wind_speed"][member], before(wind, max))
        gust = [number(v) + 0.5 * member for v in hourly["wind_gusts_10m"]]
        np.testing.assert_allclose(
            np.nanmax(weather.values["wind_gust"][member]), np.nanmax(gust) * MPH
        )


def test_members_of_unequal_columns_are_refused():
    """A member that lacks a column is no weather."""
    tree = with_members(lambda m: f"_member{m:02d}" if m else "")
    del tree["hourly"]["precipitation_member02"]
    with pytest.raises(WeatherError, match="same members"):
        read_weather(raw(tree))


def two_places():
    """Two answers in a list, as for two pairs of coordinates; the second is windier."""
    near, far = answer(), answer()
    far |= {"location_id": 1, "latitude": 45.5, "longitude": -92.25, "elevation": 300.0}
    far["hourly"]["wind_speed_10m"] = [v + 2.0 for v in far["hourly"]["wind_speed_10m"]]
    return [near, far]


def test_of_several_places_one_is_asked_for():
    """A list names its places 0 and 1; each has its own numbers and coordinates."""
    with pytest.raises(SeveralPlaces, match="0, 1"):
        read_weather(raw(two_places()))
    near = read_weather(raw(two_places()), location="0")
    far = read_weather(raw(two_places()), location="1")
    assert near.place.latitude == 44.02
    assert (far.place.latitude, far.place.elevation) == (45.5, 300.0)
    wind = [(v + 2.0) * MPH for v in answer()["hourly"]["wind_speed_10m"]]
    np.testing.assert_allclose(far.values["wind_speed"][0], before(wind, max))
    for name, values in read_weather(JSON).values.items():
        np.testing.assert_array_equal(near.values[name], values, err_msg=name)


def test_a_list_of_one_place_is_that_place():
    """Nothing to choose."""
    weather = read_weather(raw([answer()]))
    np.testing.assert_array_equal(
        weather.values["wind_gust"], read_weather(JSON).values["wind_gust"]
    )


def test_other_blocks_are_left_alone():
    """Days and the present hour beside the hours: said, not read."""
    tree = answer()
    tree["daily_units"] = {"time": "iso8601", "temperature_2m_max": "°F"}
    tree["daily"] = {"time": ["2026-05-04"], "temperature_2m_max": [60.0]}
    tree["current"] = {"time": "2026-05-04T03:15", "interval": 900, "temperature_2m": 40.0}
    weather = read_weather(raw(tree))
    assert "other_blocks" in {note.code for note in weather.notes}
    np.testing.assert_array_equal(
        weather.values["temp_air"], read_weather(JSON).values["temp_air"]
    )


def test_the_service_says_what_is_wrong():
    """An answer that is an error is told in the service's own words."""
    told = {"error": True, "reason": "Cannot resolve variable wind_gust from its name"}
    with pytest.raises(UnknownFormat, match="Cannot resolve variable wind_gust") as caught:
        read_weather(raw(told))
    assert caught.value.file == "answer.json"


def broken(change):
    """The sample, changed."""
    tree = copy.deepcopy(answer())
    change(tree)
    return tree


def shorten(tree):
    """Make one array an hour short."""
    tree["hourly"]["wind_gusts_10m"].pop()


@pytest.mark.parametrize(
    ("change", "words", "where"),
    [
        (shorten, "47 entries where there are 48", "wind_gusts_10m"),
        (lambda t: t["hourly"]["time"].pop(), "48 entries where there are 47", ""),
        (lambda t: t["hourly"]["time"].__setitem__(16, None), "no time", "entry 17"),
        (lambda t: t["hourly"]["time"].__setitem__(16, "noon"), "not a time", "entry 17"),
        (lambda t: t["hourly"]["precipitation"].__setitem__(3, "wet"), '"wet"', "entry 4"),
        (lambda t: t["hourly"].__setitem__("time", []), "no hours", "time"),
        (lambda t: t["hourly_units"].__setitem__("wind_speed_10m", "mm"), '"mm"', "wind_speed"),
        (lambda t: t.__setitem__("utc_offset_seconds", "soon"), "not an offset", ""),
        (lambda t: t["hourly"].__setitem__("precipitation", 0.0), "not laid out", ""),
        (lambda t: t.pop("hourly_units"), "not laid out", ""),
    ],
)
def test_broken_answers_name_file_and_entry(change, words, where):
    """Arrays of unequal length, no time, no number, no unit: refused, and where is said."""
    with pytest.raises(WeatherError, match=words) as caught:
        read_weather(raw(broken(change)))
    assert caught.value.file == "answer.json"
    assert where in str(caught.value.key or "")


@pytest.mark.parametrize("cut", [100, 1500, 3000])
def test_half_an_answer_is_refused(cut):
    """Cut anywhere it is no JSON; the line is named."""
    with pytest.raises(WeatherError, match="breaks off") as caught:
        read_weather(Raw(name="half.json", data=JSON.read_bytes()[:cut]))
    assert caught.value.file == "half.json"
    assert caught.value.line is not None


REAL = ("2023-10-05_0800", "2023-11-05_0600", "2024-03-10_0600", "2024-04-15_0600")


@needs_shared
@pytest.mark.parametrize("name", [*REAL, "NYC_2023-11-05_analysis"])
def test_real_answers_again(name):
    """336 hours each, old spellings, °F, mp/h, inch, over both clock changes of a year."""
    path = SHARED / "api_samples" / f"open_meteo_{name}.json"
    tree = json.loads(path.read_text(encoding="utf-8"))
    weather = read_weather(path)
    begin, columns = reckoned(tree)
    check_hours(weather, begin, **columns)
    sums = [sum(tree["hourly"][part]) for part in ("rain", "showers", "snowfall")]
    assert weather.values["precipitation"].sum() == pytest.approx(
        25.4 * (sums[0] + sums[1] + sums[2] / 7.0), rel=1e-5
    )


@needs_shared
def test_a_clock_change_does_not_move_the_offset():
    """On 2023-11-05 New York went from UTC-4 to UTC-5; the answer keeps -5 from midnight on."""
    weather = read_weather(SHARED / "api_samples" / "open_meteo_2023-11-05_0600.json")
    assert str(weather.times[0]) == "2023-11-05 04:00:00+00:00"
    assert not weather.times.has_duplicates
    assert "clock_change" not in {note.code for note in weather.notes}
