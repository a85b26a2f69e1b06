"""What every face begins with."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from planner.plan.records import Plan
from planner.report.answer.heading import about_job, about_weather, use_until
from planner.report.words import Words
from tests.report.conftest import at


def words_for(plan: Plan, units: str = "us") -> Words:
    return Words(units=units, time_zone=plan.time_zone)


def test_house_crew_and_last_day(plan: Plan) -> None:
    """Name, sizes and film, people, the day it must be done by."""
    said = about_job(plan, words_for(plan))
    assert said.startswith(f"{plan.job.name}: 30 x 96 ft, 6 mil, one layer, 5 people")
    assert said.endswith("done by Fri May 9")
    assert "done by" not in about_job(
        replace(plan, job=replace(plan.job, finish_by=None)), words_for(plan)
    )


def test_a_record_is_not_called_a_forecast(plan: Plan) -> None:
    """What was measured and what is expected are told apart in the first line."""
    words = words_for(plan)
    assert about_weather(plan, words).startswith("Forecast of Tue Apr 29 7:00 am CDT, 2031")
    past = replace(plan, weather=replace(plan.weather, kind="observed"))
    assert about_weather(past, words).startswith("Station record")


def test_how_long_it_may_be_used(plan: Plan) -> None:
    """Day, clock, zone and year; too old said so; a record is not for going by."""
    words = words_for(plan)
    coming = replace(plan, use_until=at("2031-04-29 19:00"))
    assert use_until(coming, words) == (
        "Do not use after Tue Apr 29 7:00 pm CDT, 2031: get a newer forecast then."
    )
    assert "19:00 CDT" in use_until(coming, words_for(plan, "si"))
    late = replace(plan, use_until=plan.now - pd.Timedelta(hours=1))
    assert use_until(late, words).startswith("Do not use:")
    invented = replace(plan, use_until=None)
    assert use_until(invented, words).startswith("An example with invented weather")
    past = replace(invented, weather=replace(plan.weather, kind="observed"))
    assert use_until(past, words).startswith("A record of past weather")
