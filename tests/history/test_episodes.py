"""Stretches of days played again by a plain loop, and by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.history.episodes import play
from planner.history.mornings import DAYS, Morning
from planner.job.records import Stakes

STAKES = Stakes(sheet_lost=200.0, deadline_missed=100.0, day_waited=4.0, sent_home=4.0)
FIRST = dt.date(2030, 5, 1)


def morning(day: int, **more) -> Morning:
    """Nobody goes and nothing holds, unless changed."""
    plain = {
        "day": FIRST + dt.timedelta(days=day),
        "month": 12 * 2030 + 4,
        "known": True,
        "goes": (False,) * DAYS,
        "planner": None,
        "plain": None,
        "held": False,
        "by_hour": {},
    }
    return Morning(**(plain | more))


def by_name(mornings, stakes=STAKES):
    return {policy.name: policy for policy in play(mornings, stakes=stakes)}


def test_three_mornings_by_hand():
    """The first, the fourth and the eighth day have a forecast: one stretch, from the first.

    The planner goes on the fourth with five days left and is caught: three days waited and
    the sheet. The plain rule goes at once and it holds. Hindsight waits for the eighth.
    """
    days = [
        morning(0, goes=(True,) * 7 + (False,), planner=0.0, plain=0.0),
        morning(3, goes=(False,) * 4 + (True,) + (False,) * 3, planner=200.0, plain=200.0),
        morning(7, goes=(True,) * 8, planner=0.0, held=True),
    ]
    found = by_name(days)
    assert all(policy.episodes == 1 for policy in found.values())
    planner, plain, best = (found[x] for x in ("planner", "plain rule", "hindsight"))
    assert planner.cost == pytest.approx((3 * 4 + 200) / 200)
    assert (planner.done, planner.caught, planner.missed) == (0.0, 1.0, 0.0)
    assert planner.days_waited == 3.0
    assert (plain.cost, plain.done, plain.days_waited) == (0.0, 1.0, 0.0)
    assert best.cost == pytest.approx(7 * 4 / 200)
    assert (best.done, best.days_waited) == (1.0, 7.0)
    usual = found["climatology"]  # no other month tells it anything: it never goes
    assert usual.cost == pytest.approx((8 * 4 + 100) / 200)
    assert (usual.missed, usual.days_waited) == (1.0, 8.0)


def test_a_stretch_needs_eight_days_and_a_known_outcome():
    """It starts on every day with a forecast; one whose outcome is not known spoils it."""
    days = [morning(day) for day in range(12)]
    assert by_name(days)["planner"].episodes == 5
    days[8] = morning(8, known=False)
    assert by_name(days)["planner"].episodes == 1
    del days[8]  # no forecast on that day: it is waited
    assert by_name(days)["planner"].episodes == 5
    none = by_name(days[:7])["planner"]
    assert none.episodes == 0
    assert math.isnan(none.cost)
    assert math.isnan(none.done)


# Every rule as a plain loop -----------------------------------------------------------

costs = st.sampled_from([0.0, 60.0, 200.0])
hours = st.dictionaries(st.integers(7, 10), costs, max_size=4)


@st.composite
def histories(draw) -> list[Morning]:
    """Three weeks over two months, some without a forecast, some not known."""
    found = []
    for day in sorted(draw(st.sets(st.integers(22, 42), min_size=12))):
        best = draw(st.none() | costs)
        found.append(
            morning(
                day,
                month=12 * 2030 + (4 if day < 31 else 5),
                known=draw(st.sampled_from([True] * 9 + [False])),
                goes=tuple(best is not None and draw(st.booleans()) for _ in range(DAYS)),
                planner=best,
                plain=draw(st.none() | costs),
                held=draw(st.booleans()),
                by_hour=draw(hours),
            )
        )
    return found


def goes_by_the_calendar(day: Morning, left: int, usual: dict[int, float]) -> float | None:
    """Going in the hour that is best elsewhere, against the best of all plans of waiting."""
    there = [hour for hour in day.by_hour if hour in usual]
    if not there:
        return None
    hour = min(there, key=lambda x: usual[x])
    # Waiting: some days and then that hour, or all the days and the deadline.
    plans = [STAKES.day_waited * x + usual[hour] for x in range(1, left)]
    plans.append(STAKES.day_waited * left + STAKES.deadline_missed)
    return day.by_hour[hour] if usual[hour] <= min(plans) else None


def loop(mornings: list[Morning], name: str) -> list[tuple[float, str, int]]:
    """Cost, end and days waited of every stretch."""
    days = {day.day: day for day in mornings}
    found = []
    for first in days:
        stretch = [days.get(first + dt.timedelta(days=x)) for x in range(DAYS)]
        if first + dt.timedelta(days=DAYS - 1) > mornings[-1].day:
            continue
        if any(day is not None and not day.known for day in stretch):
            continue
        cost = 0.0
        for waited, day in enumerate(stretch):
            went = None if day is None else rule(name, day, DAYS - waited, mornings)
            if went is not None:
                found.append((cost + went, "done" if went == 0.0 else "caught", waited))
                break
            cost += STAKES.day_waited
        else:
            found.append((cost + STAKES.deadline_missed, "missed", DAYS))
    return found


def rule(name: str, day: Morning, left: int, mornings: list[Morning]) -> float | None:
    if name == "planner":
        return day.planner if day.goes[left - 1] else None
    if name == "plain rule":
        return day.plain
    if name == "hindsight":
        return 0.0 if day.held else None
    lists: dict[int, list[float]] = {}
    for other in mornings:
        if other.month != day.month:
            for hour, cost in other.by_hour.items():
                lists.setdefault(hour, []).append(cost)
    usual = {hour: sum(x) / len(x) for hour, x in lists.items()}
    return goes_by_the_calendar(day, left, usual)


@settings(max_examples=15, deadline=None)
@given(mornings=histories())
def test_every_rule_costs_what_a_loop_finds(mornings):
    """Means over the stretches, in sheets lost; shares that add up."""
    for name, policy in by_name(mornings).items():
        wanted = loop(mornings, name)
        assert policy.episodes == len(wanted)
        if not wanted:
            assert math.isnan(policy.cost)
            continue
        many = len(wanted)
        assert policy.cost == pytest.approx(sum(x[0] for x in wanted) / many / 200.0)
        assert policy.days_waited == pytest.approx(sum(x[2] for x in wanted) / many)
        for end in ("done", "caught", "missed"):
            share = sum(x[1] == end for x in wanted) / many
            assert getattr(policy, end) == pytest.approx(share)
        assert policy.done + policy.caught + policy.missed == pytest.approx(1.0)


@settings(max_examples=15, deadline=None)
@given(mornings=histories())
def test_nobody_beats_hindsight(mornings):
    """Where a start costs a sheet or nothing, and a day held whenever one of its starts did."""

    def sheet(cost: float | None) -> float | None:
        return None if cost is None else 200.0 * (cost > 0.0)

    told = []
    for day in mornings:
        by_hour = {hour: sheet(cost) for hour, cost in day.by_hour.items()}
        planner, plain = sheet(day.planner), sheet(day.plain)
        held = day.held or 0.0 in (planner, plain, *by_hour.values())
        told.append(
            dataclasses.replace(day, planner=planner, plain=plain, by_hour=by_hour, held=held)
        )
    found = by_name(told)
    if found["hindsight"].episodes:
        best = found["hindsight"].cost
        assert all(policy.cost >= best - 1e-9 for policy in found.values())
