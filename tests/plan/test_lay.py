"""Where each step may start at all, and what it waits for."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner.hours.conditions import conditions_for
from planner.plan.lay import lay_steps, open_quarters
from tests.hours.made import job, weather

ZONE = "America/Chicago"
DONE = '[steps."end wall north"]\ndone = true\n[steps."end wall south"]\ndone = true\n'
WALLS = ("end wall north", "end wall south")


def laid(the_job, table, *, now=None, on=None):
    """Lay the steps of one certain weather: {name: StepPlan}, {name: Laid}."""
    conditions = conditions_for(the_job, table)
    now = (table.times[0] if now is None else now).tz_convert(ZONE)
    plans, given = lay_steps(the_job, conditions, now=now, on=on)
    return {x.step.name: x for x in plans}, {x.step.name: x for x in given}


def calm(*spells, hours=96):
    """Make weather that is calm in some spells of hours (first, last) and windy else."""
    gust = np.full(hours, 12.0)
    for first, last in spells:
        gust[first:last] = 2.0
    return weather(hours, wind_gust=gust, wind_speed=gust / 2.5, cloud_cover=100.0)


@pytest.mark.parametrize("now", ["2026-05-04T05:00Z", "2026-05-04T17:20Z", "2026-05-06T04:55Z"])
@pytest.mark.parametrize("last", [None, dt.date(2026, 5, 4), dt.date(2026, 5, 6)])
@pytest.mark.parametrize("on", [None, dt.date(2026, 5, 5)])
def test_open_hours_are_those_of_a_loop(tmp_path, now, last, on):
    """Not past, not after the last local day, and of the day asked for."""
    the_job = replace(job(tmp_path), finish_by=last)
    table = weather(72)
    now = pd.Timestamp(now).tz_convert(ZONE)
    got = open_quarters(the_job, conditions_for(the_job, table), now=now, on=on)
    for quarter in range(4 * 72):
        time = (table.times[0] + pd.Timedelta(minutes=15 * quarter)).tz_convert(ZONE)
        day = time.date()
        may = time >= now and (last is None or day <= last) and on in (None, day)
        assert got[quarter] == may


def test_every_step_still_to_do_is_laid(tmp_path):
    """Done steps are left out; the rest are given in the job's order, twice."""
    the_job = job(tmp_path, DONE)
    plans, given = laid(the_job, calm((0, 96)))
    names = [step.name for step in the_job.steps if not step.done]
    assert list(plans) == names == list(given)
    assert not set(names) & set(WALLS)


def test_the_roof_waits_for_the_first_hours_of_the_walls(tmp_path):
    """Two spells: the walls could be done in either, the roof may start after the first."""
    plans, _ = laid(job(tmp_path), calm((6, 9), (30, 48)))
    roof = plans["roof sheet"]
    first = [min(x.end for x in plans[name].found.windows) for name in WALLS]
    assert min(x.earliest_start for x in roof.found.windows) >= max(first)
    assert roof.days[0].start >= max(first)
    later = max(x.end for name in WALLS for x in plans[name].found.windows)
    assert min(x.earliest_start for x in roof.found.windows) < later


def test_what_follows_the_roof_waits_for_its_best_hours(tmp_path):
    """Sides and trim come after the roof's best window, not its first; trim a night later."""
    gust = np.where(np.arange(96) < 24, 3.6, 1.5)
    table = weather(96, wind_gust=gust, wind_speed=gust / 2.5, cloud_cover=100.0)
    plans, _ = laid(job(tmp_path, DONE), table)
    best, *others = plans["roof sheet"].found.windows
    assert min(x.end for x in others) < best.start
    for name, step in plans.items():
        if "roof sheet" not in step.step.after:
            continue
        assert step.days, name
        assert all(day.start >= best.end for day in step.days)
        assert all(x.earliest_start >= best.end for x in step.found.windows)
    nights = (plans["trim"].days[0].day - best.end.date()).days
    assert nights == plans["trim"].step.nights_after == 1


def test_without_hours_for_the_walls_there_are_none_for_the_roof(tmp_path):
    """Wind throughout: the roof has neither windows nor days, and waits."""
    plans, _ = laid(job(tmp_path), calm())
    roof = plans["roof sheet"]
    assert (roof.found.windows, roof.days, roof.found.none_because) == ((), (), None)
    assert plans[WALLS[0]].found.none_because is not None


def test_the_order_gets_every_open_hour(tmp_path):
    """What must come before is for the order to see: all steps are open to the same hours."""
    table = calm((0, 96))
    now = table.times[20]
    _, given = laid(job(tmp_path), table, now=now)
    times = table.times.repeat(4) + pd.to_timedelta(np.tile([0, 15, 30, 45], 96), unit="min")
    for one in given.values():
        assert (one.open_to == (times >= now)).all()
        assert one.holds.ok.shape == (1, 96 * 4)


def test_one_day_only(tmp_path):
    """Asked for one day, every step has that day or none."""
    asked = dt.date(2026, 5, 5)
    plans, _ = laid(job(tmp_path, DONE), calm((0, 96)), on=asked)
    assert {day.day for step in plans.values() for day in step.days} == {asked}
    assert plans["trim"].days == ()
