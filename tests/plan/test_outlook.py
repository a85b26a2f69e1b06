"""What going and waiting cost: against loops and sums by hand."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.hours.holds import Holds, starts_that_hold
from planner.job.records import Stakes
from planner.plan.outlook import DayStart, loss_if_it_fails, starts_by_day, weigh
from planner.reference.tables import value
from tests.hours.drawn import BOUND, hours, limit, step

STAKES = Stakes(sheet_lost=1000.0, deadline_missed=150.0, day_waited=20.0, sent_home=100.0)
ONE_HOUR = step(60)
LIMITS = {"phase 0": (limit(),)}
TODAY = dt.date(2026, 5, 4)
ZONE = "America/Chicago"
DAWN = pd.Timestamp("2026-05-04T06:00", tz=ZONE)


def lost_at(ratio):
    """Give the chance of a lost sheet, with the assumed numbers written out."""
    return 1.0 / (1.0 + math.exp(-(ratio - 1.3) / 0.102))


def all_open(conditions):
    """Allow every quarter hour."""
    return np.ones(4 * len(conditions.times), dtype=bool)


def best_of_days(conditions, holds, allowed):
    """Find the best start of each local day, one start after the other."""
    best = {}
    for at in range(holds.ok.shape[1]):
        quarter = at * holds.every // 15
        time = conditions.times[0] + pd.Timedelta(minutes=15 * quarter)
        time = time.tz_convert(conditions.time_zone)
        if not allowed[quarter]:
            continue
        chance = sum(
            weight
            for weight, held in zip(conditions.weights, holds.ok[:, at], strict=True)
            if held
        )
        known = best.get(time.date())
        if known is None or round(chance, 2) > round(known[1], 2):
            best[time.date()] = (time, chance)
    return best


# The best start of each day.


@settings(deadline=None)
@given(
    drawings=st.integers(0, 2**32 - 1),
    members=st.integers(1, 5),
    every=st.sampled_from([15, 30, 60]),
    zone=st.sampled_from(["UTC", ZONE, "Asia/Kolkata"]),
)
def test_the_best_start_of_each_day_is_that_of_a_loop(drawings, members, every, zone):
    """Any weathers, any weights, any allowed hours, any clock."""
    random = np.random.default_rng(drawings)
    count = 60
    drawn = ["".join(random.choice(list("##.."), count)) for _ in range(members)]
    conditions = hours(*drawn, zone=zone)
    weights = random.dirichlet(np.ones(members))
    conditions = replace(conditions, weights=weights)
    holds = starts_that_hold(conditions, ONE_HOUR, LIMITS, starts_every=every)
    allowed = random.random(4 * count) < 0.7
    found = starts_by_day(
        conditions, ONE_HOUR, LIMITS, holds=holds, allowed=allowed, stakes=STAKES
    )
    expected = best_of_days(conditions, holds, allowed)
    assert [one.day for one in found] == sorted(expected)
    for one in found:
        start, chance = expected[one.day]
        assert one.start == start
        assert one.chance == pytest.approx(chance, abs=1e-9)
        after = pd.Timedelta(minutes=15 * one.quarter)
        assert conditions.times[0] + after == start
        assert one.loss == pytest.approx(
            loss_if_it_fails(
                conditions,
                ONE_HOUR,
                LIMITS,
                start=one.quarter,
                ok=holds.ok[:, one.quarter * 15 // every],
                stakes=STAKES,
            )
        )


def test_days_without_an_allowed_start_are_left_out():
    """Yesterday is past, the day after tomorrow too late: one day is left."""
    conditions = hours("#" * 72)
    allowed = all_open(conditions)
    allowed[: 4 * 24] = False
    allowed[4 * 48 :] = False
    holds = starts_that_hold(conditions, ONE_HOUR, LIMITS)
    [only] = starts_by_day(
        conditions, ONE_HOUR, LIMITS, holds=holds, allowed=allowed, stakes=STAKES
    )
    assert only.day == dt.date(2026, 5, 5)
    nothing = np.zeros_like(allowed)
    assert (
        starts_by_day(conditions, ONE_HOUR, LIMITS, holds=holds, allowed=nothing, stakes=STAKES)
        == ()
    )


def test_a_day_without_hope_is_a_day_all_the_same():
    """Windy throughout: it can be waited on, so it is there, with a chance of 0."""
    conditions = hours("." * 24)
    holds = starts_that_hold(conditions, ONE_HOUR, LIMITS)
    [only] = starts_by_day(
        conditions,
        ONE_HOUR,
        LIMITS,
        holds=holds,
        allowed=all_open(conditions),
        stakes=STAKES,
    )
    assert only.chance == 0.0


def test_a_hundredth_does_not_put_off_the_start():
    """0.498 now and 0.502 an hour later are the same: the earlier is taken."""
    conditions = replace(hours("#.", ".#"), weights=np.array([0.498, 0.502]))
    holds = Holds(ok=np.array([[True, False], [False, True]]), every=60)
    [only] = starts_by_day(
        conditions,
        ONE_HOUR,
        LIMITS,
        holds=holds,
        allowed=all_open(conditions),
        stakes=STAKES,
    )
    assert (only.quarter, only.chance) == (0, pytest.approx(0.498))


# What it costs where it does not hold.


def of_two(first, second, *, rain=(0.0, 0.0)):
    """Make one hour of two weathers with these gusts over the limit."""
    conditions = hours("#", "#")
    values = conditions.values | {
        "gust": np.array([[first * BOUND], [second * BOUND]]),
        "rain": np.array([[rain[0]], [rain[1]]]),
    }
    return replace(conditions, values=values, weights=np.array([0.75, 0.25]))


def loss(conditions, *, ok, stakes=STAKES, limits=LIMITS):
    """Give the loss of a start in the first hour."""
    return loss_if_it_fails(
        conditions, ONE_HOUR, limits, start=0, ok=np.array(ok), stakes=stakes
    )


def test_the_sheet_or_the_way_home():
    """Two weathers, the second 1.2 times the limit: by hand 0.273 of the sheet.

    Where the gust does not take it the crew goes home: 0.273 x 1000 + 0.727 x 100.
    """
    taken = lost_at(1.2)
    assert taken == pytest.approx(0.273, abs=1e-3)
    got = loss(of_two(0.5, 1.2), ok=[True, False])
    assert got == pytest.approx(taken * 1000.0 + (1.0 - taken) * 100.0)
    assert got == pytest.approx(345.5, abs=0.1)


def test_only_the_weathers_that_fail_are_asked():
    """What holds with little room costs nothing more: it held. As replay counts it, too."""
    tight, easy = (loss(of_two(x, 1.2), ok=[True, False]) for x in (0.99, 0.1))
    assert tight == pytest.approx(easy)


def test_both_fail_and_are_weighed():
    """1.2 times the limit in three of four, twice it in the fourth: the mean by weight."""
    each = [lost_at(x) * 1000.0 + (1.0 - lost_at(x)) * 100.0 for x in (1.2, 2.0)]
    got = loss(of_two(1.2, 2.0), ok=[False, False])
    assert got == pytest.approx(0.75 * each[0] + 0.25 * each[1])


def test_rain_sends_home_and_takes_no_sheet():
    """A calm hour in which it rains: nearly the way home alone."""
    both = {"phase 0": (limit(), limit("rain", 0.05, scale=1.0))}
    got = loss(of_two(0.2, 0.2, rain=(0.0, 2.0)), ok=[True, False], limits=both)
    assert got == pytest.approx(100.0, abs=0.1)


def test_no_data_takes_the_sheet():
    """An hour that the file does not say anything of counts as the worst."""
    got = loss(of_two(0.2, np.nan), ok=[True, False])
    assert got == pytest.approx(1000.0)


def test_nothing_fails_is_the_whole_sheet():
    """If no possible weather fails, one that did would be none of them: a sheet."""
    assert loss(of_two(0.2, 0.3), ok=[True, True]) == 1000.0


def test_a_limit_passed_may_count_as_a_sheet():
    """As decisions are scored: whatever stops it, the sheet is lost."""
    strict = replace(STAKES, lost_when="a limit is passed")
    assert loss(of_two(0.5, 1.01), ok=[True, False], stakes=strict) == 1000.0


@given(st.floats(0.0, 5.0), st.floats(0.0, 5.0), st.booleans())
def test_the_loss_lies_between_the_way_home_and_the_sheet(first, second, held):
    """Whatever the gusts: no less than sent home, no more than the sheet."""
    got = loss(of_two(first, second), ok=[held, False])
    assert 100.0 - 1e-9 <= got <= 1000.0 + 1e-9


# Going against waiting.


class Told:
    """Stands for a table of errors: gives the same move and remembers what was asked."""

    def __init__(self, by=0.0):
        self.by, self.asked = by, []

    def still_open(self, lead, later):
        """Give the move between two forecasts."""
        self.asked.append((lead, later))
        return self.by if lead > later else 0.0


def start(ahead, chance, loss=1000.0, *, hour=6):
    """Make the best start of a day so many days ahead."""
    day = TODAY + dt.timedelta(days=ahead)
    at = pd.Timestamp(year=day.year, month=day.month, day=day.day, hour=hour, tz=ZONE)
    return DayStart(day=day, start=at, quarter=0, chance=chance, loss=loss)


def weighed(*days, error=None, finish=None, called=False, stakes=STAKES, issued=DAWN):
    """Weigh with everything else plain."""
    return weigh(
        days,
        today=TODAY,
        issued=issued,
        stakes=stakes,
        finish_by=finish,
        error=error,
        called=called,
    )


@given(st.floats(0.0, 1.0), st.floats(0.0, 250.0))
def test_the_last_day_is_cost_and_loss(chance, missed):
    """Today or never: go if the chance is 1 - C / L or more (Murphy 1977).

    C is a day waited and the deadline missed, L the sheet; never below the least chance.
    """
    stakes = replace(STAKES, deadline_missed=missed)
    got = weighed(start(0, chance), finish=TODAY, stakes=stakes)
    needs = max(1.0 - (20.0 + missed) / 1000.0, value("planning", "least_chance_go"))
    assert got.wait == pytest.approx(20.0 + missed)
    assert got.needs_chance == pytest.approx(needs)
    assert got.goes == (chance >= got.needs_chance)
    assert got.go == pytest.approx((1.0 - chance) * 1000.0)
    assert not got.calls


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.booleans(), st.floats(0.0, 1.6))
def test_going_is_no_dearer_than_waiting(today, tomorrow, called, by):
    """It goes only where it costs no more, and always where it does not and may."""
    got = weighed(start(0, today), start(1, tomorrow), error=Told(by), called=called)
    if got.goes:
        assert got.go <= got.wait + 1e-6
        assert today >= value("planning", "least_chance_go")
    else:
        assert got.go > got.wait - 1e-6 or today < value("planning", "least_chance_go")


def test_two_days_by_hand():
    """Nothing to learn, 0.9 tomorrow: go or 0.1 of a sheet, or 20 and the deadline, 150.

    From tomorrow on the cheaper is 100, so waiting costs 120, and 0.88 is needed today.
    """
    got = weighed(start(0, 0.85), start(1, 0.9), finish=TODAY + dt.timedelta(days=1))
    assert got.wait == pytest.approx(120.0)
    assert got.needs_chance == pytest.approx(0.88)
    assert (got.go, got.goes, got.calls) == (pytest.approx(150.0), False, True)
    assert weighed(start(0, 0.89), start(1, 0.9), finish=TODAY + dt.timedelta(days=1)).goes


def test_a_crew_in_the_yard_costs_more_to_send_home():
    """Called: not to go costs the way home instead of a day; without a start today, a day."""
    plain = weighed(start(0, 0.8), finish=TODAY)
    called = weighed(start(0, 0.8), finish=TODAY, called=True)
    assert called.wait - plain.wait == pytest.approx(100.0 - 20.0)
    none_today = [weighed(start(1, 0.8), called=x).wait for x in (False, True)]
    assert none_today[0] == none_today[1]


def test_nothing_today_is_nothing_to_go_on():
    """Without a start today there is nothing to go to, whatever it costs to wait."""
    got = weighed(start(1, 0.99), start(2, 0.9))
    assert got.go is None
    assert not got.goes
    assert got.calls


def test_the_crew_is_called_for_tomorrow_only():
    """A calm day after tomorrow is no reason to have anybody here tomorrow."""
    assert not weighed(start(0, 0.1), start(2, 0.99)).calls
    assert not weighed(start(0, 0.1), start(1, 0.1), start(2, 0.99)).calls


def test_days_between_the_file_and_the_last_day_count():
    """A file of four days and ten to finish: less to fear than if the file were all.

    Common sense, no source: more days like the last three leave more mornings to try.
    """
    stakes = replace(STAKES, deadline_missed=900.0)
    over, more = (
        weighed(
            *(start(k, 0.75) for k in range(4)),
            error=Told(0.8),
            finish=TODAY + dt.timedelta(days=last),
            stakes=stakes,
        ).wait
        for last in (3, 10)
    )
    assert more < over - 1.0


def test_forecasts_to_come_are_those_of_the_evening_and_of_dawn():
    """From now to half a day before, and from there to an hour before; today is over."""
    told = Told()
    weighed(start(0, 0.5), start(1, 0.5), start(3, 0.5), error=told)
    assert told.asked == [
        pytest.approx(x) for x in ((1.0, 0.5), (0.5, 0.05), (3.0, 0.5), (0.5, 0.05))
    ]


def test_on_the_night_before_only_dawn_is_left_to_learn():
    """Issued at nine in the evening, nine hours before: no evening to come."""
    told = Told()
    weighed(start(1, 0.5), error=told, issued=pd.Timestamp("2026-05-04T21:00", tz=ZONE))
    assert told.asked == [
        (pytest.approx(0.375), pytest.approx(0.375)),
        (pytest.approx(0.375), 0.05),
    ]


def test_one_certain_weather_has_nothing_to_learn():
    """Without a table of errors the chances stay as they are: as with one of no moves."""
    days = [start(k, chance) for k, chance in enumerate((0.0, 1.0, 0.0))]
    assert weighed(*days) == weighed(*days, error=Told(0.0))


def test_a_sheet_that_costs_little_is_not_sent_out_for_less_than_the_least_chance():
    """Where going wrong costs less than waiting the least chance is what counts."""
    cheap = start(0, 0.71, loss=50.0)
    got = weighed(cheap, finish=TODAY)
    assert got.needs_chance == value("planning", "least_chance_go")
    assert got.goes
    assert not weighed(replace(cheap, chance=0.69), finish=TODAY).goes
    assert weighed(replace(cheap, loss=0.0), finish=TODAY).needs_chance == value(
        "planning", "least_chance_go"
    )
