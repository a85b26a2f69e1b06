"""Heat, cold and thunder against charts, an independent library and NIOSH's numbers."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
import thermofeel
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import OutOfRange
from planner.site.body import (
    dew_point,
    heat_index,
    heat_limit,
    relative_humidity,
    thunder_closed,
    vapour_pressure,
    wet_bulb_globe,
    wind_chill,
)

PUBLISHED = Path(__file__).parents[1] / "published"
TENTH_DEGREE = 0.05
TWO_DEGREES = 2.0
ZERO = 273.15


def read(name):
    with (PUBLISHED / name).open() as file:
        return [
            {key: float(cell) for key, cell in row.items() if key != "source"}
            for row in csv.DictReader(file)
        ]


def to_c(temp_f):
    return (np.asarray(temp_f, float) - 32.0) / 1.8


def to_f(temp_c):
    return float(temp_c) * 1.8 + 32.0


@pytest.mark.parametrize("row", read("heat_index.csv"), ids=str)
def test_heat_index_chart(row):
    """Whole degrees of the weather service's chart and its web calculator."""
    made = to_f(heat_index(to_c(row["temp_f"]), row["humidity"]))
    assert made == pytest.approx(row["heat_index_f"], abs=row["tolerance_f"])


@pytest.mark.parametrize("row", read("wind_chill.csv"), ids=str)
def test_wind_chill_chart(row):
    """Whole degrees of the 2001 wind chill chart."""
    made = to_f(wind_chill(to_c(row["temp_f"]), row["wind_mph"] * 0.44704))
    assert made == pytest.approx(row["wind_chill_f"], abs=row["tolerance_f"])


def test_wind_chill_in_metric():
    """The metric form in an independent library, -30 to 5 degC, 5 to 80 km/h."""
    temp, wind = np.meshgrid(np.linspace(-30, 5, 15), np.linspace(5, 80, 16) / 3.6)
    other = thermofeel.calculate_wind_chill(temp + ZERO, wind) - ZERO
    np.testing.assert_allclose(wind_chill(temp, wind), other, atol=TENTH_DEGREE)


def test_wind_chill_outside_its_range():
    """Warm air or a calm: the air temperature; never above it."""
    assert float(wind_chill(20.0, 10.0)) == pytest.approx(20.0)
    assert float(wind_chill(-10.0, 0.5)) == pytest.approx(-10.0)


def test_heat_index_in_a_library():
    """An independent library over 27 to 42 degC and 15 to 90 %."""
    temp, humidity = np.meshgrid(np.linspace(28, 42, 15), np.linspace(15, 90, 16))
    other = thermofeel.calculate_heat_index_adjusted(
        temp + ZERO, dew_point(temp, humidity) + ZERO
    )
    np.testing.assert_allclose(heat_index(temp, humidity), other - ZERO, rtol=0.01)


def test_dew_point_in_a_library():
    """Alduchov and Eskridge's coefficients in an independent library."""
    temp, humidity = np.meshgrid(np.linspace(-20, 45, 14), np.linspace(5, 100, 20))
    other = thermofeel.calculate_dew_point_from_relative_humidity(humidity, temp + ZERO)
    np.testing.assert_allclose(dew_point(temp, humidity), other - ZERO, atol=1e-6)


def test_vapour_pressure_in_a_library():
    """Hardy's longer formula (ITS-90) agrees within 0.3 % from 0 to 45 degC."""
    temp = np.linspace(0, 45, 46)
    other = thermofeel.calculate_saturation_vapour_pressure(temp + ZERO) * 100.0
    np.testing.assert_allclose(vapour_pressure(temp), other, rtol=0.003)


@given(temp=st.floats(-30, 50), humidity=st.floats(1, 100))
def test_humidity_round_trip(temp, humidity):
    """Dew point and humidity undo each other; the dew point is never above the air."""
    dew = dew_point(temp, humidity)
    assert float(dew) <= temp + 1e-9
    assert float(relative_humidity(temp, dew)) == pytest.approx(humidity, rel=1e-9)


@pytest.mark.parametrize(
    ("ghi", "cosine", "direct"),
    [(0.0, 0.0, 0.0), (300.0, 0.4, 0.3), (700.0, 0.8, 0.7), (900.0, 0.9, 0.8)],
)
def test_globe_temperature_in_a_library(ghi, cosine, direct):
    """Liljegren's full energy balance in an independent library, calm to breezy."""
    temp, humidity, wind = (
        grid.ravel()
        for grid in np.meshgrid(
            [22.0, 27.0, 32.0, 36.0], [30.0, 50.0, 75.0], [0.7, 1.5, 4.0, 7.0]
        )
    )
    flat = np.ones_like(temp)
    other = thermofeel.calculate_wbgt_liljegren(
        temp + ZERO, humidity, 1010 * flat, wind, ghi * flat, direct * flat, cosine * flat
    )
    difference = wet_bulb_globe(temp, humidity, wind, ghi) - (other - ZERO)
    assert np.abs(difference).max() < TWO_DEGREES
    assert abs(difference.mean()) < TWO_DEGREES / 2


@given(temp=st.floats(15, 45), humidity=st.floats(10, 100), ghi=st.floats(0, 1100))
def test_globe_temperature_rises(temp, humidity, ghi):
    """Warmer, damper or sunnier is never easier to bear; wind never makes it harder."""
    here = wet_bulb_globe(temp, humidity, 2.0, ghi)
    assert wet_bulb_globe(temp + 1, humidity, 2.0, ghi) > here
    assert wet_bulb_globe(temp, min(humidity + 1, 101), 2.0, ghi) > here
    assert wet_bulb_globe(temp, humidity, 2.0, ghi + 50) >= here
    assert wet_bulb_globe(temp, humidity, 3.0, ghi) <= here


@pytest.mark.parametrize(
    ("watts", "used", "new"),
    [
        (117, 32.9, 30.7),
        (180, 30.8, 28.1),
        (300, 28.2, 25.0),
        (415, 26.6, 23.0),
        (520, 25.5, 21.6),
    ],
)
def test_heat_limits_of_niosh(watts, used, new):
    """REL and RAL of NIOSH 2016-106: rest, light, moderate, heavy, very heavy work."""
    assert heat_limit(watts, used_to_heat=True) == pytest.approx(used, abs=2 * TENTH_DEGREE)
    assert heat_limit(watts, used_to_heat=False) == pytest.approx(new, abs=2 * TENTH_DEGREE)


def test_heat_limits_near_iso_7243():
    """ISO 7243 table A.1 (33/30/28/26/25 used to heat) is the same rule rounded."""
    for watts, limit in ((115, 33), (180, 30), (300, 28), (415, 26), (520, 25)):
        assert heat_limit(watts, used_to_heat=True) == pytest.approx(limit, abs=0.9)


def test_heat_limit_is_in_watts():
    """A rate no person can have, as from a slip of unit, is refused."""
    with pytest.raises(OutOfRange):
        heat_limit(0.0, used_to_heat=True)
    with pytest.raises(OutOfRange):
        heat_limit(700.0, used_to_heat=True)


@pytest.mark.parametrize(
    ("thunder", "before", "wait", "closed"),
    [
        ("..T...", 0, 30, "..##.."),
        ("..T...", 0, 0, "..#..."),
        ("...T..", 2, 30, ".####."),
        (".....T", 2, 30, "...###"),
        ("T.....", 2, 61, "###..."),
        ("......", 2, 30, "......"),
        ("T", 2, 30, "#"),
    ],
)
def test_thunder_shapes(thunder, before, wait, closed):
    """Its own hour, the wait after it, and for work that cannot be left two hours before."""
    heard = np.array([[letter == "T" for letter in thunder]] * 2)
    made = thunder_closed(heard, hours_before=before, wait_minutes=wait)
    assert made.shape == heard.shape
    for row in made:
        assert "".join("#" if shut else "." for shut in row) == closed


def test_missing_thunder_is_unknown():
    """An hour that is not known leaves itself and the wait after it unknown, not open."""
    closed = thunder_closed([0.0, np.nan, 0.0, 0.0, 1.0])
    np.testing.assert_array_equal(closed, [0.0, np.nan, np.nan, 0.0, 1.0])
