"""Hours drawn as text: '#' calm, '.' too windy, '?' no data, 'r' calm with rain."""

import datetime as dt

import numpy as np
import pandas as pd

from planner.hours.records import Conditions
from planner.job.records import Limit, Phase, Step

CALM, WINDY, BOUND = 1.0, 5.0, 3.0
LUX = 53.8


def limit(quantity="gust", bound=BOUND, side="at most", **changes):
    """Make a limit like one worked out from what people hold."""
    given = {"scale": bound or 1.0, "kind": "worked out", "source": "test"} | changes
    return Limit(quantity=quantity, side=side, bound=bound, **given)


def step(*minutes, wet="damp", names=None, light="work"):
    """Make a step of phases with these minutes, at 10 m so that wind is taken as it is."""
    names = names or [f"phase {at}" for at in range(len(minutes))]
    return Step(
        name="roof sheet",
        sheet="roof",
        phases=tuple(
            Phase(
                name=name,
                minutes=float(length),
                hands=4,
                loose_area=100.0,
                drag=0.5,
                height=10.0,
                gust_ceiling=10.0,
                wet=wet,
                light=light,
            )
            for name, length in zip(names, minutes, strict=True)
        ),
    )


def hours(*drawings, first="2026-05-04T00:00Z", zone="UTC", pace=(), **values):
    """Make conditions of one or more members from drawings of equal length."""
    gust = np.array(
        [[{"#": CALM, "r": CALM, ".": WINDY, "?": np.nan}[c] for c in d] for d in drawings]
    )
    rain = np.array([[1.0 if c == "r" else 0.0 for c in d] for d in drawings])
    count = gust.shape[1]
    times = pd.date_range(first, periods=count, freq="h", tz="UTC").as_unit("ns")
    days = list(
        pd.date_range(times[0].tz_convert(zone).date(), times[-1].tz_convert(zone).date()).date
    )
    nat = np.full(len(days), np.datetime64("NaT", "ns"))
    ever = np.full(4 * count, np.inf)
    return Conditions(
        times=times,
        time_zone=zone,
        values={"gust": gust, "rain": rain, "temp_air": np.full_like(gust, 15.0)} | values,
        weights=np.full(len(drawings), 1.0 / len(drawings)),
        days=tuple(dt.date(d.year, d.month, d.day) for d in days),
        light_begin=nat,
        light_end=nat,
        sunrise=nat,
        sunset=nat,
        light_left={LUX: ever},
        crew_left=ever,
        pace=np.asarray(pace, dtype=float),
    )
