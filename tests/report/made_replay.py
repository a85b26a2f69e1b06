"""Replays made by hand: invented place, forecasts and scores."""

from __future__ import annotations

import math

import pandas as pd

from planner.history.records import DayAhead, Policy, Replay, Tenth

NO = math.nan


def tenth(at: int, cases: int, mean_chance: float = NO, share_held: float = NO) -> Tenth:
    return Tenth(
        low=at / 10,
        high=(at + 1) / 10,
        cases=cases,
        mean_chance=mean_chance,
        share_held=share_held,
    )


def policy(name: str, **more: float) -> Policy:
    about: dict[str, float] = {
        "done": 0.73,
        "caught": 0.11,
        "missed": 0.16,
        "days_waited": 2.14,
        "cost": 0.253,
    }
    return Policy(name=name, episodes=367, **(about | more))


def made(**more: object) -> Replay:
    """A replay by hand, with two tenths that no window fell into."""
    about: dict[str, object] = {
        "job": "Larkfield",
        "step": "roof sheet",
        "time_zone": "America/Chicago",
        "first": pd.Timestamp("2030-03-04 03:00", tz="UTC"),
        "last": pd.Timestamp("2031-03-18 12:00", tz="UTC"),
        "issues": 380,
        "windows": 24_317,
        "by_day": (
            DayAhead(days_ahead=0, cases=3_302, planner=0.084, plain=0.123, climatology=0.194),
            DayAhead(days_ahead=1, cases=3_298, planner=0.103, plain=0.142, climatology=0.196),
        ),
        "tenths": (
            tenth(0, 12_345, 0.034, 0.041),
            tenth(1, 3_053, 0.148, 0.152),
            tenth(2, 0),
            tenth(3, 1_972, 0.352, 0.349),
            tenth(4, 0),
            tenth(5, 601, 0.553, 0.518),
            tenth(6, 802, 0.651, 0.633),
            tenth(7, 1_493, 0.738, 0.681),
            tenth(8, 907, 0.846, 0.812),
            tenth(9, 1_004, 0.951, 0.907),
        ),
        "policies": (
            policy("planner"),
            policy(
                "plain rule", done=0.65, caught=0.17, missed=0.18, days_waited=1.61, cost=0.307
            ),
            policy("climatology", cost=0.411, days_waited=0.72),
            policy(
                "hindsight", done=0.84, caught=0.0, missed=0.16, days_waited=1.02, cost=0.102
            ),
        ),
        "costs": {"caught": 1.0, "missed": 0.5, "waited": 0.02},
        "error": "the table that comes with the planner",
        "fitted_on": "13 months of forecasts of one coastal place",
        "own_months": False,
        "credits": ("Forecasts and analysis: an invented service, CC BY 4.0",),
        "notes": ("13 mornings had no forecast.",),
    }
    return Replay(**(about | more))


def blank() -> Replay:
    """Rows are there, numbers are not."""
    return made(
        by_day=(DayAhead(days_ahead=0, cases=0, planner=NO, plain=NO, climatology=NO),),
        policies=tuple(
            policy(name, done=NO, caught=NO, missed=NO, days_waited=NO, cost=NO)
            for name in ("planner", "plain rule", "hindsight")
        ),
        tenths=tuple(tenth(at, 0) for at in range(10)),
        costs={"caught": NO, "missed": 0.5, "waited": 0.02},
    )


def nothing() -> Replay:
    return made(by_day=(), policies=(), tenths=(), costs={}, credits=(), notes=())


def large() -> Replay:
    """Every number as wide as it can get, and names nobody expects."""
    return made(
        job="Larkfield Süd – the long house beyond the orchard, open to the west & < 3 ft off",
        issues=12_345,
        windows=9_876_543,
        by_day=(
            DayAhead(days_ahead=15, cases=999_999, planner=1.0, plain=1.0, climatology=0.0),
        ),
        tenths=tuple(tenth(at, 987_654, at / 10 + 0.05, 1.0) for at in range(10)),
        policies=tuple(
            policy(name, done=1.0, caught=1.0, missed=1.0, days_waited=15.4, cost=1.234)
            for name in ("planner", "plain rule", "climatology", "hindsight")
        ),
        own_months=True,
    )


CASES = {"made": made, "blank": blank, "nothing": nothing, "large": large}
