"""Several rows of an hour as one: what a special report may say, parts that stand twice."""

from __future__ import annotations

import numpy as np
import pytest

from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.weather.formats.reckoned import SAMPLES

KNOT = 1852.0 / 3600.0  # m/s
HOURS = 12
HOUR = 5  # the one that is changed


def reports(*specials, routine=("5", "0.01"), **changed):
    """Routine reports at 53 past, some changed by hour, with specials: a minute, wind, rain."""
    rows = []
    for hour in range(HOURS):
        rows.append((hour, 53, *changed.get(f"at_{hour}", routine)))
        rows += [(hour, *special) for special in specials if hour == HOUR]
    lines = [f"QLKF,2026-05-04 {h:02d}:{m:02d},50,{wind},{rain}" for h, m, wind, rain in rows]
    text = "\n".join(["station,valid,tmpf,sknt,p01i", *lines]) + "\n"
    return read_weather(Raw(name="r.csv", data=text.encode()), zone="UTC")


def at(weather, name):
    """One column in the changed hour."""
    return weather.values[name][0, HOUR]


def test_a_special_does_not_stand_for_the_hours_own_report():
    """Wind or rain that the routine report lacks was not seen, whatever the special says."""
    calm = (12, "2", "0.00")
    blown = reports(calm, at_5=("M", "0.02"))
    assert np.isnan(at(blown, "wind_speed"))
    assert at(blown, "precipitation") == pytest.approx(0.02 * 25.4)
    unmeasured = reports(calm, at_5=("4", "M"))
    assert np.isnan(at(unmeasured, "precipitation"))
    assert at(unmeasured, "wind_speed") == pytest.approx(4 * KNOT)


def test_a_special_raises_what_the_hours_own_report_says():
    """Of both the larger wind and rain count."""
    weather = reports((12, "14", "0.05"))
    assert at(weather, "wind_speed") == pytest.approx(14 * KNOT)
    assert at(weather, "precipitation") == pytest.approx(0.05 * 25.4)


def test_a_correction_at_the_same_minute_is_the_routine_report():
    """What it says stands, though the first of the two lacked it."""
    weather = reports((54, "6", "0.03"), at_5=("M", "M"))
    assert at(weather, "wind_speed") == pytest.approx(6 * KNOT)
    assert at(weather, "precipitation") == pytest.approx(0.03 * 25.4)


def test_an_hour_of_specials_alone_is_what_they_say():
    """A routine report that never came takes nothing away."""
    rows = [f"QLKF,2026-05-04 {h:02d}:53,50,5,0.00" for h in range(HOURS) if h != HOUR]
    rows.insert(HOUR, f"QLKF,2026-05-04 {HOUR:02d}:20,50,7,0.01")
    rows.insert(HOUR, f"QLKF,2026-05-04 {HOUR:02d}:10,50,3,0.00")
    text = "\n".join(["station,valid,tmpf,sknt,p01i", *rows]) + "\n"
    weather = read_weather(Raw(name="r.csv", data=text.encode()), zone="UTC")
    assert at(weather, "wind_speed") == pytest.approx(7 * KNOT)
    assert at(weather, "precipitation") == pytest.approx(0.01 * 25.4)


def test_where_routine_reports_never_speak_of_rain_a_special_may():
    """A station that tells of rain in specials alone is not silenced."""
    weather = reports((12, "5", "0.05"), routine=("5", "M"))
    assert at(weather, "precipitation") == pytest.approx(0.05 * 25.4)


def test_parts_that_stand_twice_count_once():
    """Two downloads that overlap: no five minutes of rain or wind are counted again."""
    lines = (SAMPLES / "uscrn.txt").read_text().splitlines()
    first, second = "\n".join(lines[:40]) + "\n", "\n".join(lines[28:]) + "\n"
    raws = [Raw(name=name, data=t.encode()) for name, t in (("a", first), ("b", second))]
    joined, whole = read_weather(raws), read_weather(SAMPLES / "uscrn.txt")
    assert whole.values["precipitation"][0, 2] > 0.0  # in the hour that both have
    assert joined.times.equals(whole.times)
    for name, values in whole.values.items():
        np.testing.assert_allclose(joined.values[name], values, rtol=1e-12, err_msg=name)
    assert "overlap" in {note.code for note in joined.notes}


def test_a_part_that_stands_twice_does_not_stand_for_one_that_is_lost():
    """Eleven parts of an hour and one of them again are no twelve: its rain is not known."""
    lines = (SAMPLES / "uscrn.txt").read_text().splitlines()
    lost = [*lines[:28], lines[27], *lines[29:]]
    weather = read_weather(Raw(name="u", data=("\n".join(lost) + "\n").encode()))
    assert np.isnan(weather.values["precipitation"][0, 2])
