"""Invented forecasts whose errors are known, and what came: a place that does not exist.

The square root of the gust is a mean plus noise of which each hour keeps a part of the hour
before; the forecast adds a constant and noise of the same kind. Two noises that fade alike
cannot be told apart by looking at neighbouring hours, so the best guess of the truth is a
share of the forecast's own departure, and what is left has a spread in closed form.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from pathlib import Path

LATITUDE, LONGITUDE, ZONE = 44.02, -91.40, "America/Chicago"
DAYS, RUNS, LEADS = 60, (11, 23), 72  # days, hours UTC of the runs, hours of each
KEPT = 0.6  # of the noise, from hour to hour
MEAN, SPREAD = 1.9, 0.4  # of the square root of the gust [(m/s)^0.5]
TOO_HIGH, ERROR = 0.3, 0.3  # of the forecast's square root [(m/s)^0.5]
LEFT = ERROR * SPREAD / math.hypot(ERROR, SPREAD)  # spread of what is left [(m/s)^0.5]
AIR_TOO_HIGH, AIR_ERROR = 1.0, 1.5  # [K]


def noise(hours: int, spread: float, rng: np.random.Generator) -> np.ndarray:
    """Noise of a spread of which each hour keeps a part of the one before."""
    found = rng.normal(size=hours)
    for hour in range(1, hours):
        found[hour] = KEPT * found[hour - 1] + math.sqrt(1 - KEPT**2) * found[hour]
    return spread * found


def made_tables(*, first: str = "2030-03-03", days: int = DAYS, seed: int = 3):
    """Give the two tables, forecasts and observations, in the columns of plain CSV."""
    rng = np.random.default_rng(seed)
    times = pd.date_range(first, periods=24 * days + LEADS, freq="h", tz="UTC")
    root = np.maximum(MEAN + noise(len(times), SPREAD, rng), 0.2)
    said = np.maximum(root + TOO_HIGH + noise(len(times), ERROR, rng), 0.2)
    air = 15 + 5 * np.cos(2 * np.pi * (times.hour - 20) / 24) + noise(len(times), 2.0, rng)
    wet = noise(len(times), 1.0, rng)
    came = table(times, root**2, rng.uniform(0.35, 0.55, len(times)), air, wet)
    warmer = air + AIR_TOO_HIGH + noise(len(times), AIR_ERROR, rng)
    share = rng.uniform(0.35, 0.55, len(times))
    forecast = table(times, said**2, share, warmer, wet + noise(len(times), 0.5, rng))
    runs = []
    for day in range(days):
        for hour in RUNS:
            begin = 24 * day + hour
            run = forecast.iloc[begin : begin + min(LEADS, len(times) - begin)].copy()
            run.insert(0, "issued", times[begin])
            runs.append(run)
    return pd.concat(runs, ignore_index=True), came


def table(times, gust, share, air, wet) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "time": times,
            "temp_air": np.round(air, 2),
            "wind_speed": np.round(share * gust, 3),
            "wind_gust": np.round(gust, 3),
            "precipitation": np.where(wet > 1.2, np.round(2.0 * (wet - 1.0), 2), 0.0),
        }
    )


def write_table(table: pd.DataFrame, path: Path, *, placed: bool = True) -> Path:
    """Write a table as plain CSV, with its place above it or without."""
    place = f"# latitude: {LATITUDE}\n# longitude: {LONGITUDE}\n" if placed else ""
    text = table.to_csv(index=False, date_format="%Y-%m-%dT%H:%MZ", lineterminator="\n")
    path.write_text(f"# credit: Invented\n{place}{text}", encoding="utf-8")
    return path
