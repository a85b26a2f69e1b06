"""NOAA GHCN-hourly in both spellings of its header, against its documentation."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from planner.errors import WeatherError
from planner.weather.read import read_weather
from tests.weather.formats.reported import TRACE, by_hours

SAMPLES = Path(__file__).parents[3] / "data" / "samples"
COLUMNS = {
    "temp_air": "temperature",
    "temp_dew": "dew_point_temperature",
    "relative_humidity": "relative_humidity",
    "wind_speed": "wind_speed",
    "wind_gust": "wind_gust",
    "wind_direction": "wind_direction",
    "precipitation": "precipitation",
    "pressure": "sea_level_pressure",
}
GOOD = ("", "0", "1", "4", "5", "9")  # marks that failed no test


def when(row):
    """Give the time of a row, in either spelling."""
    if "DATE" in row:
        return dt.datetime.fromisoformat(row["DATE"]).replace(tzinfo=dt.UTC)
    parts = (int(row[name]) for name in ("Year", "Month", "Day", "Hour", "Minute"))
    return dt.datetime(*parts, tzinfo=dt.UTC)


def again(path):
    """Read a file anew: what passed its tests, in the hour that its report closes."""
    reports = []
    for row in csv.DictReader(path.read_text().splitlines(), delimiter="|"):
        said = {}
        for name, column in COLUMNS.items():
            cell = row[column]
            if not cell or row[f"{column}_Quality_Code"] not in GOOD:
                continue
            if name == "wind_direction" and cell == "999":
                continue
            number = float(cell) * (100.0 if name == "pressure" else 1.0)
            if name == "precipitation" and row[f"{column}_Measurement_Code"] in ("T", "2"):
                number = TRACE
            said[name] = number
        reports.append((when(row), said))
    return by_hours(reports)


@pytest.mark.parametrize("name", ["ghcnh", "ghcnh-2024"])
def test_samples_hour_by_hour(name):
    """Failed tests are not taken, traces are wet, 999 is no direction."""
    path = SAMPLES / f"{name}.psv"
    weather, expected = read_weather(path), again(path)
    assert weather.format == name
    assert weather.hours == len(expected) == 42
    assert weather.place.name == "LARKFIELD AIRFIELD"
    assert (weather.place.latitude, weather.place.elevation) == (44.03, 262.0)
    for column in COLUMNS:
        wanted = np.array(
            [expected[t.to_pydatetime()].get(column, np.nan) for t in weather.times]
        )
        found = weather.values[column][0]
        if column == "temp_air":  # the hour whose only reading failed is filled
            blank = np.flatnonzero(np.isnan(wanted))
            assert len(blank) == 1
            wanted[blank] = (wanted[blank - 1] + wanted[blank + 1]) / 2.0
        np.testing.assert_allclose(found, wanted, rtol=1e-9, err_msg=column)
    suspect = " ".join(n.text for n in weather.notes if n.code == "suspect")
    assert "temperature" in suspect
    assert "wind_speed" in suspect


def test_both_spellings_are_one_record():
    """The two headers say the same hours and numbers."""
    new, old = (read_weather(SAMPLES / f"{name}.psv") for name in ("ghcnh", "ghcnh-2024"))
    assert new.times.equals(old.times)
    for name, values in new.values.items():
        np.testing.assert_array_equal(values, old.values[name])


def test_traces_are_wet():
    """Each hour with a trace counts as 0.025 mm, and the total is that of the hours."""
    weather = read_weather(SAMPLES / "ghcnh.psv")
    rain = weather.values["precipitation"]
    assert (rain == TRACE).sum() == 3
    told = [note.text for note in weather.notes if note.code == "trace"]
    assert len(told) == 1
    assert "0.025" in told[0]
    total = sum(x["precipitation"] for x in again(SAMPLES / "ghcnh.psv").values())
    assert rain.sum() == pytest.approx(total)


@pytest.mark.parametrize("name", ["ghcnh", "ghcnh-2024"])
def test_broken_cell(tmp_path, name):
    """A cell that is no number: file, line and column are named."""
    lines = (SAMPLES / f"{name}.psv").read_text().splitlines()
    header, cells = lines[0].split("|"), lines[17].split("|")
    cells[header.index("wind_speed")] = "2,,1"
    lines[17] = "|".join(cells)
    (tmp_path / "broken.psv").write_text("\n".join(lines) + "\n")
    with pytest.raises(WeatherError, match='"2,,1" is not a number') as caught:
        read_weather(tmp_path / "broken.psv")
    assert (caught.value.line, caught.value.key) == (18, "wind_speed")
    assert str(caught.value.file).endswith("broken.psv")
