"""The demo and other jobs planned over possible weathers: chances, order, deadlines."""

import datetime as dt
import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.errors import JobError, WeatherError
from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.weather.read import read_weather
from tests.hours.made import job, weather

DATA = Path(__file__).parents[2] / "data"
DONE = '[steps."end wall north"]\ndone = true\n[steps."end wall south"]\ndone = true\n'


def codes(plan):
    """Give the codes of a plan's notes."""
    return {note.code for note in plan.notes}


@pytest.fixture(scope="module")
def demo():
    """Read the demo job and its forecast."""
    return read_job(DATA / "larkfield.toml"), read_weather(DATA / "forecast.csv")


@pytest.fixture(scope="module")
def demo_plan(demo):
    """Plan the demo as anybody would: possible weathers from the shipped table."""
    return make_plan(*demo)


def chances(plan, name="roof sheet"):
    """Give the chance of the best start of each day of a step."""
    [days] = [here.days for here in plan.steps if here.step.name == name]
    return {day.day: day.chance for day in days}


def test_the_same_seed_gives_the_same_plan(demo, demo_plan):
    """Planned twice, every window, every chance and the answer are the same."""
    again = make_plan(*demo)
    assert repr(again.steps) == repr(demo_plan.steps)
    assert repr(again.decision) == repr(demo_plan.decision)
    assert again.order == demo_plan.order
    assert (again.seed, again.error) == (1, "shipped")


def test_another_seed_gives_other_numbers_and_much_the_same_chances(demo, demo_plan):
    """500 weathers drawn anew: chances differ, within four standard errors of each day's."""
    other = make_plan(*demo, seed=2)
    assert other.seed == 2
    ours, theirs = chances(demo_plan), chances(other)
    assert ours.keys() == theirs.keys()
    assert list(ours.values()) != list(theirs.values())
    for day, chance in ours.items():
        noise = np.sqrt(max(chance * (1.0 - chance), 0.01) / 500)
        assert theirs[day] == pytest.approx(chance, abs=4.0 * np.sqrt(2.0) * noise + 0.01)


def test_as_many_weathers_as_asked_for(demo):
    """The plan says how many it rests on; every chance is a share of them."""
    plan = make_plan(*demo, count=40)
    assert plan.weather.members == 40
    for here in plan.steps:
        for window in here.found.windows:
            assert window.chance * 40 == pytest.approx(round(window.chance * 40), abs=1e-6)


def test_no_window_of_the_roof_is_certain(demo_plan):
    """A forecast is never sure: every window of the roof may hold and may fail.

    Of a step that asks little all 500 weathers may hold; then it is told as 1, not more.
    """
    for here in demo_plan.steps:
        assert here.found.windows
        for window in here.found.windows:
            assert 0.0 < window.chance <= 1.0
            assert 0.0 <= window.slow_chance <= 1.0
            if here.step.sheet == "roof":
                assert window.chance < 1.0


def test_chances_are_of_the_days_they_stand_for(demo_plan):
    """No window is likelier than the best start of its day, to one in a hundred."""
    for here in demo_plan.steps:
        best = {day.day: day.chance for day in here.days}
        for window in here.found.windows:
            assert window.chance <= best[window.start.date()] + 0.01


def test_days_ahead_are_less_sure(tmp_path):
    """The same calm hours on every day: the farther ahead, the less they can be relied on."""
    calm = weather(24 * 8, wind_gust=2.2, wind_speed=0.9, cloud_cover=100.0)
    found = list(chances(make_plan(job(tmp_path, DONE), calm)).values())
    assert found[0] > found[3] + 0.05 > found[7] + 0.1
    assert all(a >= b - 0.05 for a, b in itertools.pairwise(found))


def test_more_people_make_the_roof_likelier(demo):
    """From two to six people: one more never lowers a day's chance, and raises the best.

    With many more the crew is so quick that it meets the dew; that is not asked here.
    """
    the_job, forecast = demo
    crews = [replace(the_job.crew, people=people) for people in range(2, 7)]
    planned = [chances(make_plan(replace(the_job, crew=crew), forecast)) for crew in crews]
    for fewer, more in itertools.pairwise(planned):
        assert all(more[day] >= fewer[day] for day in fewer)
        assert max(more.values()) > max(fewer.values())


def test_what_was_observed_is_certain(demo):
    """A record of a station is one weather: nothing is drawn, nothing weighed."""
    the_job, forecast = demo
    record = replace(forecast, kind="observed", issued=None)
    plan = make_plan(the_job, record)
    assert (plan.weather.members, plan.seed, plan.error) == (1, None, "")
    found = [window.chance for here in plan.steps for window in here.found.windows]
    assert set(found) == {1.0}
    assert plan.decision.wait_cost is None
    assert plan.decision.would_change == ()


def test_a_forecast_taken_as_it_comes_says_so(demo):
    """Without a table of errors the chances are 1 or nought, and a note says what that is."""
    plan = make_plan(*demo, error=None)
    assert (plan.weather.members, plan.seed, plan.error) == (1, None, "")
    assert "taken-as-it-comes" in codes(plan)
    assert {w.chance for here in plan.steps for w in here.found.windows} == {1.0}


def test_what_chances_rest_on_is_noted(demo_plan):
    """The demo is not where the shipped table was learned."""
    assert {"chances-from", "learned-elsewhere"} <= codes(demo_plan)


def ensemble(members, hours=72):
    """Make an ensemble of calm weathers, every column by member, each with its own gusts."""
    plain = weather(hours, cloud_cover=100.0)
    gust = 1.0 + 0.1 * np.arange(members)[:, None] + np.zeros(hours)
    every = {name: np.repeat(array, members, axis=0) for name, array in plain.values.items()}
    values = every | {"wind_gust": gust, "wind_speed": gust / 2.0}
    return replace(
        plain, values=values, weights=np.full(members, 1.0 / members), kind="ensemble"
    )


def test_an_ensemble_with_a_hole_in_one_member_is_refused(tmp_path):
    """One of twenty members lacks two hours: said, with the hour and what to do."""
    holed = ensemble(20)
    gust = holed.values["wind_gust"].copy()
    gust[7, 30:32] = np.nan
    holed = replace(holed, values=holed.values | {"wind_gust": gust})
    with pytest.raises(WeatherError, match="1 of 20 members lack the hour") as caught:
        make_plan(job(tmp_path, DONE), holed)
    assert caught.value.key == "wind_gust"
    assert f"{holed.times[30]:%Y-%m-%d %H:%M}" in caught.value.message
    assert "Get the ensemble again" in caught.value.fix


def test_an_ensemble_is_planned(tmp_path):
    """Its members are dealt out among the possible weathers."""
    plan = make_plan(job(tmp_path, DONE), ensemble(20), count=100)
    assert plan.weather.members == 100
    assert 0.0 < plan.steps[0].found.windows[0].chance <= 1.0


# The order of the steps.


def check_order(order, steps):
    """Hold an order of steps against what each of them waits for."""
    placed = {one.step: one for one in order.steps}
    assert all(a.end <= b.start for a, b in itertools.pairwise(order.steps))
    assert set(placed) | set(order.missing) == {here.step.name for here in steps}
    assert not set(placed) & set(order.missing)
    for here in steps:
        for name in (x for x in here.step.after if x in placed and here.step.name in placed):
            one, before = placed[here.step.name], placed[name]
            assert one.start >= before.end
            assert (one.start.date() - before.end.date()).days >= here.step.nights_after
    assert order.chance_as_listed <= min(one.chance for one in order.steps) + 1e-9
    assert order.chance_as_listed <= order.chance_all + 1e-9


def test_the_order_of_the_demo_can_be_done(demo_plan):
    """One step at a time, each after what it waits for, the answer's own step as answered."""
    check_order(demo_plan.order, demo_plan.steps)
    [roof] = [one for one in demo_plan.order.steps if one.step == "roof sheet"]
    assert roof.start == demo_plan.decision.window.start
    assert roof.chance == pytest.approx(demo_plan.decision.window.chance, abs=1e-6)


def test_the_order_of_a_whole_house_can_be_done(demo):
    """The demo with its end walls still to hang: seven steps, the roof after both walls."""
    the_job, forecast = demo
    bare = replace(the_job, step_patches=())
    plan = make_plan(bare, forecast)
    assert {"end wall north", "end wall south"} <= {one.step for one in plan.order.steps}
    check_order(plan.order, plan.steps)


def test_one_day_has_no_order_of_days(demo):
    """Asked for one day, the plan gives its windows and no order."""
    assert make_plan(*demo, on=dt.date(2026, 5, 5)).order is None


# Deadlines and stakes.


def test_a_deadline_that_is_past_is_an_answer(demo):
    """The last day was yesterday: no-go, nothing weighed, nothing ordered, no error."""
    the_job, forecast = demo
    plan = make_plan(replace(the_job, finish_by=dt.date(2026, 5, 3)), forecast)
    assert (plan.decision.answer, plan.decision.codes) == ("no-go", ("past-finish",))
    assert plan.order is None
    assert all(here.found.windows == () == here.days for here in plan.steps)


@pytest.mark.parametrize(("hour", "price"), [(4, "day_waited"), (6, "sent_home")])
def test_on_the_last_day_not_to_go_is_the_deadline(demo, hour, price):
    """Today or never: waiting costs the deadline, and a day or, once called, the way home.

    Cost-loss (Murphy 1977): the chance that it takes is 1 - C / L, L being what a start
    that does not hold costs, but never below the least chance.
    """
    the_job, forecast = demo
    last = replace(the_job, finish_by=dt.date(2026, 5, 4))
    last = replace(last, stakes=replace(last.stakes, deadline_missed=60.0))
    plan = make_plan(last, forecast, now=pd.Timestamp(f"2026-05-04T0{hour}:00-05:00"))
    decision, [today] = plan.decision, plan.steps[0].days
    cost = getattr(last.stakes, price) + 60.0
    assert decision.wait_cost == pytest.approx(cost)
    assert decision.needs_chance == pytest.approx(max(1.0 - cost / today.loss, 0.7))
    assert (decision.answer == "go") == (decision.window.chance >= decision.needs_chance)


def test_a_sheet_that_costs_nothing_is_refused(tmp_path):
    """Everything is weighed against the sheet: at nothing the job file is refused."""
    file = tmp_path / "job.toml"
    text = (DATA / "larkfield.toml").read_text(encoding="utf-8")
    file.write_text(text + "\n[stakes]\nsheet_lost = 0\n", encoding="utf-8")
    with pytest.raises(JobError, match="must lie between") as caught:
        read_job(file)
    assert caught.value.key == "stakes.sheet_lost"
