"""Five steps in 500 possible weathers of ten days, against a bare numpy pass.

Run it on a quiet machine::

    python tests/bench/members.py

The bare pass: for each phase of each step one threshold, a cumulative sum and one
comparison over an array of gusts at the quarter hours. Asked for: starts and windows of
all steps, reasons included, in well under 300 ms and 60 MB. Prints medians of turns taken
one after the other, ratios, and the memory that a turn needs at its peak.
"""

import statistics
import time
import tracemalloc
from dataclasses import replace
from pathlib import Path

import numpy as np

from planner.hours.conditions import conditions_for
from planner.hours.holds import starts_that_hold
from planner.hours.house import with_steps
from planner.hours.limits import limits_for
from planner.hours.spans import QUARTER, QUARTERS, draw_paces
from planner.hours.windows import find_windows
from planner.job.jobfile import read_job
from planner.weather.read import read_weather

ROOT = Path(__file__).parents[2]
MEMBERS, TURNS = 500, 11
#: Scatter that stands for drawn weathers, one standard deviation.
SCATTER = {"wind_gust": 1.0, "wind_speed": 0.6, "temp_air": 1.5, "temp_dew": 1.5}


def scattered(weather):
    """Make members by adding to a forecast what is the same all along and what is not."""
    draw = np.random.default_rng(1)
    shape = (MEMBERS, weather.hours)
    values = dict(weather.values)
    for name, size in SCATTER.items():
        noise = draw.normal(size=(MEMBERS, 1)) + draw.normal(size=shape)
        least = 0.0 if name.startswith("wind") else -np.inf
        values[name] = np.maximum(values[name] + size * noise / np.sqrt(2.0), least)
    values["precipitation"] = values["precipitation"] * draw.uniform(0.0, 2.0, shape)
    weights = np.full(MEMBERS, 1.0 / MEMBERS)
    return replace(weather, values=values, weights=weights, kind="ensemble")


def bare(gust, steps, limits):
    """Make the pass that everything is measured against."""
    for step in steps:
        for phase in step.phases:
            bound = min(x.bound for x in limits[step.name][phase.name] if x.quantity == "gust")
            kept = np.cumsum(gust <= bound, axis=1)
            touched = max(int(phase.minutes // QUARTER), 1)
            np.equal(kept[:, touched:] - kept[:, :-touched], touched)


def run():
    """Print medians, ratios and memory."""
    job = with_steps(read_job(ROOT / "data/larkfield.toml"))
    steps = [replace(step, done=False) for step in job.steps[1:]]
    limits = {step.name: limits_for(job, step) for step in steps}
    weather = scattered(read_weather(ROOT / "data/forecast.csv"))
    pace = draw_paces(MEMBERS, 1)
    every = job.starts_every
    gust = np.repeat(weather.values["wind_gust"], QUARTERS, axis=1)
    times = {"bare pass": [], "conditions": [], "starts that hold": [], "windows": []}
    found = {}
    for turn in range(TURNS + 1):
        marks = [time.perf_counter()]
        bare(gust, steps, limits)
        marks.append(time.perf_counter())
        conditions = conditions_for(job, weather, pace=pace)
        marks.append(time.perf_counter())
        holds = {
            x.name: starts_that_hold(conditions, x, limits[x.name], starts_every=every)
            for x in steps
        }
        marks.append(time.perf_counter())
        for step in steps:
            found[step.name] = find_windows(
                conditions, step, limits[step.name], holds=holds[step.name]
            )
        marks.append(time.perf_counter())
        if turn:  # the first one imports
            for name, took in zip(times, np.diff(marks), strict=True):
                times[name].append(took)
    phases = sum(len(step.phases) for step in steps)
    print(f"{MEMBERS} members, {weather.hours} hours, {len(steps)} steps, {phases} phases")
    for name, took in times.items():
        ratio = statistics.median(a / b for a, b in zip(took, times["bare pass"], strict=True))
        print(f"{name:18} {statistics.median(took) * 1e3:7.1f} ms  {ratio:5.2f} x bare")
    both = [a + b for a, b in zip(times["starts that hold"], times["windows"], strict=True)]
    print(f"starts and windows {statistics.median(both) * 1e3:7.1f} ms  (well under 300)")
    print(f"windows found      {sum(len(x.windows) for x in found.values()):7}")
    conditions = conditions_for(job, weather, pace=pace)
    tracemalloc.start()
    for step in steps:
        find_windows(conditions, step, limits[step.name], starts_every=every)
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(f"memory             {peak / 1e6:7.1f} MB at its peak, {kept / 1e6:.1f} kept")


if __name__ == "__main__":
    run()
