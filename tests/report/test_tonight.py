"""What stands when the crew is gone."""

from __future__ import annotations

from dataclasses import replace

from planner.report.words import Words
from planner.report.yard.tonight import tonight
from tests.report.test_page import real


def test_what_is_up_and_what_will_be() -> None:
    """Both gusts, both chances, and the doors."""
    plan = real(0)
    window = plan.decision.window
    assert window is not None
    assert window.leave_gust is not None
    words = Words(units="si", time_zone=plan.time_zone)
    text = " ".join(tonight(plan, words))
    assert "What is up now stands to" in text
    assert f"Left alone after the work it stands to {window.leave_gust:.1f} m/s" in text
    assert "Doors shut" in text
    none = replace(plan, decision=replace(plan.decision, window=None))
    assert "after the work" not in " ".join(tonight(none, words))


def test_one_certain_weather_gives_no_chance() -> None:
    """A gust, but not how likely it is."""
    plan = real(4)
    assert plan.weather.members == 1
    assert "of 100" not in " ".join(tonight(plan, Words(units="us", time_zone="UTC")))
