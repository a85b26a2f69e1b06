"""Windows, steps and what a decision may ask, made by hand."""

from dataclasses import replace

import pandas as pd

from planner.hours.records import Reason, StepWindows, Window
from planner.plan.decide import Asked
from planner.plan.outlook import DayStart
from planner.plan.records import OrderedStep, Sequence, StepPlan
from tests.hours.drawn import step as made_step

ZONE = "America/Chicago"
DONE = '[steps."end wall north"]\ndone = true\n[steps."end wall south"]\ndone = true\n'
#: 1000 a sheet, 20 a day, 100 sent home, 300 missed.
STAKES = """
[stakes]
sheet_lost = 1000
day_waited = 20
sent_home = 100
deadline_missed = 300
"""
WALL, ROOF = "end wall north", "roof sheet"


def at(clock, day=4):
    """Give a time of May 2026 by the clock of the place."""
    return pd.Timestamp(f"2026-05-{day:02d}T{clock}", tz=ZONE)


NOW = at("04:00")


class Told:
    """Stands for a table of errors from which nothing more is learned."""

    def still_open(self, lead, later):
        """Give no move."""
        return 0.0


def reason(quantity="gust"):
    """Make what binds."""
    return Reason(
        quantity=quantity,
        side="at most",
        value=5.0,
        bound=4.0,
        unit="m/s",
        at=NOW,
        phase="pull over",
        share=1.0,
    )


def window(start, chance=0.9, *, name=ROOF, rank=1, hours=3, leave=None, around=0):
    """Make a window; ``around`` hours before its start is the earliest."""
    return Window(
        step=name,
        rank=rank,
        start=start,
        earliest_start=start - pd.Timedelta(hours=around),
        latest_start=start,
        end=start + pd.Timedelta(hours=hours),
        down_by=start + pd.Timedelta(hours=hours),
        chance=chance,
        slow_chance=chance,
        margin=0.3,
        reason=reason(),
        phases=(),
        swing=2.0,
        leave_chance=leave,
    )


def plan_of(*windows, name=ROOF, sheet="roof", after=(), because=None, loss=1000.0):
    """Make a step with these windows, best first; each day's best start is among them."""
    best = {}
    for one in windows:
        best.setdefault(one.start.date(), one)
    days = tuple(
        DayStart(day=day, start=best[day].start, quarter=0, chance=best[day].chance, loss=loss)
        for day in sorted(best)
    )
    step = replace(made_step(60), name=name, sheet=sheet, after=after)
    found = StepWindows(limits={}, windows=windows, hours=(), none_because=because)
    return StepPlan(step=step, found=found, days=days)


def asked(now=NOW, *, error=None, issued=NOW, stands=None, order=(), more=0.95):
    """Make what the rest of the plan can be asked."""
    steps = tuple(
        OrderedStep(step=name, start=start, end=start + pd.Timedelta(hours=1), chance=0.9)
        for name, start in order
    )
    return Asked(
        now=now,
        issued=issued,
        error=Told() if error else None,
        ordered=lambda _: Sequence(
            steps=steps, chance_as_listed=0.8, chance_all=0.9, missing=()
        ),
        with_people=lambda name, people, day: more,
        stands=lambda until: stands,
    )
