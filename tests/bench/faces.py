"""How long each face of a plan takes once the plan is there, and how large it is.

    python tests/bench/faces.py

Medians over turns on the demo's plan, in one process; the first turn, which imports and
compiles, is told apart.
"""

import statistics
import time
from pathlib import Path

from planner.job.jobfile import read_job
from planner.plan.make import make_plan
from planner.report.save import SUFFIXES, plan_file
from planner.weather.read import read_weather

DATA = Path(__file__).parents[2] / "data"
TURNS = 9


def run() -> None:
    """Print the first and the median time and the size of each face."""
    plan = make_plan(read_job(DATA / "larkfield.toml"), read_weather(DATA / "forecast.csv"))
    for suffix in SUFFIXES:
        times = []
        for _ in range(TURNS):
            start = time.perf_counter()
            made = plan_file(plan, suffix, units="us")
            times.append(1000.0 * (time.perf_counter() - start))
        middle = statistics.median(times[1:])
        print(f"{suffix:<6} first {times[0]:6.0f} ms, then {middle:6.1f} ms, {len(made):>7} B")


if __name__ == "__main__":
    run()
