"""Five steps in 500 possible weathers of ten days, against a bare numpy pass.

Run it on a quiet machine::

    python tests/bench/members.py

The bare pass: for each limit of each phase of each step that is met hour by hour, one
threshold, a cumulative sum and one comparison over an array at the quarter hours; "gusts
alone" is the same for gust limits only. Drawing, film temperature, starts and windows with
their reasons are to take at most five times the bare pass, and under 100 MB. Prints
medians of turns taken one after the other, ratios, and the memory of a turn at its peak.
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
from planner.weather.miss.error_file import shipped_error
from planner.weather.miss.members import make_members
from planner.weather.read import read_weather

ROOT = Path(__file__).parents[2]
MEMBERS, TURNS = 500, 11
BARE = ("bare pass", "gusts alone")


def bare(values, steps, limits, *, of):
    """Compare every limit at every quarter hour: threshold, cumulative sum, comparison."""
    for step in steps:
        for phase in step.phases:
            touched = max(int(phase.minutes // QUARTER), 1)
            for limit in limits[step.name][phase.name]:
                if not limit.governs or limit.quantity not in of:
                    continue
                kept = np.cumsum(values[limit.quantity] <= limit.bound, axis=1)
                np.equal(kept[:, touched:] - kept[:, :-touched], touched)


def run():
    """Print medians, ratios and memory."""
    job = with_steps(read_job(ROOT / "data/larkfield.toml"))
    steps = [replace(step, done=False) for step in job.steps[1:]]
    limits = {step.name: limits_for(job, step) for step in steps}
    forecast = read_weather(ROOT / "data/forecast.csv")
    error = shipped_error().at(job.place.latitude, job.place.longitude)
    weather = make_members(forecast, error, count=MEMBERS)
    pace = draw_paces(MEMBERS, 1)
    every = job.starts_every
    values = {
        name: np.repeat(np.broadcast_to(array, (MEMBERS, weather.hours)), QUARTERS, axis=1)
        for name, array in conditions_for(job, weather).values.items()
        if array.shape[1] == weather.hours
    }
    times = {
        name: [] for name in (*BARE, "drawing", "conditions", "starts that hold", "windows")
    }
    found = {}
    for turn in range(TURNS + 1):
        marks = [time.perf_counter()]
        bare(values, steps, limits, of=values)
        marks.append(time.perf_counter())
        bare(values, steps, limits, of={"gust"})
        marks.append(time.perf_counter())
        weather = make_members(forecast, error, count=MEMBERS)
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
    times["all asked for"] = [
        sum(parts) for parts in zip(*(times[x] for x in times if x not in BARE), strict=True)
    ]
    for name, took in times.items():
        ratios = (
            statistics.median(a / b for a, b in zip(took, times[x], strict=True)) for x in BARE
        )
        print(f"{name:18} {statistics.median(took) * 1e3:7.1f} ms", end="")
        print(*(f"  {ratio:6.2f} x {x}" for ratio, x in zip(ratios, BARE, strict=True)))
    print(f"windows found      {sum(len(x.windows) for x in found.values()):7}")
    tracemalloc.start()
    weather = make_members(forecast, error, count=MEMBERS)
    conditions = conditions_for(job, weather, pace=pace)
    for step in steps:
        find_windows(conditions, step, limits[step.name], starts_every=every)
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(f"memory             {peak / 1e6:7.1f} MB at its peak, {kept / 1e6:.1f} kept")


if __name__ == "__main__":
    run()
