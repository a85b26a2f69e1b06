"""Why: costs in the job's money, what would change the answer, what follows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.plan.records import Change, Plan
from planner.report.answer.why import why
from planner.report.words import Words
from tests.report.made_chances import (
    CASES,
    costs_less,
    go,
    likely,
    low_chance,
    no_last_day,
    starts_later,
    weighed,
)


def said(plan: Plan, units: str = "us") -> str:
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    return "\n".join(why(plan, words))


def test_costs_are_in_the_job_s_money() -> None:
    """1872 and 521 to two figures, a sign before the number, a word behind it."""
    plan = costs_less()
    assert "Going costs $1,900 on average, waiting $520." in said(plan)
    stakes = replace(plan.job.stakes, money="kr")
    kroner = replace(plan, job=replace(plan.job, stakes=stakes))
    assert "Going costs 1,900 kr on average, waiting 520 kr." in said(kroner)
    euros = replace(plan, job=replace(plan.job, stakes=replace(stakes, money="€")))
    assert "1,900 EUR" in said(euros)


def test_costs_of_another_day_are_not_set_against_today() -> None:
    """What a window of another day costs is no price of going now."""
    assert "Going costs" not in said(starts_later())
    assert "Going costs" not in said(CASES["unweighed"]())


def test_the_least_chance_is_told_before_the_costs() -> None:
    """300 is less than 500, yet under 70 of 100 nobody goes, whatever the costs."""
    assert "Under 70 of 100 nobody is sent out." in said(low_chance())
    assert "nobody" not in said(costs_less())
    dear = replace(low_chance().decision, go_cost=900.0)
    assert "nobody is sent out.  Going costs" in said(replace(low_chance(), decision=dear))


def test_two_more_people_and_another_day() -> None:
    """Five hold it now; with seven it is another chance."""
    found = said(costs_less())
    assert "With 7 people: 86 of 100.  Fri May 2 6:30 am: 47 of 100." in found


def test_people_who_change_nothing_are_left_out() -> None:
    """The same chance with more hands is not worth a line."""
    plan = go()
    same = (Change(what="people", to=7, chance=0.912),)
    assert "people" not in said(
        replace(plan, decision=replace(plan.decision, would_change=same))
    )


def test_today_is_said_once() -> None:
    """The best start left today, as another day than the window's, is told in one line."""
    windows = (likely("2031-05-01 06:15", 0.81, 1), likely("2031-04-29 17:15", 0.55, 2))
    found = said(weighed(windows, codes=("starts-later",)))
    assert found.count("55 of 100") == 1
    assert "The best start left today holds in 55 of 100." in found


@pytest.mark.parametrize(("name", "is_said"), [("no last day", True), ("low chance", False)])
def test_without_a_last_day_waiting_costs_only_days(name: str, is_said: bool) -> None:
    """Nothing is missed where there is no last day."""
    assert ("No last day is set, so waiting costs only days." in said(CASES[name]())) is is_said


def test_a_later_window_without_a_last_day_says_so_too() -> None:
    """The hold may come from nothing pressing."""
    plan = no_last_day()
    later = replace(starts_later(), job=plan.job)
    assert "waiting costs only days" in said(later)
    assert "waiting costs only days" not in said(replace(go(), job=starts_later().job))


def test_a_slow_crew_is_told_where_it_matters() -> None:
    """15 in a hundred less is clearly less, 5 is not."""
    slow = (likely("2031-05-01 06:15", 0.81, 1, slow_chance=0.6),)
    assert "With a slow crew it holds in 60 of 100" in said(weighed(slow, codes=()))
    assert "slow crew" not in said(starts_later())


def test_what_is_left_alone_has_its_chance() -> None:
    """The finished sheet stands to 30 mph; that is enough in 62 of 100."""
    found = said(CASES["too windy after"]())
    assert "it stands to 30.0 mph; for 24 h that is enough in 62 of 100." in found
    assert "Left alone" not in said(go())


def test_no_window_names_the_trouble_and_its_share() -> None:
    """Without a window the best start there is says what stops it, and how often."""
    found = said(CASES["no hours"]())
    assert (
        "Against the best start there is: a gust over 4.0 mph at Fri May 2 7:00 am, "
        "in 97 of 100." in found
    )
