"""The maps: well formed, and enough to add a format."""

from __future__ import annotations

import pytest

from planner.errors import UnitError
from planner.units import unit_factor
from planner.weather.formats import maps, recognise
from planner.weather.read import read_weather
from planner.weather.table import COLUMN


@pytest.mark.parametrize("name", maps.formats())
def test_every_map_is_well_formed(name):
    """Targets and units are known, joins only where a label ends or begins an hour."""
    one = maps.formats()[name]
    assert one.label in maps.LABELS
    assert one.kind in ("forecast", "ensemble", "observed")
    assert one.title
    assert one.precipitation_meaning
    targets = {source.to for source in one.columns}
    assert {"temp_air"} < targets <= set(COLUMN)
    assert ("wind_gust" in targets) == (one.gust_meaning != "none")
    for source in one.columns:
        assert source.joins in ("", "mean", "larger", "first")
        if source.unit:
            assert source.factors("")[0] > 0.0


def test_a_unit_of_another_kind_is_refused():
    """A wind in millimetres is no wind."""
    source = maps.formats()["openmeteo"].columns[5]
    assert source.name == "wind_speed_10m"
    assert source.factors("km/h") == pytest.approx((1 / 3.6, 0.0))
    with pytest.raises(maps.WeatherError, match='"mm"'):
        source.factors("mm")
    with pytest.raises(UnitError):
        unit_factor("mm", "speed")


NEW = """
name = "shed"
title = "a logger in a shed"
credit = ""
license = ""
kind = "observed"
label = "end"
gust_meaning = "hour maximum"
precipitation_meaning = "sum of the hour"
[recognise]
columns = ["when", "puff"]
[layout]
separator = ";"
missing = ["", "--"]
[time]
kind = "iso"
columns = ["when"]
zone = "UTC"
[columns]
warm = { to = "temp_air", unit = "F" }
wind = { to = "wind_speed", unit = "km/h", missing = [-999] }
puff = { to = "wind_gust", unit = "km/h" }
wet = { to = "precipitation", unit = "mm", scale = 0.2, trace = "T", trace_value = 0.05 }
"""


def test_a_new_format_is_a_map(tmp_path, monkeypatch):
    """A file of an unknown kind is read once a map for it is there; no code is added."""
    known = maps.formats() | {"shed": maps.read_map(NEW)}
    monkeypatch.setattr(recognise, "formats", lambda: known)
    path = tmp_path / "shed.csv"
    path.write_text(
        "kept by hand\nwhen;note;warm;wind;puff;wet\n"
        "2026-04-20 01:00;;50;7.2;18;1\n2026-04-20 02:00;;--;-999;18;T\n"
        "2026-04-20 03:00;;68;3.6;--;0\n"
    )
    weather = read_weather(path)
    assert weather.format == "shed"
    assert weather.times[0].hour == 0
    assert weather.values["temp_air"][0].tolist() == pytest.approx([10.0, 15.0, 20.0])
    assert weather.values["wind_speed"][0].tolist() == pytest.approx(
        [2.0, float("nan"), 1.0], nan_ok=True
    )
    assert weather.values["precipitation"][0].tolist() == pytest.approx([0.2, 0.05, 0.0])
