"""Typical years as weather: hours that end at local standard time, states at both ends."""

from __future__ import annotations

import csv
import datetime as dt
import gzip

import numpy as np
import pytest

from planner.errors import MissingColumn, WeatherError
from planner.weather.file.typical import ONE_YEAR
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import NO, SAMPLES, before, check_hours, first, mean

EPW, TMY3 = SAMPLES / "epw.epw", SAMPLES / "tmy3.csv"
BEGIN = dt.datetime(ONE_YEAR, 4, 30, 6)  # noqa: DTZ001 - midnight at UTC-6, in UTC


def epw_columns():
    """Documented: state at the hour's end, rain and sun in the hour; all nines are missing."""
    rows = list(csv.reader(EPW.read_text().splitlines()))[8:]
    get = lambda at, nines: [  # noqa: E731
        NO if float(r[at]) >= nines else float(r[at]) for r in rows
    ]
    return {
        "temp_air": before(get(6, 99.9), mean),
        "temp_dew": before(get(7, 99.9), mean),
        "relative_humidity": before(get(8, 999), mean),
        "pressure": before(get(9, 999999), mean),
        "ghi": get(13, 9999),
        "wind_direction": before(get(20, 999), first),
        "wind_speed": before(get(21, 999), max),
        "cloud_cover": [10.0 * tenths for tenths in before(get(22, 99), mean)],
        "precipitation": get(33, 999),
    }


def tmy3_columns():
    """Documented: state at the hour's end, rain and sun in the hour; -9900 is missing."""
    rows = list(csv.DictReader(TMY3.read_text().splitlines()[1:]))
    get = lambda name: [NO if float(r[name]) == -9900 else float(r[name]) for r in rows]  # noqa: E731
    rain = [
        depth if hours == 1 else NO
        for depth, hours in zip(
            get("Lprecip depth (mm)"), get("Lprecip quantity (hr)"), strict=True
        )
    ]
    return {
        "temp_air": before(get("Dry-bulb (C)"), mean),
        "temp_dew": before(get("Dew-point (C)"), mean),
        "relative_humidity": before(get("RHum (%)"), mean),
        "pressure": [100.0 * mbar for mbar in before(get("Pressure (mbar)"), mean)],
        "ghi": get("GHI (W/m^2)"),
        "wind_direction": before(get("Wdir (degrees)"), first),
        "wind_speed": before(get("Wspd (m/s)"), max),
        "cloud_cover": [10.0 * tenths for tenths in before(get("TotCld (tenths)"), mean)],
        "precipitation": rain,
    }


CASES = pytest.mark.parametrize(
    ("path", "columns"), [(EPW, epw_columns), (TMY3, tmy3_columns)], ids=["epw", "tmy3"]
)


@CASES
def test_again(path, columns):
    """Every hour of both samples; they are a record of nothing and have no gusts."""
    weather = read_weather(path)
    check_hours(weather, BEGIN, **columns())
    assert weather.format == path.stem
    assert (weather.kind, weather.gust_meaning) == ("observed", "none")
    assert not weather.has("wind_gust")
    assert weather.issued is None
    notes = {note.code: note for note in weather.notes}
    assert notes["typical_year"].doubt
    assert "no record" in notes["typical_year"].text
    assert "no_gusts" in notes
    place = weather.place
    assert (place.latitude, place.longitude, place.elevation) == (44.02, -91.4, 265.0)


@CASES
def test_rain_is_that_of_the_file(path, columns):
    """Sum and largest hour."""
    rain = columns()["precipitation"]
    weather = read_weather(path)
    assert np.nansum(rain) > 0
    assert np.nansum(weather.values["precipitation"]) == pytest.approx(np.nansum(rain))
    assert np.nanmax(weather.values["precipitation"]) == np.nanmax(rain)


def test_a_name_with_an_accent(tmp_path):
    """A place's name in Latin-1 does not get in the way of pvlib."""
    text = EPW.read_text().replace("LOCATION,Larkfield", "LOCATION,Lärkfield")
    (tmp_path / "f.epw").write_bytes(text.encode("latin-1"))
    weather = read_weather(tmp_path / "f.epw")
    assert weather.place.name == "Lärkfield"
    check_hours(weather, BEGIN, **epw_columns())


@pytest.mark.parametrize("change", ["bom", "crlf", "gz"])
@pytest.mark.parametrize("path", [EPW, TMY3], ids=["epw", "tmy3"])
def test_saved_in_other_ways(path, change, tmp_path):
    """With a byte-order mark, other line ends, packed."""
    data = path.read_bytes()
    data = {
        "bom": b"\xef\xbb\xbf" + data,
        "crlf": data.replace(b"\n", b"\r\n"),
        "gz": gzip.compress(data),
    }[change]
    (tmp_path / "f").write_bytes(data)
    weather, usual = read_weather(tmp_path / "f"), read_weather(path)
    assert weather.times.equals(usual.times)
    for name, values in usual.values.items():
        np.testing.assert_array_equal(weather.values[name], values, err_msg=name)


@pytest.mark.parametrize(
    ("path", "line", "old", "new"),
    [(EPW, 17, ",9,60,", ",x,60,"), (TMY3, 11, "04/30/2009", "04/30/09x")],
    ids=["epw", "tmy3"],
)
def test_a_broken_line_is_named(path, line, old, new, tmp_path):
    """File and line, whatever pvlib would say."""
    lines = path.read_text().splitlines()
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new)
    broken = tmp_path / "broken"
    broken.write_text("\n".join(lines) + "\n")
    with pytest.raises(WeatherError) as caught:
        read_weather(broken)
    assert (caught.value.file, caught.value.line) == (str(broken), line)


def test_a_year_without_rain_says_so(tmp_path):
    """Where rain was not recorded the planner cannot tell wet hours."""
    lines = EPW.read_text().splitlines()
    dry = [",".join([*line.split(",")[:-2], "0.0", "1.0"]) for line in lines[8:]]
    (tmp_path / "dry.epw").write_text("\n".join([*lines[:8], *dry]) + "\n")
    with pytest.raises(MissingColumn, match="rain or its chance"):
        read_weather(tmp_path / "dry.epw")
