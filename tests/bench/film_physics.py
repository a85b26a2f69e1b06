"""How long film temperature, slack and tension take, against one numpy exp() pass.

Run it on a quiet machine::

    python tests/bench/film_physics.py

Asked for: film temperature and slack of 500 members x 240 hours in at most 4 times one
``numpy.exp`` over the same array; a year of hourly tension of one member well under half
a second, 500 members x 240 hours under one.
"""

from __future__ import annotations

import statistics
import time
import tracemalloc

import numpy as np

from planner.film.slack import slack_mm
from planner.film.temperature import film_temperature
from planner.film.tension import tension

MEMBERS, HOURS, YEAR = 500, 240, 8760
ROUNDS, FEW = 200, 7
THICKNESS = 150e-6


def seconds(work):
    """Time one call [s]."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def compare(works, rounds):
    """Median time of each, the works taking turns [s], and ratios to the first [-]."""
    times = {name: [] for name in works}
    for _ in range(rounds):
        for name, work in works.items():
            times[name].append(seconds(work))
    first = next(iter(times.values()))
    ratios = {
        name: statistics.median(a / b for a, b in zip(own, first, strict=True))
        for name, own in times.items()
    }
    return {name: statistics.median(own) for name, own in times.items()}, ratios


def grown(work):
    """Memory a call needs at its peak [MB]."""
    tracemalloc.start()
    work()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak / 1e6


def main():
    """Print medians, ratios and memory."""
    draw = np.random.default_rng(1)
    shape = (MEMBERS, HOURS)
    air, wind = draw.uniform(-5, 35, shape), draw.uniform(0, 8, shape)
    sun, sky = draw.uniform(0, 900, (1, HOURS)), draw.uniform(250, 400, shape)
    film = film_temperature(air, wind, sun, sky)
    hours = np.arange(YEAR)
    year = 10 + 15 * np.sin(hours * 2 * np.pi / YEAR) + 10 * np.sin(hours * 2 * np.pi / 24)

    def both():
        return slack_mm(7.0, film_temperature(air, wind, sun, sky), stress_free=35.0)

    def ten_days():
        return tension(film, stress_free=35.0, thickness=THICKNESS)

    medians, ratios = compare(
        {
            "numpy exp": lambda: np.exp(air),
            "film temperature": lambda: film_temperature(air, wind, sun, sky),
            "slack": lambda: slack_mm(7.0, film, stress_free=35.0),
            "film temperature and slack": both,
        },
        ROUNDS,
    )
    for name, median in medians.items():
        print(f"{name:32} {median * 1e3:8.2f} ms   {ratios[name]:5.2f} x exp")
    medians, _ = compare(
        {
            "tension, 1 member, a year": lambda: tension(
                year, stress_free=35.0, thickness=THICKNESS
            ),
            "tension, 500 members, 10 days": ten_days,
        },
        FEW,
    )
    for name, median in medians.items():
        print(f"{name:32} {median * 1e3:8.1f} ms")
    size = film.nbytes / 1e6
    print(f"one array                        {size:8.2f} MB")
    print(f"film temperature and slack, peak {grown(both):8.2f} MB")
    print(f"tension, peak                    {grown(ten_days):8.2f} MB")


if __name__ == "__main__":
    main()
