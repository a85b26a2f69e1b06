"""Go now or wait: the decision weighed on made windows, and on drawn weather."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.plan.decide import decide
from planner.plan.make import make_plan
from tests.hours.made import job, weather
from tests.plan.made_windows import DONE, NOW, STAKES, ZONE, asked, at, plan_of, window

CENT = 0.01


@pytest.fixture(scope="module")
def the_job(tmp_path_factory):
    """Make a job with stakes that are easy to reckon with."""
    return job(tmp_path_factory.mktemp("job"), DONE + STAKES)


def test_waiting_costs_less(the_job):
    """0.8 today against 0.99 tomorrow, nothing lost by a day: wait.

    By hand: go 200; wait 20 + min(10, 20 + 300) = 30. So 0.97 is needed today.
    """
    here = plan_of(window(at("16:00"), 0.8), window(at("06:00", 5), 0.99, rank=2))
    last = replace(the_job, finish_by=dt.date(2026, 5, 5))
    got = decide(last, (here,), asked(error=True))
    assert (got.answer, got.codes) == ("hold", ("waiting-costs-less",))
    assert got.go_cost == pytest.approx(200.0, abs=CENT)
    assert got.wait_cost == pytest.approx(30.0, abs=CENT)
    assert got.needs_chance == pytest.approx(0.97, abs=1e-4)
    assert got.look_again == at("20:00")


def test_going_today_though_a_likelier_day_is_to_come(the_job):
    """0.94 today, 0.99 in four days: four days at 20 each cost more than the difference.

    By hand: go 60; wait at least 4 x 20 + 10 = 90, the days between being hopeless.
    """
    between = [window(at("06:00", day), 0.2, rank=day) for day in (5, 6, 7)]
    best, today = window(at("06:00", 8), 0.99), window(at("16:00"), 0.94, rank=2)
    here = plan_of(best, today, *between)
    got = decide(replace(the_job, finish_by=dt.date(2026, 5, 8)), (here,), asked(error=True))
    assert (got.answer, got.window) == ("go", today)
    assert got.go_cost == pytest.approx(60.0, abs=CENT)
    assert got.wait_cost == pytest.approx(90.0, abs=CENT)


def test_a_crew_on_its_way_is_not_sent_home_lightly(the_job):
    """Three hours before the first start it is on its way: 100 instead of 20 to wait.

    By hand, tomorrow 0.99: go 60; wait 20 + 10 before, 100 + 10 from then on.
    """
    here = plan_of(window(at("09:00"), 0.94), window(at("06:00", 5), 0.99, rank=2))
    last = replace(the_job, finish_by=dt.date(2026, 5, 5))
    early, late = (decide(last, (here,), asked(at(x), error=True)) for x in ("05:45", "06:15"))
    assert (early.answer, early.wait_cost) == ("hold", pytest.approx(30.0, abs=CENT))
    assert (late.answer, late.wait_cost) == ("go", pytest.approx(110.0, abs=CENT))


@settings(deadline=None)
@given(
    today=st.floats(0.1, 1.0),
    tomorrow=st.floats(0.1, 1.0),
    later=st.floats(0.1, 1.0),
    order=st.permutations([0, 1, 2]),
)
def test_an_answer_never_says_two_things(the_job, today, tomorrow, later, order):
    """Go only today, where it costs no more; the crew is called only for the window named."""
    windows = [
        window(at("10:00"), today),
        window(at("10:00", 5), tomorrow),
        window(at("10:00", 8), later),
    ]
    best_first = sorted(windows, key=lambda x: (-x.chance, order[windows.index(x)]))
    got = decide(the_job, (plan_of(*best_first),), asked(error=True))
    if got.answer == "go":
        assert got.window.start.date() == NOW.date()
        assert got.go_cost <= got.wait_cost + CENT
        assert got.window.chance >= got.needs_chance
    else:
        assert got.look_again > NOW
        assert got.look_again <= got.window.start or got.window.start.date() == NOW.date()
    if "call-crew" in got.codes:
        assert got.window.start.date() == NOW.date() + dt.timedelta(days=1)
        assert got.look_again == at("20:00")


def test_the_crew_is_called_for_tomorrow_though_a_likelier_day_is_to_come(the_job):
    """0.94 tomorrow, 0.99 in four days: as good as done tomorrow, so call, look tonight.

    By hand: 60 against 20 + 3 x 20 + 10 = 90.
    """
    best, soon = window(at("06:00", 8), 0.99), window(at("06:00", 5), 0.94, rank=2)
    between = [window(at("06:00", day), 0.2, rank=day) for day in (6, 7)]
    here = plan_of(best, soon, *between)
    got = decide(replace(the_job, finish_by=dt.date(2026, 5, 8)), (here,), asked(error=True))
    assert (got.answer, got.window) == ("hold", soon)
    assert got.codes == ("starts-later", "call-crew")
    assert got.look_again == at("20:00")
    assert got.go_cost == pytest.approx(20.0 + 60.0, abs=CENT)


def test_the_crew_is_not_called_for_a_day_that_waiting_beats(the_job):
    """0.75 tomorrow, 0.99 the day after: a day costs 20, the difference is 240."""
    here = plan_of(window(at("06:00", 6), 0.99), window(at("06:00", 5), 0.75, rank=2))
    got = decide(replace(the_job, finish_by=dt.date(2026, 5, 6)), (here,), asked(error=True))
    assert got.codes == ("starts-later",)
    assert got.window.start == at("06:00", 6)


# Whole plans.


def drawn(*calm_days, hours=120, calm=1.2, wild=12.0):
    """Make weather that is calm on some days (0 = the first) and windy on the others."""
    gust = np.where(np.isin(np.arange(hours) // 24, calm_days), calm, wild)
    return weather(hours, wind_gust=gust, wind_speed=gust / 2.5, cloud_cover=100.0)


def test_a_calm_today_with_storms_to_come_is_a_go(tmp_path):
    """Possible weathers around a dead calm day, and no other day for it."""
    plan = make_plan(job(tmp_path, DONE), drawn(0), count=200)
    decision = plan.decision
    assert (decision.answer, decision.stage) == ("go", "start")
    assert decision.go_cost <= decision.wait_cost
    assert decision.window.chance >= decision.needs_chance


def test_calm_tomorrow_calls_the_crew(tmp_path):
    """Nothing today; tomorrow calm, then wind: call, and say what stands until then."""
    noon = pd.Timestamp("2026-05-04T12:00", tz=ZONE)
    plan = make_plan(job(tmp_path, DONE), drawn(1), now=noon, count=200)
    decision = plan.decision
    assert (decision.answer, decision.stage) == ("hold", "leave")
    assert "call-crew" in decision.codes
    assert decision.look_again == at("20:00")
    assert 0.0 <= decision.stands <= 1.0


def test_wind_on_every_day_is_a_no_go(tmp_path):
    """No window in any of the possible weathers."""
    decision = make_plan(job(tmp_path, DONE), drawn(wild=25.0), count=200).decision
    assert (decision.answer, decision.codes) == ("no-go", ("no-window",))


def test_two_more_people_as_planned_with_them(tmp_path):
    """What two more would change is what a plan with them says of that day, to a hundredth."""
    breezy = drawn(0, 1, 2, 3, 4, calm=3.6)
    four = job(tmp_path, DONE)
    six = replace(four, crew=replace(four.crew, people=6))
    change = make_plan(four, breezy, count=200).decision.would_change[0]
    planned = make_plan(six, breezy, count=200)
    [roof] = [plan for plan in planned.steps if plan.step.sheet == "roof"]
    decision_day = make_plan(four, breezy, count=200).decision.window.start.date()
    best = max(day.chance for day in roof.days if day.day == decision_day)
    assert change.to == 6
    assert change.chance == pytest.approx(best, abs=0.01 + 1e-9)
