"""What a plan must say of its weather: rain told by its chance alone."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from planner.hours.house import with_steps
from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.weather.file.text import Raw
from planner.weather.read import read_weather
from tests.hours.made import changed, job, weather

DATA = Path(__file__).parents[2] / "data"
CODE = "rain-amount-missing"


def notes_of(plan):
    """The notes of a plan by their codes."""
    return {note.code: note for note in plan.notes}


def test_hours_with_a_chance_but_no_amount_are_counted(tmp_path):
    """Five of them; an hour without either is none, nor one with both."""
    amount, chance = np.zeros(48), np.full(48, 10.0)
    amount[[3, 4, 10, 11, 12]] = np.nan
    amount[20], chance[20] = np.nan, np.nan
    table = weather(48, precipitation=amount, precipitation_probability=chance)
    note = notes_of(make_plan(job(tmp_path), table, error=None))[CODE]
    assert note.doubt
    assert note.text.startswith("5 hours")


@pytest.mark.parametrize("chance", [None, 10.0])
def test_nothing_is_said_where_every_hour_has_an_amount(tmp_path, chance):
    """With chances beside them or without."""
    table = weather(48, precipitation_probability=chance)
    assert CODE not in notes_of(make_plan(job(tmp_path), table, error=None))


@pytest.mark.parametrize("blank", [False, True])
def test_chances_alone_have_a_note_of_their_own(tmp_path, blank):
    """No amount in the whole file, be the column left out or empty, is said once."""
    amount = np.nan if blank else None
    table = weather(48, precipitation=amount, precipitation_probability=10.0)
    table = changed(table, origin=table.origin | {"precipitation": "missing"})
    told = notes_of(make_plan(job(tmp_path), table, error=None))
    assert "rain-by-chance" in told
    assert CODE not in told


def hourly(chance):
    """Give the hourly sample of the NWS, calm, with one chance of rain in every hour."""
    tree = json.loads((DATA / "samples" / "nws-hourly.json").read_text(encoding="utf-8"))
    for each in tree["properties"]["periods"]:
        each["probabilityOfPrecipitation"]["value"] = chance
        each |= {"windSpeed": "1 mph", "shortForecast": "Cloudy"}
        each["temperature"], each["dewpoint"]["value"] = 60, 5.0
        each["relativeHumidity"]["value"] = 50
    return read_weather(Raw(name="hourly.json", data=json.dumps(tree).encode()))


@pytest.mark.parametrize("error", [None, "shipped"])
def test_nine_in_ten_of_rain_in_every_hour_is_never_a_go(error):
    """Chances without amounts, drawn or as they come; the same hours dry are a go."""
    larkfield = with_steps(read_job(DATA / "larkfield.toml"))
    dry, wet = hourly(0), hourly(90)
    for now in wet.times[:30:6]:
        plan = make_plan(larkfield, wet, now=now, error=error, count=200)
        assert plan.decision.answer != "go"
    answers = {
        make_plan(larkfield, dry, now=now, error=error, count=200).decision.answer
        for now in dry.times[:30:6]
    }
    assert "go" in answers
