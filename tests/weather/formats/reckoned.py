"""What a sample means, reckoned apart from the planner: hour by hour, in SI, in plain lists."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd

SAMPLES = Path(__file__).parents[3] / "data" / "samples"
NO = math.nan
MPH = 1609.344 / 3600.0  # m/s


def number(word):
    """A printed number, or none."""
    return NO if word in ("", None) else float(word)


def celsius(fahrenheit):
    """One temperature."""
    return (fahrenheit - 32.0) * 5.0 / 9.0


def before(states, how):
    """States at the ends of hours: each hour from its two ends, the first has only one."""
    return [NO] + [how(a, b) if a == a and b == b else NO for a, b in pairwise(states)]


def after(states, how):
    """States at the starts of hours: each hour from its two ends, the last has only one."""
    return [*before(states, how)[1:], NO]


def mean(a, b):
    """Half of both."""
    return (a + b) / 2.0


def first(a, b):
    """The one at the start."""
    del b
    return a


def gust_of(gusts, winds):
    """A gust is never below the wind of its hour."""
    return [max(g, w) if g == g and w == w else g for g, w in zip(gusts, winds, strict=True)]


def check_hours(weather, begin, **columns):
    """The table has these hours and, column by column, these numbers."""
    hours = len(next(iter(columns.values())))
    expected = pd.date_range(begin, periods=hours, freq="h", tz="UTC")
    assert list(weather.times) == list(expected)
    for name, numbers in columns.items():
        np.testing.assert_allclose(
            weather.values[name][0], numbers, rtol=1e-9, atol=1e-9, err_msg=name
        )
