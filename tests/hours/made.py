"""A small job and invented weather for tests of hours and plan."""

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd

from planner.hours.house import with_steps
from planner.job.jobfile import read_job
from planner.weather.table import COLUMNS, Weather, WeatherPlace

JOB = """
name = "Quiet Acre tunnel"
[place]
latitude = 44.0
longitude = -91.4
time_zone = "America/Chicago"
[house]
width = "6 m"
length = "15 m"
hip = "1.2 m"
[film]
thickness = "0.15 mm"
[crew]
people = 4
"""


def job(tmp_path: Path, more: str = ""):
    """Read the small job with more lines added, its steps laid out."""
    file = tmp_path / "job.toml"
    file.write_text(JOB + more, encoding="utf-8")
    return with_steps(read_job(file))


def weather(hours=48, first="2026-05-04T05:00Z", kind="forecast", **columns):
    """Make calm dry weather of one member; columns given replace or add to it."""
    plain = {
        "temp_air": 15.0,
        "temp_dew": 5.0,
        "wind_speed": 1.0,
        "wind_gust": 2.0,
        "precipitation": 0.0,
        "cloud_cover": 0.0,
    }
    columns = plain | columns
    values = {
        name: np.broadcast_to(np.asarray(value, float), (1, hours)).copy()
        for name, value in columns.items()
        if value is not None
    }
    times = pd.date_range(first, periods=hours, freq="h", tz="UTC").as_unit("ns")
    return Weather(
        times=times,
        values=values,
        weights=np.ones(1),
        kind=kind,
        origin={c.name: "given" if c.name in values else "missing" for c in COLUMNS},
        issued=None if kind == "observed" else times[0],
        place=WeatherPlace(latitude=44.0, longitude=-91.4),
    )


def changed(record, **changes):
    """Give a record with some of its fields changed."""
    return dataclasses.replace(record, **changes)
