"""Plans made by hand with many possible weathers: chances, costs, order, what is up."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from planner.hours.records import Reason, Window
from planner.plan.records import Change, Decision, OrderedStep, Plan, Sequence
from tests.report.conftest import (
    END_WALL,
    JOB,
    MPH,
    at,
    forecast_plan,
    hours,
    phase,
    reason,
    window,
    with_roof,
)

TODAY = "2031-04-29"
UP = replace(END_WALL, done=True, phases=(phase("lock base", 40.0, leave_gust=40.0 * MPH),))


def likely(when: str, chance: float, rank: int, **more: object) -> Window:
    """A window with its chance; the trouble is a gust in 14 of 100."""
    about: dict[str, object] = {
        "chance": chance,
        "slow_chance": chance - 0.05,
        "reason": trouble(when),
        "leave_gust": 30.0 * MPH,
        "leave_chance": 1.0,
    }
    return replace(window(when, rank=rank), **(about | more))


def trouble(when: str, quantity: str = "gust", share: float = 0.14) -> Reason:
    return reason(quantity, when, value=1.2, share=share)


def order(*steps: tuple[str, str, float], **more: object) -> Sequence:
    about: dict[str, object] = {
        "steps": tuple(
            OrderedStep(
                step=name, start=at(when), end=at(when) + dt.timedelta(hours=2), chance=chance
            )
            for name, when, chance in steps
        ),
        "chance_as_listed": 0.61,
        "chance_all": 0.9,
        "missing": (),
    }
    return Sequence(**(about | more))


ORDER = order(
    ("end wall south", "2031-04-29 17:00", 0.93),
    ("roof sheet", "2031-05-01 06:15", 0.81),
)


def weighed(windows: tuple[Window, ...], **decision: object) -> Plan:
    """The invented plan with 500 possible weathers, weighed by the stakes."""
    plan = forecast_plan()
    about: dict[str, object] = {
        "stage": "start",
        "go_cost": 1872.0,
        "wait_cost": 521.0,
        "needs_chance": 0.88,
        "would_change": (
            Change(what="people", to=7, chance=0.86),
            Change(what="chance", to=0.88, chance=windows[0].chance),
            Change(what="day", to=windows[-1].start, chance=windows[-1].chance),
        ),
        "stands": None,
    }
    plan = replace(
        plan,
        weather=replace(plan.weather, members=500),
        order=ORDER,
        seed=7,
        error="Quillet 2030",
    )
    return with_roof(plan, windows, **(about | decision))


LATER = (likely("2031-05-01 06:15", 0.81, 1), likely("2031-05-02 06:30", 0.64, 2))
NOW = (likely("2031-04-29 17:15", 0.64, 1), likely("2031-05-02 06:30", 0.47, 2))
TOMORROW = (likely("2031-04-30 06:15", 0.81, 1), likely("2031-05-02 06:30", 0.64, 2))
EVENING = at("2031-04-29 20:00")


def go() -> Plan:
    return weighed(
        (likely("2031-04-29 17:15", 0.91, 1), *LATER[1:]),
        answer="go",
        codes=("starts-today",),
        look_again=None,
        go_cost=128.1,
        wait_cost=286.2,
    )


def starts_later() -> Plan:
    return weighed(LATER, codes=("starts-later",))


def costs_less() -> Plan:
    return weighed(NOW, codes=("waiting-costs-less",), look_again=EVENING)


def low_chance() -> Plan:
    return weighed(
        NOW, codes=("low-chance",), look_again=EVENING, go_cost=300.0, wait_cost=500.0,
        needs_chance=0.7,
    )  # fmt: skip


def called() -> Plan:
    codes = ("starts-later", "call-crew")
    return weighed(TOMORROW, codes=codes, stage="call", look_again=EVENING)


def not_called() -> Plan:
    return weighed(TOMORROW, codes=("starts-later",), stage="call", look_again=EVENING)


def too_windy_after() -> Plan:
    windows = (replace(NOW[0], chance=0.95, leave_chance=0.62), NOW[1])
    return weighed(windows, codes=("leave-gust",), look_again=EVENING)


def left(stands: float) -> Plan:
    """An end wall is up and would be left until the window."""
    plan = weighed(LATER, codes=("starts-later",), stage="leave", stands=stands)
    return replace(plan, job=replace(plan.job, steps=(UP, JOB.steps[1])))


def missing() -> Plan:
    plan = starts_later()
    found = order(
        ORDER_FIRST, chance_as_listed=0.0, chance_all=0.0, missing=("end wall south",)
    )
    end_wall, roof = plan.steps
    empty = replace(
        end_wall.found, windows=(), none_because=trouble("2031-05-01 09:00", "rain")
    )
    return replace(plan, order=found, steps=(replace(end_wall, found=empty), roof))


ORDER_FIRST = ("roof sheet", "2031-05-01 06:15", 0.81)


def one_step() -> Plan:
    plan = starts_later()
    roof = replace(plan.steps[1], step=replace(plan.steps[1].step, after=()))
    return replace(plan, steps=(roof,), order=order(ORDER_FIRST, chance_all=0.9))


def one_day() -> Plan:
    return replace(starts_later(), order=None)


def no_last_day() -> Plan:
    plan = costs_less()
    return replace(plan, job=replace(plan.job, finish_by=None))


def unweighed() -> Plan:
    """Several possible weathers of an ensemble, without a table of forecast errors."""
    nothing = dict.fromkeys(("go_cost", "wait_cost", "needs_chance"))
    plan = weighed(LATER, codes=("starts-later",), would_change=(), **nothing)
    return replace(plan, seed=None, error="")


def no_hours() -> Plan:
    plan = starts_later()
    end_wall, roof = plan.steps
    because = trouble("2031-05-02 07:00", share=0.97)
    found = replace(roof.found, windows=(), hours=hours(()), none_because=because)
    decision = Decision(
        answer="no-go", step="roof sheet", window=None, look_again=EVENING, codes=("no-window",)
    )
    return replace(
        plan, steps=(end_wall, replace(roof, found=found)), decision=decision, order=None
    )


CASES = {
    "go": go,
    "starts later": starts_later,
    "waiting costs less": costs_less,
    "low chance": low_chance,
    "called": called,
    "not called": not_called,
    "too windy after": too_windy_after,
    "stands": lambda: left(0.95),
    "may fall": lambda: left(0.6),
    "missing": missing,
    "one step": one_step,
    "one day": one_day,
    "no last day": no_last_day,
    "unweighed": unweighed,
    "no hours": no_hours,
}
