"""The answer with many possible weathers: what each code and stage says."""

from __future__ import annotations

import re
from dataclasses import replace

import pandas as pd
import pytest

from planner.plan.records import Plan
from planner.report.answer.answer import answer, stands_to
from planner.report.screen.first import WIDTH, first_screen
from planner.report.words import Words
from tests.report.made_chances import CASES, MPH, UP, called, go, left, likely, weighed

FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf)\b", re.IGNORECASE)


def said(plan: Plan, units: str = "us") -> str:
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    said = answer(plan, words)
    word, lines = said.word, said.lines
    return " ".join([word, *lines])


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("name", CASES)
def test_every_screen_fits_a_terminal(name: str, units: str) -> None:
    """80 columns, ASCII, no trailing blanks, none of the words kept for the code."""
    screen = first_screen(CASES[name](), units=units)
    for line in screen.split("\n"):
        assert len(line) <= WIDTH, line
        assert line == line.rstrip()
    assert screen.isascii()
    assert not FORBIDDEN.findall(screen)
    assert "500 possible weathers." in screen


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        (
            "go",
            ["GO Roof sheet today", "Start between 5:00 and 5:45 pm", "Holds in 91 of 100."],
        ),
        (
            "starts later",
            ["HOLD No roof sheet today.", "Holds in 81 of 100: GO if it reaches 88."],
        ),
        (
            "waiting costs less",
            [
                "HOLD Not the roof sheet today: waiting is likely to cost less.",
                "Look again Tue Apr 29 8:00 pm.",
                "Best left today: start between 5:00 and 5:45 pm",
                "Holds in 64 of 100: GO if it reaches 88.",
            ],
        ),
        ("low chance", ["too few of the possible weathers hold", "GO if it reaches 70."]),
        ("called", ["Call the crew for Wed Apr 30.", "Best so far: Wed Apr 30"]),
        ("not called", ["Do not call the crew for Wed Apr 30 yet."]),
        ("too windy after", ["left alone after it, it stands in only 62 of 100."]),
        ("stands", ["What is up stands to 40.0 mph, in 95 of 100 until Thu May 1 6:15 am."]),
        (
            "may fall",
            [
                "WATCH OUT: what is up stands to 40.0 mph, and in 40 of 100 more comes "
                "before Thu May 1 6:15 am."
            ],
        ),
        ("unweighed", ["Holds in 81 of 100.  Most likely trouble"]),
    ],
)
def test_answers(name: str, parts: list[str]) -> None:
    """Each code and each stage has its own words."""
    found = said(CASES[name]())
    for part in parts:
        assert part in found


def test_reasons_are_listed_and_a_newer_forecast_asked_for() -> None:
    """Three reasons make one sentence; what is too old is looked at again at once."""
    codes = ("waiting-costs-less", "old-forecast", "leave-gust")
    plan = CASES["too windy after"]()
    old = replace(plan, decision=replace(plan.decision, codes=codes, look_again=plan.now))
    assert (
        "today: waiting is likely to cost less, the forecast is too old to go on and left "
        "alone after it, it stands in only 62 of 100.  Look again at once, with a newer "
        "forecast." in said(old)
    )


def test_trouble_has_its_share() -> None:
    """What the chance is made of: the limit that fails most, and how often."""
    assert "trouble: a gust over 4.0 mph at 5:15 pm, in 14 of 100." in said(go())


@pytest.mark.parametrize("name", sorted(set(CASES) - {"called", "not called"}))
def test_nobody_is_called_by_others(name: str) -> None:
    """The crew is spoken of only where calling it is what is decided."""
    assert "the crew for" not in said(CASES[name]())


def test_after_the_evening_there_is_no_yet() -> None:
    """Once the evening's hour is past, the next look is tomorrow's start."""
    plan = CASES["not called"]()
    window = plan.decision.window
    assert window is not None
    late = replace(plan.decision, look_again=window.earliest_start)
    assert "Do not call the crew for Wed Apr 30." in said(replace(plan, decision=late))


def test_the_crew_is_not_called_off_for_a_day_without_starts() -> None:
    """Nothing is said of tomorrow if nothing can start then."""
    plan = weighed((likely("2031-05-02 06:30", 0.6, 1),), codes=("starts-later",), stage="call")
    assert "crew" not in said(plan)


@pytest.mark.parametrize(
    ("chance", "needs", "number"), [(0.749, 0.7501, 76), (0.853, 0.854, 86), (0.5, 0.7, 70)]
)
def test_what_a_go_needs_is_more_than_there_is(
    chance: float, needs: float, number: int
) -> None:
    """Rounding never makes a chance that falls short look like one that is enough."""
    plan = weighed(
        (likely("2031-05-01 06:15", chance, 1),), codes=("starts-later",), needs_chance=needs
    )
    assert f"Holds in {round(100 * chance)} of 100: GO if it reaches {number}." in said(plan)


def test_a_chance_that_is_enough_needs_nothing() -> None:
    """A hold that only waits for its day does not ask for more."""
    plan = weighed(
        (likely("2031-05-01 06:15", 0.9, 1),), codes=("starts-later",), needs_chance=0.88
    )
    assert "Holds in 90 of 100.  Most likely" in said(plan)


def test_one_certain_weather_speaks_of_no_chance_and_no_call() -> None:
    """What may fall is told there too, without a chance."""
    for plan in (called(), left(0.0)):
        certain = replace(plan, weather=replace(plan.weather, members=1))
        found = said(certain)
        assert "of 100" not in found
        assert "crew" not in found
    assert "more is coming before Thu May 1 6:15 am" in found


def test_what_is_up_is_the_last_that_stands() -> None:
    """Trim changes nothing that stands; without a finished step nothing is up."""
    job = go().job
    assert stands_to(job) is None
    trim = replace(UP, name="trim", phases=(replace(UP.phases[0], leave_gust=None),))
    assert stands_to(replace(job, steps=(UP, trim))) == pytest.approx(40.0 * MPH)


def test_least_chance_to_leave_is_the_plan_s() -> None:
    """The warning begins where the plan would no longer leave it: under 90 of 100."""
    assert "WATCH OUT" not in said(left(0.9))
    assert "WATCH OUT" in said(left(0.899))


def test_look_again_is_not_lost() -> None:
    """Each hold says when a newer forecast is worth reading."""
    for name, make in CASES.items():
        plan = make()
        if plan.decision.answer == "hold":
            assert "Look again" in said(plan), name
            assert isinstance(plan.decision.look_again, pd.Timestamp)
