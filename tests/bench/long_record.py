"""Fourteen years of hourly records: reading them, then hours and windows of five steps.

    python tests/bench/long_record.py FILE...

With no files, makes a record in the KNMI layout first and says so. Prints medians and
the ratio of everything to reading alone.
"""

import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from planner.hours.conditions import conditions_for
from planner.hours.holds import starts_that_hold
from planner.hours.house import with_steps
from planner.hours.limits import limits_for
from planner.job.jobfile import read_job
from planner.weather.read import read_weather

ROOT = Path(__file__).parents[2]
TURNS = 5
HOURS = 126_240


def made_up_record(folder: Path) -> Path:
    """Write a record of 14.4 years in the KNMI layout with drawn numbers."""
    draw = np.random.default_rng(1)
    times = pd.date_range("2011-01-01", periods=HOURS, freq="h")
    mean = np.round(np.abs(draw.normal(4, 2, HOURS))) * 10
    columns = {
        "# STN": np.full(HOURS, 999),
        "YYYYMMDD": times.strftime("%Y%m%d"),
        "HH": times.hour + 1,
        "DD": draw.integers(1, 37, HOURS) * 10,
        "FH": mean.astype(int),
        "FX": (mean * 1.6).round(-1).astype(int),
        "T": (100 + 80 * np.sin(times.hour / 24 * 6.28)).astype(int),
        "TD": np.full(HOURS, 50),
        "RH": np.where(draw.random(HOURS) < 0.1, 5, 0),
        "N": draw.integers(0, 9, HOURS),
        "U": np.full(HOURS, 80),
        "O": np.zeros(HOURS, dtype=int),
    }
    path = folder / "record.txt"
    path.write_text("\n".join(["MADE UP"] * 10) + "\n\n", encoding="utf-8")
    pd.DataFrame(columns).to_csv(path, mode="a", index=False)
    return path


def run(files: list[str]) -> None:
    """Print medians of reading and of all, and their ratio."""
    with tempfile.TemporaryDirectory() as folder:
        if not files:
            files = [str(made_up_record(Path(folder)))]
            print("no files given: a made-up record")
        job = with_steps(read_job(ROOT / "data/larkfield.toml"))
        steps = [replace(step, done=False) for step in job.steps][:5]
        limits = {step.name: limits_for(job, step) for step in steps}
        wanted = {x.quantity for own in limits.values() for y in own.values() for x in y}
        reading, rest, by_step = [], [], {}
        for _ in range(TURNS):
            start = time.perf_counter()
            weather = read_weather(files)
            read = time.perf_counter()
            conditions = conditions_for(job, weather, wanted=wanted)
            for step in steps:
                held = starts_that_hold(
                    conditions, step, limits[step.name], starts_every=job.starts_every
                )
                by_step[step.name] = float(held.ok.mean())
            reading.append(read - start)
            rest.append(time.perf_counter() - read)
    read_s, rest_s = statistics.median(reading), statistics.median(rest)
    print(f"{weather.hours} hours: reading {read_s:.2f} s, hours and windows {rest_s:.2f} s")
    print(f"all / reading {(read_s + rest_s) / read_s:.2f}  (at most 2)")
    for name, share in by_step.items():
        print(f"  {name:18} {share:.1%} of starts hold")


if __name__ == "__main__":
    run(sys.argv[1:])
