"""Real station records, where a folder of them lies beside the checkout."""

import os
from pathlib import Path

import pandas as pd
import pytest

from planner.hours.conditions import conditions_for
from planner.hours.holds import starts_that_hold
from planner.hours.house import with_steps
from planner.hours.limits import limits_for
from planner.job.jobfile import read_job
from planner.weather.read import read_weather

FOLDER = Path(os.environ.get("FILM_WEATHER", Path(__file__).parents[2] / "shared" / "weather"))
FILES = [FOLDER / f"knmi_hourly/uurgeg_260_{years}.zip" for years in ("2011-2020", "2021-2030")]
JOB = Path(__file__).parent / "data" / "four_hours.toml"
ONE_POINT = 1.0

#: Share of days with four calm hours [%], by month: counted outside the planner from the
#: same public record (KNMI station 260, CC BY 4.0), gust at most 6.7 m/s, no rain and no
#: trace of it, 5 to 32 degC, sun up in the middle of each hour.
BY_MONTH = (7, 18, 33, 39, 49, 61, 55, 55, 51, 36, 30, 12)
ALL_YEAR = 37


def test_days_with_four_calm_hours():
    """Over 2011 to 2025 the share of days agrees within a point, month by month."""
    if not all(file.exists() for file in FILES):
        pytest.skip(f"no station records in {FOLDER.name}; set FILM_WEATHER to their folder")
    job = with_steps(read_job(JOB))
    [step] = job.steps
    conditions = conditions_for(job, read_weather(FILES))
    ok = starts_that_hold(conditions, step, limits_for(job, step), starts_every=60).ok[0]
    days = pd.Series(ok, index=conditions.times.tz_convert(job.place.time_zone))
    good = days.groupby(days.index.normalize()).max()
    by_month = 100 * good.groupby(good.index.month).mean()
    assert 100 * good.mean() == pytest.approx(ALL_YEAR, abs=ONE_POINT)
    assert by_month.tolist() == pytest.approx(BY_MONTH, abs=ONE_POINT)
