"""How chances and costs are written."""

from __future__ import annotations

import re
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from planner.report.chances import brief_trouble, money, needed, trouble, two_costs
from planner.report.words import Words
from tests.report.conftest import ZONE
from tests.report.made_chances import trouble as a_reason

US = Words(units="us", time_zone=ZONE)


def number(text: str) -> float:
    return float(re.sub(r"[^\d.]", "", text))


@given(st.floats(0.0, 0.999), st.floats(0.0, 1.0))
def test_needed_is_above_the_chance_and_enough(chance: float, needs: float) -> None:
    """In hundredths: above the chance as it is written, and no less than what it takes."""
    found = needed(chance, needs)
    assert found > round(100 * chance)
    assert found >= 100 * needs - 1e-4


@given(st.floats(0.01, 1e7))
def test_money_is_within_a_twentieth(amount: float) -> None:
    """Two figures are off by one part in twenty at most."""
    assert abs(number(money(amount, "$")) - amount) <= 0.05 * amount + 1e-12


@given(st.floats(1.0, 1e6), st.floats(0.02, 10.0))
def test_costs_that_differ_are_told_apart(first: float, more: float) -> None:
    """Two per cent apart are three figures apart, and in the right order."""
    low, high = two_costs(first, first * (1.0 + more), "$")
    assert number(low) < number(high)


def test_equal_costs_are_equal() -> None:
    """Nothing is made up between two costs that are the same."""
    assert two_costs(286.2, 286.2, "EUR") == ("286 EUR", "286 EUR")


def test_nothing_costs_nothing() -> None:
    """A certain window has no cost of going."""
    assert money(0.0, "$") == "$0"


def test_trouble_counts_only_what_may_fail() -> None:
    """A share of nothing or of all of them is not counted out."""
    when = "2031-05-01 07:00"
    said = {x: trouble(a_reason(when, share=x), US) for x in (0.0, 0.004, 0.5, 1.0)}
    bare = "a gust over 4.0 mph at Thu May 1 7:00 am"
    assert said == {
        0.0: bare, 0.004: f"{bare}, in 1 of 100", 0.5: f"{bare}, in 50 of 100", 1.0: bare
    }  # fmt: skip


def test_too_few_hands_are_too_few_in_any_weather() -> None:
    """No count of weathers beside "in any wind"."""
    hopeless = replace(a_reason("2031-05-01 07:00", share=0.75), bound=0.0)
    assert trouble(hopeless, US) == "too few hands to pull over in any wind"


def test_brief_trouble_by_quantity() -> None:
    """Winds without their unit, everything else as it is said elsewhere."""
    when = "2031-05-01 07:00"
    on = a_reason(when).at.tz_convert(ZONE).date()
    said = {
        x: brief_trouble(a_reason(when, x), US, on=on)
        for x in ("gust", "mean_wind", "heat", "rain", "thunder", "no data")
    }
    assert said == {
        "gust": "gust over 4.0, 7:00 am",
        "mean_wind": "wind over 4.0, 7:00 am",
        "heat": "heat over 35 F, 7:00 am",
        "rain": "rain from 7:00 am",
        "thunder": "thunder at 7:00 am",
        "no data": "no data",
    }
