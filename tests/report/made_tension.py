"""How tight, made by hand: round numbers for an invented house, no model behind them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pandas as pd

from planner.plan.records import (
    ChartRow,
    Consequence,
    Course,
    CourseHour,
    PullChart,
    Strain,
    TensionPlan,
)
from planner.weather.table import Note
from tests.report.conftest import JOB, ZONE, at

SPANS = {"over the bows": 7.0, "end to end": 15.0}
INCH = 25.4
FIRST = "2031-05-06 07:00"


def row(film_temp: float) -> ChartRow:
    """Cold film is pulled an inch and a half, hot film left an inch slack."""
    cold = film_temp < 35.0
    over = 1.5 * INCH if cold else -INCH
    return ChartRow(
        film_temp=film_temp,
        pull={"over the bows": over, "end to end": 2 * over},
        hand="pull" if cold else "slack",
        sag=0.0 if cold else 2 * INCH,
        lift=0.0 if cold else 0.75 * INCH,
        force=200.0 if cold else 0.0,
    )


def choice(
    stress_free: float, slack: float, tension: tuple[float, float, float]
) -> Consequence:
    return Consequence(
        stress_free=stress_free,
        hot=55.0,
        cold=-20.0,
        slack={"over the bows": slack, "end to end": 2 * slack},
        tension=tension,
    )


def now_at(film_temp: float) -> TensionPlan:
    """No weather file: the chart, and what to do at one film temperature."""
    return TensionPlan(
        job=JOB,
        chart=PullChart(stress_free=35.0, spans=SPANS, rows=(row(8.0), row(48.0))),
        now=row(film_temp),
        choices=(
            choice(25.0, 45.0, (205.0, 233.0, 568.0)),
            choice(35.0, 31.2, (222.2, 265.4, 698.6)),
            choice(45.0, 0.0, (230.2, 292.3, 831.4)),
        ),
        course=None,
        inflation=0.0,
        allowed=500.0,
        curtain=203.2,
        error=(3.0, 2.0),
        channel_known=False,
        time_zone=ZONE,
        credit="",
        notes=(),
    )


def hour(number: int) -> CourseHour:
    """Two days from 7 am: no data at 3 pm, coldest at 3 am, hottest and slack at 2 pm."""
    time = (at(FIRST) + pd.Timedelta(hours=number)).tz_convert(ZONE)
    film, slack, tension = 20.0, 0.0, (50.0, 50.0, 90.0)
    shares, channel = (0.02, 0.03, 0.05), 0.18
    if number == 0:
        film, tension, shares, channel = 12.0, (140.0, 150.0, 270.0), (0.1, 0.11, 0.15), 0.54
    elif number == 8:
        film, slack, tension, shares, channel = (
            *[math.nan] * 2,
            *[(math.nan,) * 3] * 2,
            math.nan,
        )
    elif number == 20:
        film, tension, shares, channel = 3.0, (100.0, 110.0, 220.0), (0.05, 0.06, 0.11), 0.44
    elif number == 31:
        film, slack, tension, shares, channel = 50.0, INCH, (0.0,) * 3, (0.0,) * 3, 0.0
    return CourseHour(
        time=time,
        film_temp=film,
        slack={"over the bows": slack or -0.0, "end to end": 2 * slack},
        tension=tension,
        share_of_yield=shares,
        share_of_channel=channel,
    )


def with_course() -> TensionPlan:
    """A forecast of two days, one hour of it without data, and that the windiest."""
    course = Course(
        locked=at("2031-05-06 07:30"),
        hours=tuple(hour(number) for number in range(48)),
        hottest=31,
        coldest=20,
        first_night=20,
        windiest=8,
        gust=12.4,
        gust_tension=338.4,
        end_hoop=1886.0,
        bow=55.0,
        beyond=(
            Strain(
                code="slack-hot", at=at("2031-05-07 14:00"), value=31.0, allowed=28.0, unit="mm"
            ),
        ),
    )
    note = Note(code="hour-label", text="Times label the start of the hour.")
    credit = "Forecast by the invented met office of Quillet, CC BY 4.0"
    return replace(now_at(8.0), now=None, course=course, notes=(note,), credit=credit)


def double() -> TensionPlan:
    """Two layers blown apart with a quarter inch of water on bows of 2.6 m: 162 N/m."""
    film = replace(JOB.film, layers=2, stress_free=22.0, inflation=62.3)
    return replace(with_course(), job=replace(JOB, film=film), inflation=162.0)


def nothing_known() -> TensionPlan:
    """A file too blank to name an hour, a chart without rows, no choice to make."""
    plan = with_course()
    blank = replace(
        plan.course,
        hours=(hour(8),) * 3,
        hottest=None,
        coldest=None,
        first_night=None,
        windiest=None,
        gust=math.nan,
        gust_tension=math.nan,
        end_hoop=0.0,
        bow=-math.inf,
        beyond=(),
    )
    chart = replace(plan.chart, rows=())
    return replace(plan, course=blank, chart=chart, choices=())


def odd_name() -> TensionPlan:
    """A name in another script, with marks that mean something elsewhere."""
    return replace(with_course(), job=replace(JOB, name='Grünes Tal <b> & "$x_1$" 名前 ' * 4))


CASES: dict[str, Callable[[], TensionPlan]] = {
    "hot now": lambda: now_at(48.0),
    "cold now": lambda: now_at(8.0),
    "no now": lambda: replace(now_at(8.0), now=None),
    "course": with_course,
    "course and now": lambda: replace(with_course(), now=row(48.0)),
    "double": double,
    "nothing known": nothing_known,
    "odd name": odd_name,
}
