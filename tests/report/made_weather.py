"""Weather made for the tests of what is said about a file: any mask, any start."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from planner.weather.table import COLUMNS, Weather

ALL = ("temp_air", "wind_speed", "wind_gust", "precipitation")


def weather_with(
    there: dict[str, Any], *, first: str = "2031-04-29 05:00", **more: Any
) -> Weather:
    """Give weather whose columns hold a number where a mask of hours, or members, is True."""
    masks = {name: np.atleast_2d(np.asarray(mask, bool)) for name, mask in there.items()}
    hours = next(iter(masks.values())).shape[1]
    members = max(len(mask) for mask in masks.values())
    values = {name: np.where(mask, 5.0, np.nan) for name, mask in masks.items()}
    holding = {name for name, mask in masks.items() if mask.any()}
    about: dict[str, Any] = {
        "kind": "observed",
        "format": "plain",
        "gust_meaning": "hour maximum" if "wind_gust" in holding else "none",
    }
    return Weather(
        times=pd.date_range(first, periods=hours, freq="h", tz="UTC"),
        values=values,
        weights=np.full(members, 1.0 / members),
        origin={c.name: "given" if c.name in holding else "missing" for c in COLUMNS},
        **(about | more),
    )
