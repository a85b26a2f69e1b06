"""The phases of a window, cell by cell."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

from planner.plan.records import Plan
from planner.report import words as say
from planner.report.answer.phase_rows import phase_rows
from planner.report.words import Words
from tests.report.made_chances import starts_later


def words_for(plan: Plan, units: str = "us") -> Words:
    return Words(units=units, time_zone=plan.time_zone)


def test_every_phase_in_its_place(plan: Plan) -> None:
    """Clock, minutes and hands are the window's own; one certain weather has no range."""
    window = plan.decision.window
    assert window is not None
    rows = phase_rows(plan, window, words_for(plan))
    assert [x.name for x in rows] == [x.phase for x in window.phases]
    assert [x.hands for x in rows] == [x.hands for x in window.phases]
    total = (window.end - window.start).total_seconds() / 60.0
    assert abs(sum(x.minutes for x in rows) - total) <= len(rows)
    assert {x.low_high for x in rows} == {""}
    assert {x.chance for x in rows} == {""}


def test_a_limit_at_the_sheet_and_in_the_hand() -> None:
    """Both in the reader's unit: 1 m/s is 2.237 mph (NIST SP 811)."""
    plan = starts_later()
    window = plan.decision.window
    assert window is not None
    us, si = (phase_rows(plan, window, words_for(plan, units)) for units in ("us", "si"))
    for row, other, phase in zip(us, si, window.phases, strict=True):
        if math.isfinite(phase.gust_limit):
            assert abs(float(row.limit) - phase.gust_limit * 2.237) < 0.06
            assert abs(float(other.hand_limit) - phase.hand_limit) < 0.06
        assert row.chance.endswith("of 100")
        assert " to " in row.low_high


def test_a_phase_without_a_limit_says_so() -> None:
    """A dash stands for no limit, and no sign goes with it."""
    plan = starts_later()
    window = plan.decision.window
    assert window is not None
    free = replace(
        window.phases[0], gust_limit=math.inf, hand_limit=math.inf, beaufort=math.nan
    )
    [row, *_] = phase_rows(
        plan, replace(window, phases=(free, *window.phases[1:])), words_for(plan)
    )
    assert (row.limit, row.hand_limit, row.sign) == ("-", "-", "")


def test_a_phase_after_midnight_names_its_day() -> None:
    """Once, where the day changes; not for phases of the window's own day."""
    plan = starts_later()
    window = plan.decision.window
    assert window is not None
    words = words_for(plan)
    assert [x.new_day for x in phase_rows(plan, window, words)] == [""] * len(window.phases)
    night = words.date(window.start) + dt.timedelta(days=1)
    day = dt.timedelta(days=1)
    late = tuple(
        replace(x, start=x.start + day, end=x.end + day) if at else x
        for at, x in enumerate(window.phases)
    )
    rows = phase_rows(plan, replace(window, phases=late), words)
    assert [x.new_day for x in rows] == ["", say.day(night), *[""] * (len(late) - 2)]


def test_a_steady_wind_stops_the_work_too() -> None:
    """Beside the gust where it binds before it does; a steady wind above it says nothing."""
    plan = starts_later()
    window = plan.decision.window
    assert window is not None
    hand = window.phases[0].hand_limit
    for steady, said in ((0.7 * hand, True), (1.2 * hand, False), (math.nan, False)):
        phases = (replace(window.phases[0], hand_mean_limit=steady), *window.phases[1:])
        [row, *_] = phase_rows(plan, replace(window, phases=phases), words_for(plan, "si"))
        assert row.in_the_hand == (f"{hand:.1f} / {steady:.1f}" if said else f"{hand:.1f}")


def test_a_gust_beyond_the_limit_is_marked() -> None:
    """What is expected in the middle is held against the limit, not read past it."""
    plan = starts_later()
    window = plan.decision.window
    assert window is not None
    phase = window.phases[0]
    for times, marked in ((0.9, False), (1.1, True)):
        middle = times * phase.gust_limit
        gusty = replace(phase, gust=(0.5 * middle, middle, 2.0 * middle))
        rows = phase_rows(
            plan, replace(window, phases=(gusty, *window.phases[1:])), words_for(plan)
        )
        assert rows[0].too_much is marked
