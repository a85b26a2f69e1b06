"""A missing value never becomes a number, for every formula of the room."""

from __future__ import annotations

import numpy as np
import pytest

from planner.site import beaufort, body, light, wet, wind

NAN = float("nan")
#: Name -> (function of plain numbers, arguments that work).
FORMULAS = {
    "mean_at_height": (wind.mean_at_height, (3.0, 3.0)),
    "gust_at_height": (wind.gust_at_height, (3.0, 3.0)),
    "gust_factor": (lambda a, b: wind.gust_factor(a, turbulence=b), (3.0, 0.2)),
    "gust_from_mean": (lambda a: wind.gust_from_mean(a, "open"), (3.0,)),
    "gust_in_strong_sun": (
        lambda a, b, c: wind.gust_in_strong_sun(a, b, c, ground="open"),
        (3.0, 2.0, 700.0),
    ),
    "beaufort": (beaufort.beaufort, (3.0,)),
    "illuminance": (lambda a, b: light.illuminance(a, cloud_cover=b), (-3.0, 50.0)),
    "sun_height": (lambda a: light.sun_height_for_light(54.0, cloud_cover=a), (50.0,)),
    "clear_sky_ghi": (light.clear_sky_ghi, (30.0,)),
    "ghi_under_cloud": (light.ghi_under_cloud, (500.0, 50.0)),
    "sky_longwave": (wet.sky_longwave, (10.0, 5.0, 50.0)),
    "net_radiation": (wet.net_radiation, (100.0, 10.0, 5.0, 50.0)),
    "drying_rate": (wet.drying_rate, (10.0, 5.0, 1.0, 50.0)),
    "film_wetness": (
        lambda *a: wet.film_wetness(*np.transpose([a, a]))[0],
        (0.1, 10.0, 5.0, 1.0, 50.0),
    ),
    "vapour_pressure": (body.vapour_pressure, (10.0,)),
    "relative_humidity": (body.relative_humidity, (10.0, 5.0)),
    "dew_point": (body.dew_point, (10.0, 50.0)),
    "heat_index": (body.heat_index, (30.0, 50.0)),
    "heat_index cold": (body.heat_index, (0.0, 50.0)),
    "wind_chill": (body.wind_chill, (0.0, 5.0)),
    "wind_chill warm": (body.wind_chill, (20.0, 5.0)),
    "wet_bulb_globe": (body.wet_bulb_globe, (30.0, 50.0, 1.0, 500.0)),
}


@pytest.mark.parametrize("name", list(FORMULAS))
def test_missing_in_missing_out(name):
    """Each argument in turn is missing: so is the answer."""
    formula, good = FORMULAS[name]
    assert np.isfinite(formula(*good))
    for index in range(len(good)):
        bad = [NAN if index == place else item for place, item in enumerate(good)]
        assert np.isnan(formula(*bad)), f"argument {index}"
