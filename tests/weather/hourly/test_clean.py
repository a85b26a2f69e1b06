"""Values that cannot be: refused, or mended with a note that names the rows."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

from planner.errors import GapTooLong, WeatherError
from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import SAMPLES

HEAD = ("time", "temp_air", "wind_speed", "wind_gust", "precipitation")
HOUR = dt.timedelta(hours=1)


def table(count=240, seed=3):
    """Plain weather of a made-up place, all columns in the planner's units."""
    rng = np.random.default_rng(seed)
    wind = np.round(rng.uniform(0.5, 6.0, count), 2)
    start = dt.datetime(2026, 4, 1, tzinfo=dt.UTC)
    return {
        "time": [f"{start + HOUR * i:%Y-%m-%dT%H:%MZ}" for i in range(count)],
        "temp_air": np.round(rng.uniform(-5.0, 25.0, count), 1),
        "wind_speed": wind,
        "wind_gust": np.round(wind * 1.4 + rng.uniform(0.3, 3.0, count), 2),
        "precipitation": np.round(np.maximum(0.0, rng.normal(-1.0, 1.0, count)), 1),
    }


def read(tmp_path, columns, **options):
    path = tmp_path / "values.csv"
    rows = zip(
        *(["" if v != v else v for v in values] for values in columns.values()), strict=True
    )
    lines = [",".join(str(cell) for cell in row) for row in rows]
    path.write_text("\n".join([",".join(columns), *lines]) + "\n", encoding="utf-8")
    return read_weather(path, **options)


def note(weather, code):
    found = [one for one in weather.notes if one.code == code]
    assert len(found) == 1, [one.code for one in weather.notes]
    return found[0].text


def test_plain_weather_needs_no_note(tmp_path):
    """Nothing is doubted in an ordinary file but that it does not say where or when."""
    weather = read(tmp_path, table())
    assert {one.code for one in weather.notes} == {"issued_assumed", "place_unknown"}


@pytest.mark.parametrize("times", [1.15078, 1.0, 1.5, 3.6])
def test_a_gust_that_is_a_multiple_of_the_mean(tmp_path, times):
    """A fixed multiple of the mean is refused, whatever the multiple, strays and all."""
    columns = table()
    columns["wind_gust"] = columns["wind_speed"] * times
    columns["wind_gust"][:9] += 1.0
    with pytest.raises(WeatherError, match="mean wind again, not a gust") as caught:
        read(tmp_path, columns)
    assert caught.value.key == "wind_gust"
    assert ("knots to mph" in caught.value.message) == (times == 1.15078)


def test_a_gust_near_a_multiple_is_a_gust(tmp_path):
    """Ten strays in a hundred, or one wind all day, are not a multiple."""
    columns = table()
    columns["wind_gust"] = columns["wind_speed"] * 1.5
    columns["wind_gust"][::10] += 1.0
    assert read(tmp_path, columns).has("wind_gust")
    columns = table(60)
    columns["wind_speed"][:] = 3.0
    columns["wind_gust"][:] = 5.0
    assert read(tmp_path, columns).has("wind_gust")


def test_a_wind_that_never_changes_is_refused(tmp_path):
    """Three days of one and the same mean wind are a column that was not filled."""
    columns = table(72)
    columns["wind_speed"][:] = 0.0
    with pytest.raises(WeatherError, match="in every one of 72 rows") as caught:
        read(tmp_path, columns)
    assert caught.value.key == "wind_speed"
    columns["wind_speed"][40] = 0.5
    assert read(tmp_path, columns).hours == 72
    short = {name: values[:71] for name, values in columns.items()}
    short["wind_speed"][:] = 0.0
    assert read(tmp_path, short).hours == 71


@pytest.mark.parametrize(("aloft", "doubted"), [(21.0, True), (19.0, False)])
def test_a_wind_far_below_the_wind_aloft_is_doubted(tmp_path, aloft, doubted):
    """Over five times as much at a hundred metres is another unit, not the ground's drag."""
    tree = json.loads((SAMPLES / "openmeteo.json").read_text(encoding="utf-8"))
    hourly, hours = tree["hourly"], len(tree["hourly"]["time"])
    hourly["wind_speed_80m"] = [aloft + 0.1 * (h % 2) for h in range(hours)]
    hourly["wind_speed_10m"] = [4.0 + 0.1 * (h % 2) for h in range(hours)]
    weather = read_weather(Raw(name="aloft.json", data=json.dumps(tree).encode()))
    assert ("wind_aloft" in {one.code for one in weather.notes}) == doubted


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("temp_air", lambda v: v * 1.8 + 85.0, "Fahrenheit"),
        ("temp_air", lambda v: v + 273.15, "kelvin"),
        ("wind_speed", lambda v: v * 6.0, "km/h, mph or knots"),
        ("wind_gust", lambda v: v * 0.2, "below the mean"),
        ("precipitation", lambda v: v - 1.0, "outside 0 to 200"),
    ],
)
def test_a_column_in_another_unit(tmp_path, name, change, words):
    """A whole column off by a unit is refused and the column named."""
    columns = table()
    columns[name] = change(columns[name])
    with pytest.raises(WeatherError, match=words) as caught:
        read(tmp_path, columns)
    assert caught.value.key in (name, "wind_gust")
    assert caught.value.fix


def test_fahrenheit_in_winter_shows_by_humidity(tmp_path):
    """Air and dew point that agree with humidity only in Fahrenheit are in Fahrenheit.

    Humidity by Alduchov and Eskridge (1996), 17.625 and 243.04 degC, not by the reader's own.
    """
    columns = table()
    air = columns["temp_air"]
    dew = air - np.linspace(1.0, 12.0, air.size)
    columns["temp_dew"] = np.round(dew, 1)
    wet = np.exp(17.625 * dew / (243.04 + dew) - 17.625 * air / (243.04 + air))
    columns["relative_humidity"] = np.round(100.0 * wet)
    assert read(tmp_path, columns).has("temp_dew")
    for name in ("temp_air", "temp_dew"):
        columns[name] = np.round(columns[name] * 1.8 + 32.0, 1)
    with pytest.raises(WeatherError, match="Fahrenheit"):
        read(tmp_path, columns)


def test_shares_instead_of_percent(tmp_path):
    """Humidity from 0 to 1 is a share, not a percentage."""
    columns = table()
    columns["relative_humidity"] = np.linspace(0.3, 0.99, 240)
    with pytest.raises(WeatherError, match="share"):
        read(tmp_path, columns)


def test_single_impossible_values_are_taken_out(tmp_path):
    """One false wind and one infinite gust: missing, and the note names line and value."""
    columns = table()
    columns["wind_speed"][100] = 468.7
    columns["wind_gust"][7] = np.inf
    weather = read(tmp_path, columns)
    texts = " ".join(one.text for one in weather.notes if one.code == "impossible")
    assert "line 102: wind_speed 468.7 m/s" in texts
    assert "line 9: wind_gust inf m/s" in texts
    assert np.isnan(weather.values["wind_speed"][0, 100])
    assert np.isnan(weather.values["wind_gust"][0, 7])


def test_a_gust_below_its_mean_is_raised(tmp_path):
    """A few gusts below the mean are raised to it and counted."""
    columns = table()
    columns["wind_gust"][[3, 50]] = 0.1
    weather = read(tmp_path, columns)
    assert note(weather, "gust_below_mean").startswith("2 of 240 gusts")
    raised = weather.values["wind_gust"][0, [3, 50]]
    np.testing.assert_array_equal(raised, columns["wind_speed"][[3, 50]])


@pytest.mark.parametrize("mean", [1.0, 4.0])
def test_a_gust_of_nought_in_a_wind_was_not_given(tmp_path, mean):
    """It is missing, not calm, and not raised to the mean as if it were a gust."""
    columns = table()
    columns["wind_speed"][[3, 50]] = mean
    columns["wind_gust"][[3, 50]] = 0.0
    weather = read(tmp_path, columns)
    assert np.flatnonzero(np.isnan(weather.values["wind_gust"][0])).tolist() == [3, 50]
    text = note(weather, "gusts_of_zero")
    assert text.startswith("2 gusts are 0")
    assert "line 5" in text
    assert [one.doubt for one in weather.notes if one.code == "gusts_of_zero"] == [True]
    assert "gust_below_mean" not in {one.code for one in weather.notes}


@pytest.mark.parametrize("mean", [0.0, 0.9])
def test_a_gust_of_nought_in_a_calm_is_one(tmp_path, mean):
    """Where hardly anything moves, nought is a gust like any other."""
    columns = table()
    columns["wind_speed"][3], columns["wind_gust"][3] = mean, 0.0
    weather = read(tmp_path, columns)
    assert weather.values["wind_gust"][0, 3] == mean
    assert "gusts_of_zero" not in {one.code for one in weather.notes}


@pytest.mark.parametrize(
    ("step", "unit"), [(1.0, "m/s"), (1852 / 3600, "kn"), (0.44704, "mph"), (1 / 3.6, "km/h")]
)
def test_gusts_in_whole_units_are_told(tmp_path, step, unit):
    """Gusts in whole knots, mph, km/h or m/s: the step is found and noted."""
    columns = table()
    columns["wind_gust"] = np.ceil(columns["wind_gust"] / step) * step
    weather = read(tmp_path, columns)
    assert weather.gust_resolution == pytest.approx(step, rel=1e-5)
    assert f"whole {unit}" in note(weather, "gust_steps")


def test_dew_point_above_the_air_is_doubted(tmp_path):
    """A dew point 1.5 K above the air is doubted, 0.5 K above is not."""
    columns = table()
    columns["temp_dew"] = columns["temp_air"] + 0.5
    assert "dew_above_air" not in [one.code for one in read(tmp_path, columns).notes]
    columns["temp_dew"][4] += 1.0
    assert "1 row (first: line 6)" in note(read(tmp_path, columns), "dew_above_air")


def test_temperature_is_filled_over_two_hours_at_most(tmp_path):
    """Two missing hours are on the straight line, three stay missing; wind stays missing."""
    columns = table()
    columns["temp_air"][10:12] = np.nan
    columns["temp_air"][20:23] = np.nan
    columns["wind_speed"][30] = np.nan
    weather = read(tmp_path, columns)
    before, *two, after = weather.values["temp_air"][0, 9:13].tolist()
    np.testing.assert_allclose(two, before + (after - before) * np.array([1, 2]) / 3)
    assert np.isnan(weather.values["temp_air"][0, 20:23]).all()
    assert np.isnan(weather.values["wind_speed"][0, 30])
    assert note(weather, "temperature_filled").startswith("2 hours")


def test_gaps_become_hours_without_data(tmp_path):
    """Rows that are not there are hours without wind, gust and rain, counted in a note."""
    columns = {name: np.delete(values, [50, 51, 99]) for name, values in table().items()}
    weather = read(tmp_path, columns)
    assert weather.hours == 240
    for name in ("wind_speed", "wind_gust", "precipitation"):
        assert np.flatnonzero(np.isnan(weather.values[name][0])).tolist() == [50, 51, 99]
    text = note(weather, "gaps")
    assert text.startswith("3 hours not in the file, in 2 gaps; the longest, 2 h")
    assert "2026-04-03 02:00 UTC" in text


def test_doubled_hours(tmp_path):
    """The same row twice is one; different rows leave the larger wind, gust and rain."""
    columns = table(48)
    twice = {name: np.append(values, values[-1]) for name, values in columns.items()}
    assert "1 hour twice in the file, both the same" in note(read(tmp_path, twice), "doubled")
    twice["wind_gust"][-1] += 2.0
    twice["precipitation"][-2:] = [3.0, 1.0]
    weather = read(tmp_path, twice)
    assert "line 50" in note(weather, "doubled_differ")
    assert weather.values["wind_gust"][0, -1] == twice["wind_gust"][-1]
    assert weather.values["precipitation"][0, -1] == 3.0
    assert weather.hours == 48


def test_a_whole_file_doubled(tmp_path):
    """All rows twice over are read once."""
    columns = {name: np.tile(values, 2) for name, values in table(48).items()}
    weather = read(tmp_path, columns)
    assert weather.hours == 48
    assert note(weather, "doubled").startswith("48 hours")
    np.testing.assert_array_equal(weather.values["wind_gust"][0], columns["wind_gust"][:48])


def test_reports_close_their_hour(tmp_path):
    """A report at :53 belongs to the hour that ends at the next full hour; extra ones count."""
    columns = table(24)
    columns["time"] = [time.replace(":00Z", ":53Z") for time in columns["time"]]
    columns["wind_gust"][5] = 9.0
    weather = read(tmp_path, columns, label="closes")
    assert weather.times[0] == dt.datetime(2026, 4, 1, tzinfo=dt.UTC)
    assert weather.values["wind_gust"][0, 5] == 9.0
    extra = {name: np.append(values, values[5]) for name, values in columns.items()}
    extra["time"][-1] = "2026-04-01T05:20Z"
    extra["wind_gust"][-1] = 12.0
    weather = read(tmp_path, extra, label="closes")
    assert weather.hours == 24
    assert weather.values["wind_gust"][0, 5] == 12.0


def test_blank_gusts_are_counted(tmp_path):
    """The share of blank gusts is said; they stay blank here."""
    columns = table()
    columns["wind_gust"][:180] = np.nan
    weather = read(tmp_path, columns)
    assert note(weather, "gusts_missing").startswith("180 of 240 gusts are missing (75.0%)")
    assert np.isnan(weather.values["wind_gust"]).sum() == 180


def test_a_false_date_far_away(tmp_path):
    """A row of another century does not stretch the table over it."""
    columns = table()
    columns["time"][0] = "1999-04-01T00:00Z"
    with pytest.raises(GapTooLong, match="only 240 of these"):
        read(tmp_path, columns)


def test_half_hour_zones_keep_their_half_hour(tmp_path):
    """Hours that begin at :30 UTC, as in a half-hour zone, stay there."""
    columns = table(24)
    columns["time"] = [time.replace("Z", "+05:30") for time in columns["time"]]
    weather = read(tmp_path, columns)
    assert weather.hours == 24
    assert weather.times[0].minute == 30


def test_a_long_forecast_is_doubted(tmp_path):
    """Fifty days are a record: --kind observed is suggested, and takes the doubt away."""
    columns = table(1200)
    assert "--kind observed" in note(read(tmp_path, columns), "long_forecast")
    weather = read(tmp_path, columns, kind="observed")
    assert (weather.issued, weather.issued_from) == (None, "")
