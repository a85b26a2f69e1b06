"""What every face carries below the answer: cautions, what was assumed, who is credited."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.report.answer.heading import HEADED
from planner.units import show

if TYPE_CHECKING:
    from planner.job.records import Job
    from planner.plan.records import ColumnState, Plan, WeatherState

#: The first of all cautions.
TRUST: Final = "Trust the meter in your hand over this page: past the limit, stop."
ONE_FORECAST: Final = (
    "One forecast taken as it comes: how likely it is to hold is not worked out here."
)
ONE_RECORD: Final = "A record of past weather: every hour is taken as certain."
#: Notes of the reader that say again what is counted here.
COUNTED: Final = frozenset({"gusts_missing", "no_gusts"})
_LEADS: Final = frozenset({"chances-from"})  # a doubt that follows refers to it
_COLUMN: Final = {
    "temp_air": "air temperatures",
    "temp_dew": "dew points",
    "relative_humidity": "humidities",
    "wind_speed": "mean winds",
    "wind_gust": "gusts",
    "wind_direction": "wind directions",
    "wind_speed_aloft": "winds aloft",
    "precipitation": "hours of rain",
    "precipitation_probability": "rain chances",
    "cloud_cover": "cloud covers",
    "ghi": "hours of sunlight",
    "pressure": "pressures",
    "thunder": "hours of thunder",
}


def cautions(job: Job, *, keep_clear: float, units: str) -> tuple[str, ...]:
    """Give the warnings that belong on every face, the overhead line first if there is one.

    Parameters
    ----------
    job : Job
        Says whether there is an overhead line, and how long thunder closes the work.
    keep_clear : float
        How far a throw line stays from an overhead line [m].
    units : {"us", "si"}
        Of the distance.

    Returns
    -------
    tuple of str
        One line each.
    """
    far = show(keep_clear, "length", units, decimals=0)
    overhead = f"Overhead lines: throw no line within {far} of one."
    rest = (
        TRUST,
        "One caller says down.  Nobody else where sheet and lines are pulled.",
        "Wind, ladders, heat, hot metal; film is slippery and gives shocks.",
        thunder(job),
        "Worst to leave: one open end; end walls alone on an unbraced frame.",
        "A plan is not permission: local codes and maker's data come first.",
        "Frame loads are for a licensed engineer; tension is an estimate.",
    )
    if job.place.overhead_line:
        return (overhead, *rest)
    return (rest[0], overhead, *rest[1:])


def thunder(job: Job) -> str:
    """Say what thunder means for the crew.

    Parameters
    ----------
    job : Job
        Says how long it closes the work.

    Returns
    -------
    str
        One sentence; it is one of the cautions too.
    """
    return f"Thunder: off the frame, and {round(job.thunder_wait)} min after the last of it."


def notes(plan: Plan, *, headed: bool = True) -> tuple[str, ...]:
    """Say how the weather was taken, what was filled, and what was doubted or repaired.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    headed : bool
        Whether the face says above how long it may be used, and what copy it rests on.

    Returns
    -------
    tuple of str
        How far the weather can be relied on first, then doubts, then the rest.
    """
    certain = ONE_RECORD if plan.weather.kind == "observed" else ONE_FORECAST
    counted = [x for x in (_filled(y, plan.weather) for y in plan.weather.columns) if x]
    again = {*(COUNTED if counted else ()), "taken-as-it-comes"}
    again |= HEADED if headed else frozenset()
    said = [x for x in plan.notes if x.code not in again]
    return (
        *([certain] if plan.weather.members == 1 else []),
        *counted,
        *(x.text for x in sorted(said, key=lambda x: not (x.doubt or x.code in _LEADS))),
    )


def _filled(column: ColumnState, weather: WeatherState) -> str | None:
    """Say how many numbers of a column were not in the file, or None if all were."""
    name = _COLUMN.get(column.name, column.name.replace("_", " "))
    if column.origin == "given" and column.hours:
        return f"{column.hours} of {weather.hours} {name} are missing in the file and were " + (
            "estimated." if column.name == "wind_gust" else "filled."
        )
    if column.origin == "estimated":
        return f"All {weather.hours} {name} are estimated: the file has none."
    if column.origin == "missing" and column.name == "wind_gust":
        return f"The file has no {name}."
    return None
