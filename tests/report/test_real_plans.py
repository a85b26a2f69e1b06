"""Every face of real plans: the demo at many hours, with other crews and stakes."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.plan.records import Plan
from planner.report.picture.day_sheet import day_sheet
from planner.report.record.windows import dumps, windows_1
from planner.report.screen.first import WIDTH, first_screen
from planner.weather.read import read_weather

DATA = Path(__file__).parents[2] / "data"
FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf)\b", re.IGNORECASE)
#: Hours after the first of the file, people, last day (None: no last day), certain weather.
ASKED = [
    (0, 4, 12, False),
    (15, 2, 12, False),
    (26, 6, None, False),
    (41, 1, 30, False),
    (73, 4, 12, True),
    (111, 8, 9, False),
    (146, 4, None, True),
    (194, 4, 12, False),
    (203, 4, 12, False),
]


def a_plan(hours: int, people: int, last: int | None, *, certain: bool) -> Plan:
    job = read_job(DATA / "larkfield.toml")
    job = replace(
        job,
        crew=replace(job.crew, people=people),
        finish_by=None if last is None else dt.date(2026, 5, last),
    )
    weather = read_weather(DATA / "forecast.csv")
    now = weather.times[0] + pd.Timedelta(hours=hours)
    return make_plan(job, weather, now=now, count=40, **({"error": None} if certain else {}))


@pytest.mark.parametrize(("hours", "people", "last", "certain"), ASKED)
def test_every_face_of_a_real_plan(
    hours: int, people: int, last: int | None, certain: bool
) -> None:
    """Lines fit, nothing reserved for the code is said, JSON is strict, the sheet draws."""
    plan = a_plan(hours, people, last, certain=certain)
    for units in ("us", "si"):
        screen = first_screen(plan, units=units)
        assert max(map(len, screen.split("\n"))) <= WIDTH
        assert screen.isascii()
        assert not FORBIDDEN.findall(screen)
        assert certain is not ("possible weathers" in screen.split("\n\n")[0])
    record = windows_1(plan)
    assert json.loads(dumps(record)) == record
    assert day_sheet(plan, units="us").axes


@pytest.mark.parametrize(("hours", "people", "last", "certain"), ASKED)
def test_whoever_starts_last_has_time_to_come_down(
    hours: int, people: int, last: int | None, certain: bool
) -> None:
    """Being down is never asked before the work can be done: wet film takes 1.3 times longer
    (practice), so a dry last start may be that much quicker than the best."""
    plan = a_plan(hours, people, last, certain=certain)
    for window in (x for here in plan.steps for x in here.found.windows):
        work = window.end - window.start
        assert window.down_by >= window.end - pd.Timedelta(seconds=1)
        assert window.last_down_by is not None
        assert window.last_down_by >= window.latest_start + work / 1.35
        if window.down_later is not None:
            assert window.down_later > window.down_by
