"""Rain, dew and drying against printed yields, drying times and a plain loop."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from planner.reference.tables import value
from planner.site.body import dew_point
from planner.site.wet import (
    drying_rate,
    film_wetness,
    frost,
    is_dry,
    net_radiation,
    sky_longwave,
)

HALF_WATT = 0.5
TWENTIETH_HOUR = 0.06
STORE = value("terrain", "film_water_store")


def plain_loop(rain, drying):
    """The rule written hour by hour, for one member."""
    water, out = 0.0, []
    for fallen, lost in zip(rain, drying, strict=True):
        most = min(water + fallen + max(-lost, 0.0), STORE)
        out.append(most)
        water = max(most - max(lost, 0.0), 0.0)
    return np.array(out)


def test_sky_of_the_reference():
    """EnergyPlus: 293 K, dew point 283 K, clear sky, 340.3 to 340.6 W/m2 by rounding."""
    assert float(sky_longwave(19.85, 9.85, 0.0)) == pytest.approx(340.45, abs=HALF_WATT)


def test_cloud_warms_the_sky():
    """More cloud, more heat from above; never more than a black body by much."""
    sky = sky_longwave(10.0, 8.0, np.linspace(0, 100, 11))
    assert (np.diff(sky) > 0).all()
    assert sky[-1] < 5.67e-8 * 283.15**4


@pytest.mark.parametrize(
    ("water", "hours"),
    [(0.14, (1.9, 1.0, 0.5)), (0.3, (4.1, 2.0, 1.0)), (0.5, (6.8, 3.4, 1.7))],
)
def test_drying_times(water, hours):
    """Energy alone: hours to dry at 50, 100 and 200 W/m2 with 2.45 MJ/kg, as tabulated."""
    rate = drying_rate(12.0, 12.0, 1.0, [50.0, 100.0, 200.0])
    np.testing.assert_allclose(water / rate, hours, atol=TWENTIETH_HOUR)


def test_dew_of_a_night():
    """Ritter and others 2019: 0.14 mm a night, sd 0.12, at 96 % and 0.5 m/s."""
    dew = dew_point(10.0, 96.0)
    net = np.full(10, float(net_radiation(0.0, 10.0, dew, 0.0)))
    water = film_wetness(np.zeros(10), 10.0, dew, 0.5, net)
    assert 0.14 - 0.12 < water[-1] < 0.14 + 0.12
    assert (np.diff(water) > 0).all()


def test_no_dew_where_none_can_fall():
    """A dry night, and an overcast one with a gap to the dew point, leave it dry."""
    dry = net_radiation(0.0, 10.0, 2.0, 0.0)
    assert float(drying_rate(10.0, 2.0, 0.5, dry)) > 0
    overcast = net_radiation(0.0, 10.0, 9.0, 100.0)
    assert float(drying_rate(10.0, 9.0, 1.0, overcast)) > 0


def test_sun_and_wind_dry():
    """More sun or more wind in dry air dries faster."""
    sunny = drying_rate(15.0, 10.0, 1.0, net_radiation([0.0, 200.0, 800.0], 15.0, 10.0, 0.0))
    assert (np.diff(sunny) > 0).all()
    windy = drying_rate(15.0, 10.0, [0.5, 2.0, 5.0], 100.0)
    assert (np.diff(windy) > 0).all()


def test_rain_is_capped_and_counted_in_its_hour():
    """A downpour fills the store; the hour it dries in still counts as wet."""
    water = film_wetness([0.0, 20.0, 0.0, 0.0], 12.0, 12.0, 1.0, 1000.0)
    np.testing.assert_allclose(water, [0.0, STORE, 0.0, 0.0])


ROWS = arrays(float, (2, 30), elements=st.floats(-2, 2).map(lambda x: x if abs(x) > 0.2 else 0))


@settings(deadline=None)
@given(weather=ROWS)
def test_same_as_a_plain_loop(weather):
    """Joining hours in pairs gives what walking through them gives."""
    rain = np.maximum(weather, 0.0)
    sun = np.maximum(-weather, 0.0) * 100.0 - 20.0
    water = film_wetness(rain, 10.0, 9.5, 1.0, sun)
    drying = drying_rate(10.0, 9.5, 1.0, sun)
    for member in range(2):
        np.testing.assert_allclose(
            water[member], plain_loop(rain[member], drying[member]), atol=1e-9
        )
    assert (water >= 0).all()
    assert (water <= STORE).all()


@settings(deadline=None)
@given(weather=ROWS, more=st.floats(0, 1))
def test_more_rain_is_never_drier(weather, more):
    """Adding rain to any hour leaves no hour drier."""
    sun = np.maximum(-weather, 0.0) * 100.0
    less = film_wetness(np.maximum(weather, 0.0), 10.0, 8.0, 1.0, sun)
    wetter = film_wetness(np.maximum(weather, 0.0) + more, 10.0, 8.0, 1.0, sun)
    assert (wetter >= less - 1e-12).all()


def test_a_gap_stays_unknown_until_full_or_dry():
    """After a missing hour: unknown, then known once rain fills it or sun surely dries it."""
    rain = np.array([0.1, np.nan, 0.0, 0.0, 2.0, 0.0])
    water = film_wetness(rain, 12.0, 12.0, 1.0, 50.0)
    np.testing.assert_array_equal(np.isnan(water), [False, True, True, True, False, False])
    assert water[4] == STORE
    dried = film_wetness(np.array([0.0, np.nan, 0.0, 0.0]), 12.0, 12.0, 1.0, 500.0)
    np.testing.assert_array_equal(np.isnan(dried), [False, True, True, False])
    assert dried[3] == 0.0


@settings(deadline=None)
@given(weather=ROWS, gap=st.integers(0, 29), filled=st.floats(0, 3))
def test_whatever_the_gap_held(weather, gap, filled):
    """Hours that are known after a gap do not depend on what fell in it."""
    rain = np.maximum(weather, 0.0)
    sun = np.maximum(-weather, 0.0) * 100.0
    truth, holed = rain.copy(), rain.copy()
    truth[:, gap], holed[:, gap] = filled, np.nan
    full = film_wetness(truth, 10.0, 9.0, 1.0, sun)
    known = film_wetness(holed, 10.0, 9.0, 1.0, sun)
    seen = np.isfinite(known)
    assert seen[:, :gap].all()
    np.testing.assert_allclose(known[seen], full[seen], atol=1e-8)


@settings(deadline=None)
@given(weather=ROWS, gap=st.integers(0, 29), filled=st.floats(-100, 1000))
def test_whatever_the_sun_did_in_the_gap(weather, gap, filled):
    """The same where it is the radiation that is missing; its rain still counts."""
    rain = np.maximum(weather, 0.0)
    sun = np.maximum(-weather, 0.0) * 100.0
    truth, holed = sun.copy(), sun.copy()
    truth[:, gap], holed[:, gap] = filled, np.nan
    full = film_wetness(rain, 10.0, 9.0, 1.0, truth)
    known = film_wetness(rain, 10.0, 9.0, 1.0, holed)
    seen = np.isfinite(known)
    np.testing.assert_allclose(known[seen], full[seen], atol=1e-8)
    assert seen[rain >= STORE].all()


def test_dry_to_the_hand():
    """No water is dry, a dew is not, unknown is not."""
    np.testing.assert_array_equal(is_dry([0.0, 0.14, 0.5, np.nan]), [True, False, False, False])


@pytest.mark.parametrize(
    ("air", "dew", "water", "ice"),
    [
        (-5.0, -20.0, 0.0, 0.0),  # dry cold
        (-5.0, -6.0, 0.0, 1.0),  # hoar
        (1.0, -8.0, 0.3, 1.0),  # wet rungs under a clear sky
        (10.0, 10.0, 0.5, 0.0),  # only wet
        (np.nan, 0.0, 0.0, np.nan),
        (-5.0, np.nan, np.nan, np.nan),
        (-5.0, np.nan, 0.3, 1.0),  # wet is enough
        (10.0, np.nan, np.nan, 0.0),  # too warm whatever the rest
    ],
)
def test_frost(air, dew, water, ice):
    """Ice needs metal at or below freezing and water or air at its dew point."""
    np.testing.assert_array_equal(frost(air, dew, water), ice)
