"""The one answer: made windows in, an answer out."""

import datetime as dt
from dataclasses import replace

import pandas as pd
import pytest

from planner.plan.decide import decide, evening
from planner.reference.tables import value
from tests.hours.made import job
from tests.plan.made_windows import (
    DONE,
    NOW,
    ROOF,
    STAKES,
    WALL,
    asked,
    at,
    plan_of,
    reason,
    window,
)

DAY = pd.Timedelta(days=1)


@pytest.fixture(scope="module")
def the_job(tmp_path_factory):
    """Make a job with stakes that are easy to reckon with."""
    return job(tmp_path_factory.mktemp("job"), DONE + STAKES)


# Go, hold, no-go, no data.


def test_a_window_today_is_a_go(the_job):
    """Nothing speaks against it: go, with no need to look again."""
    best = window(at("06:00"))
    got = decide(the_job, (plan_of(best),), asked(error=True))
    assert (got.answer, got.codes, got.stage) == ("go", ("starts-today",), "start")
    assert (got.step, got.window, got.look_again) == (ROOF, best, None)


def test_a_window_on_another_day_is_a_hold(the_job):
    """Hold until the evening before, at which the crew is called."""
    got = decide(the_job, (plan_of(window(at("06:00", 7), 0.6)),), asked(error=True))
    assert (got.answer, got.codes, got.stage) == ("hold", ("starts-later",), "call")
    assert got.look_again == at("20:00", 6)


def test_on_the_eve_itself_the_next_look_is_at_the_first_start(the_job):
    """At nine in the evening eight is past."""
    best = window(at("06:00", 5), 0.6, around=1)
    got = decide(the_job, (plan_of(best),), asked(at("21:00"), error=True))
    assert got.look_again == at("05:00", 5)


def test_no_window_is_a_no_go(the_job):
    """Windy throughout: no-go, and the next forecast is looked at in the evening."""
    here = plan_of(because=reason())
    got = decide(the_job, (here,), asked())
    assert (got.answer, got.codes, got.look_again) == ("no-go", ("no-window",), at("20:00"))
    late = decide(the_job, (here,), asked(at("20:30")))
    assert late.look_again == at("20:00", 5)


def test_no_window_before_the_last_day_is_the_end(the_job):
    """On the last day there is nothing to look again for."""
    last = replace(the_job, finish_by=NOW.date())
    assert decide(last, (plan_of(because=reason()),), asked()).look_again is None


def test_a_file_that_does_not_say_is_no_data(the_job):
    """What binds is that nothing is known."""
    got = decide(the_job, (plan_of(because=reason("no data")),), asked())
    assert (got.answer, got.codes) == ("no-data", ("not-covered",))


def test_after_the_last_day(the_job):
    """However calm: the deadline is past."""
    past = replace(the_job, finish_by=dt.date(2026, 5, 3))
    got = decide(past, (plan_of(window(at("06:00"))),), asked(error=True))
    assert (got.answer, got.codes, got.window) == ("no-go", ("past-finish",), None)


def test_nothing_left_to_do(the_job):
    """Every step is done: the answer is about none."""
    got = decide(the_job, (), asked())
    assert (got.answer, got.step, got.codes) == ("no-go", None, ("all-done",))


def test_the_roof_comes_before_what_follows_it(the_job):
    """The answer is about the roof as long as it is to be done, else the first step."""
    trim = plan_of(window(at("06:00"), name="trim"), name="trim", sheet="none")
    roof = plan_of(window(at("06:00", 6)))
    assert decide(the_job, (trim, roof), asked()).step == ROOF
    assert decide(the_job, (trim,), asked()).step == "trim"


# What is in the way of the roof.


def wall(*windows, because=None):
    """Make an end wall that the roof waits for."""
    return plan_of(*windows, name=WALL, sheet="end wall", because=because)


def test_a_wall_without_a_window_is_what_the_answer_is_about(the_job):
    """The roof waits for a wall that the wind never lets up: no-go, and for the wall."""
    roof = plan_of(after=(WALL,))
    got = decide(the_job, (wall(because=reason()), roof), asked())
    assert (got.answer, got.step, got.codes) == ("no-go", WALL, ("no-window",))
    got = decide(the_job, (wall(because=reason("no data")), roof), asked())
    assert (got.answer, got.step, got.codes) == ("no-data", WALL, ("not-covered",))


def test_a_roof_that_has_no_hours_left_after_its_walls_waits(the_job):
    """The walls take the last hours of the file: hold, a longer file may say more."""
    roof = plan_of(after=(WALL,))
    got = decide(the_job, (wall(window(at("06:00"), name=WALL)), roof), asked())
    assert (got.answer, got.codes) == ("hold", ("waits-for-earlier-step",))
    assert got.look_again == at("20:00")


def test_no_start_left_at_all_is_no_wait_for_an_earlier_step(the_job):
    """Ten to midnight of the last day: nothing comes before it, nothing is left."""
    last = replace(the_job, finish_by=NOW.date())
    got = decide(last, (plan_of(),), asked(at("23:50")))
    assert (got.answer, got.codes, got.look_again) == ("no-go", ("no-window",), None)


def test_a_file_at_its_end_is_no_wait_for_an_earlier_step(the_job):
    """No start is left for the wall either: to wait for it would be in vain."""
    got = decide(the_job, (wall(), plan_of(after=(WALL,))), asked(at("23:50")))
    assert (got.answer, got.codes) == ("no-go", ("no-window",))


def test_a_wall_that_comes_first_today_is_the_answer(the_job):
    """In the order around the roof's best window the wall is first, and today: go for it."""
    first = window(at("06:00"), name=WALL, around=1, hours=1)
    roof = plan_of(window(at("06:00", 6)), after=(WALL,))
    order = ((WALL, at("05:30")), (ROOF, at("06:00", 6)))
    got = decide(the_job, (wall(first), roof), asked(order=order))
    assert (got.answer, got.step, got.window) == ("go", WALL, first)


@pytest.mark.parametrize(
    ("first", "placed"),
    [
        (window(at("06:00", 5), name=WALL), at("06:00", 5)),  # not today
        (window(at("06:00"), name=WALL), at("09:00")),  # placed where no window is
        (window(at("06:00"), name=WALL, hours=72), at("06:00")),  # too long before the roof
    ],
)
def test_a_wall_that_has_no_place_today_leaves_the_answer_to_the_roof(the_job, first, placed):
    """Its place is on another day, outside its windows, or would run into the roof."""
    roof = plan_of(window(at("06:00", 6)), after=(WALL,))
    order = ((WALL, placed), (ROOF, at("06:00", 6)))
    got = decide(the_job, (wall(first), roof), asked(order=order))
    assert (got.answer, got.step) == ("hold", ROOF)


# What speaks against going.


@pytest.mark.parametrize(
    ("hours_old", "answer"), [(0, "go"), (35.9, "go"), (36, "hold"), (80, "hold")]
)
def test_no_go_on_an_old_forecast(the_job, hours_old, answer):
    """A day and a half old at the start: hold, and get a newer one now."""
    issued = at("06:00") - pd.Timedelta(hours=hours_old)
    for error in (True, False):
        got = decide(
            the_job, (plan_of(window(at("06:00"))),), asked(issued=issued, error=error)
        )
        assert got.answer == answer
        assert ("old-forecast" in got.codes) == (answer == "hold")
        assert got.look_again == (NOW if answer == "hold" else None)


def test_a_record_does_not_grow_old(the_job):
    """What was observed has no time of issue."""
    assert decide(the_job, (plan_of(window(at("06:00"))),), asked(issued=None)).answer == "go"


@pytest.mark.parametrize(("chance", "answer"), [(0.69, "hold"), (0.70, "go")])
def test_nobody_is_sent_out_below_the_least_chance(the_job, chance, answer):
    """0.7, whatever waiting costs: assumed, a row of the planning table."""
    assert value("planning", "least_chance_go") == 0.7
    last = replace(the_job, finish_by=NOW.date())
    got = decide(last, (plan_of(window(at("06:00"), chance)),), asked(error=True))
    assert got.answer == answer
    assert ("low-chance" in got.codes) == (answer == "hold")


@pytest.mark.parametrize(
    ("leave", "answer"), [(0.89, "hold"), (0.9, "go"), (1.0, "go"), (None, "go")]
)
def test_what_is_up_must_stand_the_night(the_job, leave, answer):
    """Nine in ten, or no go; where it is not known it is for the faces to say so."""
    got = decide(the_job, (plan_of(window(at("06:00"), leave=leave)),), asked(error=True))
    assert got.answer == answer
    assert ("leave-gust" in got.codes) == (answer == "hold")


def test_all_that_speaks_against_it_is_said(the_job):
    """Old, unlikely, and not to be left: three codes."""
    bad = window(at("06:00"), 0.3, leave=0.1)
    got = decide(the_job, (plan_of(bad),), asked(issued=NOW - 3 * DAY, error=True))
    assert got.codes == ("low-chance", "old-forecast", "leave-gust")


# The price that waiting has.


@pytest.mark.parametrize(
    ("now", "start", "stands", "stage"),
    [
        ("04:00", at("06:00"), 0.9, "start"),
        ("15:00", at("06:00", 5), 0.9, "leave"),
        ("15:00", at("06:00", 5), None, "call"),
        ("20:30", at("06:00", 5), 0.9, "call"),
    ],
)
def test_stages(the_job, now, start, stands, stage):
    """A window today: start or send home. None, and something up: leave it? Then: call?"""
    here = plan_of(window(start))
    got = decide(the_job, (here,), asked(at(now), error=True, stands=stands))
    assert got.stage == stage
    assert got.stands == stands


def test_as_long_as_today_has_a_window_nobody_leaves(the_job):
    """A poor window this evening, a good one tomorrow: the day is not over."""
    here = plan_of(window(at("06:00", 5)), window(at("17:00"), 0.3, rank=2))
    got = decide(the_job, (here,), asked(at("12:00"), error=True, stands=0.9))
    assert (got.window.start, got.stage) == (at("06:00", 5), "call")


# One certain weather.


def test_one_certain_weather_is_taken_at_its_best(the_job):
    """Nothing is weighed: the best window, no prices, nothing that would change it."""
    best, today = window(at("06:00", 6), 1.0), window(at("06:00"), 1.0, rank=2)
    got = decide(the_job, (plan_of(best, today),), asked())
    assert (got.answer, got.window) == ("hold", best)
    assert (got.go_cost, got.wait_cost, got.needs_chance) == (None, None, None)
    assert got.would_change == ()


# What would change the answer.


def test_what_would_change_the_answer(the_job):
    """Two more people, the chance that it takes, and the best start of another day."""
    best, other = window(at("06:00"), 0.8), window(at("06:00", 6), 0.6, rank=2)
    got = decide(the_job, (plan_of(best, other),), asked(error=True, more=0.93))
    people, chance, day = got.would_change
    assert (people.what, people.to, people.chance) == ("people", the_job.crew.people + 2, 0.93)
    assert (chance.what, chance.to, chance.chance) == ("chance", got.needs_chance, 0.8)
    assert (day.what, day.to, day.chance) == ("day", other.start, 0.6)


def test_without_another_day_none_is_offered(the_job):
    """Two windows of one day are one day."""
    here = plan_of(window(at("06:00"), 0.8), window(at("16:00"), 0.6, rank=2))
    got = decide(the_job, (here,), asked(error=True))
    assert [change.what for change in got.would_change] == ["people", "chance"]


@pytest.mark.parametrize("zone", ["America/Santiago", "America/Chicago", "Australia/Lord_Howe"])
def test_the_evening_call_is_at_its_hour_by_the_clock(zone):
    """Over a clock change the evening before is still at eight, and never a crash."""
    for day in pd.date_range("2026-01-01", "2026-12-31"):
        eve = evening(day.date(), pd.Timestamp("2026-01-01", tz=zone))
        assert (eve.date(), eve.hour, eve.minute) == (day.date(), 20, 0)
