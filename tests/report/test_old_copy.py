"""A copy kept for want of a line says so, with its age and why, wherever its plan is read."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pandas as pd
import pytest

from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.report.record.windows import windows_1
from planner.report.save import plan_file
from planner.report.screen.first import first_screen
from planner.weather.file.text import Raw
from planner.weather.read import read_weather

DATA = Path(__file__).parents[2] / "data"
NOW = pd.Timestamp("2026-05-04T10:00Z")
SAID = "An old copy of the weather, fetched Sun May 3 5:00 pm, 12 h before: no line to a.test."


def plan_of(*lines):
    """A plan from the demo's forecast with more lines above it."""
    text = (DATA / "forecast.csv").read_text(encoding="utf-8")
    text = text.replace("# kind: example", "\n".join(["# kind: forecast", *lines]))
    weather = read_weather(Raw(name="fetched.csv", data=text.encode()))
    return make_plan(read_job(DATA / "larkfield.toml"), weather, now=NOW, error=None)


@pytest.fixture(scope="module")
def old():
    """A plan from a copy that was fetched twelve hours before."""
    return plan_of("# fetched: 2026-05-03T22:00Z", "# stale: no line to a.test")


def words(text):
    """Text on one line, without marks of HTML or of folded lines."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_the_screen_says_so(old):
    """Under the line that says how long it may be used."""
    assert SAID in words(first_screen(old, units="us"))


@pytest.mark.parametrize("suffix", [".html", ".txt"])
def test_pages_say_so(old, suffix):
    """Page and card."""
    assert SAID in words(plan_file(old, suffix, units="us").decode())


def test_the_calendar_says_so(old):
    """In every entry; lines are folded by RFC 5545 and commas marked."""
    text = plan_file(old, ".ics", units="us").decode().replace("\r\n ", "").replace("\\,", ",")
    assert text.count("BEGIN:VEVENT") == text.count(SAID) > 0


def test_the_day_sheet_says_so(old):
    """Among its notes."""
    text = words(plan_file(old, ".svg", units="us").decode())
    assert "an old copy, fetched 12 h ago: no line to a.test" in text


def test_the_record_says_so(old):
    """As time and reason."""
    weather = windows_1(old)["weather"]
    assert pd.Timestamp(weather["fetched"]) == pd.Timestamp("2026-05-03T22:00Z")
    assert weather["stale"] == "no line to a.test"


def test_a_fresh_one_does_not():
    """Fetched with a line, it is no old copy."""
    plan = plan_of("# fetched: 2026-05-04T09:30Z")
    assert "old copy" not in words(first_screen(plan, units="us"))
    assert windows_1(plan)["weather"]["stale"] is None
