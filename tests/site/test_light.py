"""Twilight, work light and radiation against the Naval Observatory's fit and pvlib."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial import chebyshev

from planner.errors import OutOfRange
from planner.site.light import (
    clear_sky_ghi,
    ghi_under_cloud,
    illuminance,
    sky_light,
    sun_height_for_light,
    work_light,
)
from planner.site.sun import sun_times

FIVE_FOOT_CANDLES = 53.8
FIFTIETH_DEGREE = 0.025
ONE_MINUTE = np.timedelta64(60, "s")
DAY = np.timedelta64(86400, "s")

# Log10 of the sun's light in lux: Chebyshev series of the US Naval Observatory (1996)
# fitted to Brown (1952), on (height - 35) / 55 degrees, as printed in open source.
USNO_SERIES = [
    2.936506136978837, 3.627326327566490, -2.233214447344062, 1.015115465301055,
    -0.1898083125016442, -0.2620601965183225, 0.3829581829851666, -0.2879683995474197,
    0.1134487130232542, 0.03092492471913735, -0.09853820413978147, 0.08976982948378892,
    -0.04151839367722814, -0.005982465090666525, 0.02913731978265127, -0.02832367750489338,
    0.01326901081959582, 0.003365892788214903, -0.01123578761200569, 0.009862218049840636,
    -0.003690281457418281, -0.001338196406378107, 0.005060420921563732,
    -0.003079727252974708, 0.002969002584378676,
]  # fmt: skip


@pytest.mark.parametrize(
    ("low", "high", "within"), [(-12, -6, 0.15), (-6, 0, 0.06), (0, 30, 0.06), (30, 90, 0.06)]
)
def test_twilight_against_the_series(low, high, within):
    """The table of 20 heights follows the full series between its rows."""
    heights = np.linspace(low, high, 61)
    full = 10 ** chebyshev.chebval((heights - 35) / 55, USNO_SERIES)
    np.testing.assert_allclose(illuminance(heights), full, rtol=within)


def test_twilight_against_the_glossary():
    """AMS Glossary: 585 to 410 lx at sunset, 3.5 to 2 lx at 6 deg, 0.008 lx at 12 deg down."""
    assert 410 <= float(illuminance(-0.833)) <= 585
    assert 2.0 <= float(illuminance(-6.0)) <= 3.5
    assert float(illuminance(-12.0)) == pytest.approx(0.008, abs=0.001)


@pytest.mark.parametrize(
    ("lux", "cloud", "dark", "height"),
    [
        (53.8, None, False, -3.44),
        (53.8, 50.0, False, -2.69),
        (53.8, 100.0, False, -2.21),
        (53.8, 100.0, True, -0.56),
        (32.3, None, False, -3.95),
        (32.3, 50.0, False, -3.24),
        (32.3, 100.0, False, -2.80),
        (32.3, 0.0, True, -1.32),
        (10.8, None, False, -4.99),
        (10.8, 100.0, False, -3.95),
    ],
)
def test_heights_for_work_light(lux, cloud, dark, height):
    """Five, three and one foot-candle on the full series, divided by 1, 2, 3 and 10."""
    made = sun_height_for_light(lux, cloud_cover=cloud, dark=dark)
    assert float(made) == pytest.approx(height, abs=FIFTIETH_DEGREE)


@given(
    lux=st.floats(0.1, 50000),
    cloud=st.floats(0, 100),
    step=st.floats(0, 100),
    dark=st.booleans(),
)
def test_height_and_light_are_inverse(lux, cloud, step, dark):
    """The height found gives the light asked for; more cloud never needs less sun."""
    height = sun_height_for_light(lux, cloud_cover=cloud, dark=dark)
    if height < 90:
        light = illuminance(height, cloud_cover=cloud, dark=dark)
        assert float(light) == pytest.approx(lux, rel=1e-6)
    assert sun_height_for_light(lux, cloud_cover=min(cloud + step, 100), dark=dark) >= height


def test_too_little_light_asked_for():
    """Moonlight is not work light."""
    with pytest.raises(OutOfRange):
        sun_height_for_light(0.0)


def test_minutes_after_sunset():
    """Latitude 42: the sun is 3.0 / 3.4 deg down 11.7 / 13.8 min after a March sunset."""
    day = [np.datetime64("2026-03-20")]
    sunset = sun_times(day, 42.0, 0.0, time_zone="UTC").sunset
    for below, minutes in ((3.0, 11.7), (3.4, 13.8)):
        later = sun_times(day, 42.0, 0.0, time_zone="UTC", below=below).sunset
        assert abs((later - sunset)[0] / ONE_MINUTE - minutes) < 0.15


def test_cloud_shortens_the_day():
    """Cloud at dusk ends the work earlier, a storm sky before or about sunset."""
    days = np.arange("2026-04-01", "2026-04-04", dtype="datetime64[D]")
    light = work_light(
        days,
        44.0,
        -93.0,
        time_zone="America/Chicago",
        lux=FIVE_FOOT_CANDLES,
        cloud_end=[0.0, 100.0, 0.0],
        dark_end=[False, False, True],
    )
    sun = sun_times(days, 44.0, -93.0, time_zone="America/Chicago")
    spare = (light.end - sun.sunset) / ONE_MINUTE
    assert spare[0] > spare[1] > 5.0
    assert abs(spare[2]) < 3.0
    assert ((sun.sunrise - light.begin) / ONE_MINUTE > 10.0).all()


def test_work_light_where_the_sun_never_sets():
    """Midnight sun: light from midnight to midnight; polar night: no work light."""
    days = [np.datetime64("2026-06-21"), np.datetime64("2026-12-21")]
    light = work_light(days, 78.2, 15.6, time_zone="Arctic/Longyearbyen")
    assert light.end[0] - light.begin[0] == DAY
    assert light.begin[0] == np.datetime64("2026-06-20T22:00")
    assert np.isnat(light.begin[1])
    assert np.isnat(light.end[1])


def test_work_light_in_white_nights():
    """Above the circle's twilight the light runs on although the sun sets."""
    days = [np.datetime64("2026-06-21")]
    sun = sun_times(days, 65.5, 25.0, time_zone="Europe/Helsinki")
    light = work_light(days, 65.5, 25.0, time_zone="Europe/Helsinki")
    assert not np.isnat(sun.sunset[0])
    assert light.end[0] - light.begin[0] == DAY


def test_work_light_over_a_clock_change():
    """The day on which clocks go forward has 23 hours."""
    light = work_light(
        [np.datetime64("2026-03-29")], 85.0, 15.6, time_zone="Arctic/Longyearbyen", lux=1.0
    )
    assert light.end[0] - light.begin[0] == np.timedelta64(23 * 3600, "s")


def test_unknown_cloud_gives_no_light():
    """A missing cloud leaves that day without a time; others stand."""
    days = np.arange("2026-04-01", "2026-04-03", dtype="datetime64[D]")
    light = work_light(days, 44.0, -93.0, time_zone="UTC", cloud_begin=[np.nan, 0.0])
    np.testing.assert_array_equal(np.isnat(light.begin), [True, False])
    np.testing.assert_array_equal(np.isnat(light.end), [True, False])


def test_clear_sky_is_haurwitz():
    """pvlib's own version of the formula, from below the horizon to the zenith."""
    from pvlib.clearsky import haurwitz

    heights = np.linspace(-20, 90, 221)
    wanted = haurwitz(pd.Series(90.0 - heights))["ghi"]
    np.testing.assert_allclose(clear_sky_ghi(heights), wanted, atol=1e-6)


def test_radiation_under_cloud():
    """Kasten and Czeplak: all of it under a clear sky, a quarter under a full cover."""
    np.testing.assert_allclose(ghi_under_cloud(800.0, [0.0, 100.0]), [800.0, 200.0])
    falling = ghi_under_cloud(800.0, np.linspace(0, 100, 21))
    assert (np.diff(falling) < 0).all()


def test_light_of_the_sky_alone():
    """Under a dark sky nearly all light is the sky's; under a very clear one 16.5 %.

    Erbs, Klein and Duffie (1982): 1 - 0.09 k up to a clearness k of 0.22, 0.165 above 0.8.
    """
    noon = pd.date_range("2026-06-21T12:00Z", periods=3, freq="h")
    ghi = np.array([40.0, 1200.0, np.nan])
    sky = sky_light(ghi, np.full(3, 60.0), noon)
    assert sky[0] / ghi[0] > 0.99
    assert sky[1] / ghi[1] == pytest.approx(0.165, abs=0.001)
    assert np.isnan(sky[2])


@given(st.floats(0, 1400), st.floats(-20, 90))
def test_the_sky_never_gives_more_than_all(ghi, height):
    """The part is between nothing and the whole, also with the sun down."""
    noon = pd.date_range("2026-03-21T12:00Z", periods=1, freq="h")
    assert 0.0 <= sky_light([ghi], [height], noon)[0] <= ghi
