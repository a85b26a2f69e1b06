"""What comes out of comparing weather with limits: conditions, reasons, windows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd
    from numpy.typing import NDArray

    from planner.job.records import Limit

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Conditions:
    """The hours of a place, in the quantities that limits are compared with.

    Attributes
    ----------
    times : pandas.DatetimeIndex, shape (hours,)
        Starts of the hours, UTC.
    time_zone : str
        Of the place.
    values : dict of str to numpy.ndarray, shape (members or 1, hours)
        By quantity (``QUANTITIES``); ``gust`` and ``mean_wind`` are at 10 m [m/s].
    weights : numpy.ndarray, shape (members,)
        Adding up to 1 [-].
    light_begin, light_end : numpy.ndarray, shape (days,)
        Work light of each local day, UTC, NaT where there is none.
    sunrise, sunset : numpy.ndarray, shape (days,)
        Of the same local days, UTC, NaT where there is none.
    days : tuple of datetime.date
        The local days that the hours touch.
    light_left : dict of float to numpy.ndarray, shape (4 * hours,)
        By light level [lx]: minutes of it left at each quarter hour, negative in the
        dark [min].
    crew_left : numpy.ndarray, shape (4 * hours,)
        Minutes until the crew stops, negative outside its hours [min].
    estimated : dict of str to numpy.ndarray, shape (hours,)
        True where a column was blank and was filled by a rule.
    roughness : float
        Length that stands for the ground, for the mean wind [m].
    site_ratio : float or None
        Gust at the sheet over the 10 m gust, where the job gives one [-].
    """

    times: pd.DatetimeIndex
    time_zone: str
    values: dict[str, Floats]
    weights: Floats
    days: tuple[dt.date, ...]
    light_begin: NDArray[np.datetime64]
    light_end: NDArray[np.datetime64]
    sunrise: NDArray[np.datetime64]
    sunset: NDArray[np.datetime64]
    light_left: dict[float, Floats]
    crew_left: Floats
    estimated: dict[str, NDArray[np.bool_]] = field(default_factory=dict)
    roughness: float
    site_ratio: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """The limit that binds, in which phase and when.

    ``value`` and ``bound`` are at the sheet, in the quantity's unit; ``share`` is the
    share of possible weathers in which the limit is passed [-]. The quantity
    "no data" means that the weather file does not say.
    """

    quantity: str
    side: Literal["at most", "at least"]
    value: float
    bound: float
    unit: str
    at: pd.Timestamp
    phase: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTime:
    """One phase of a window: its clock times and the gust expected against the limit.

    ``gust`` is (low, middle, high): the 10th, 50th and 90th percentile over possible
    weathers of the largest gust in the phase at the sheet [m/s]. ``hand_limit`` is the
    gust limit as a meter in the hand reads it [m/s], ``beaufort`` the number of the wind
    at which the mean limit is reached, NaN where there is none [-].
    """

    phase: str
    start: pd.Timestamp
    end: pd.Timestamp
    chance: float
    gust: tuple[float, float, float]
    gust_limit: float
    hand_limit: float
    beaufort: float
    hands: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A calm spell for a step: when to start, when it ends, what binds.

    ``swing`` is the change of film temperature, or of the air where it is not known, over
    the window [K]; ``film_temp`` the film temperature at the locks, ``film_temp_shaded``
    that on the side away from the sun [degC]; ``pull`` mm past snug by span;
    ``first_night`` the tension in the coldest hour of the night after, at least, in the
    middle and at most [N/m]. ``heat_index`` is the highest of its hours [degC].
    ``slow_chance`` is the chance at the pace that one crew in ten exceeds [-].
    ``leave_gust`` is what the state after it survives alone, ``leave_worst`` the largest
    gust to come in the file [m/s], ``leave_fails`` when the one first passes the other.
    """

    step: str
    rank: int
    start: pd.Timestamp
    earliest_start: pd.Timestamp
    latest_start: pd.Timestamp
    end: pd.Timestamp
    down_by: pd.Timestamp
    chance: float
    slow_chance: float
    margin: float
    reason: Reason
    phases: tuple[PhaseTime, ...]
    swing: float
    film_temp: float | None = None
    film_temp_shaded: float | None = None
    pull: dict[str, float] | None = None
    heat_index: float | None = None
    leave_gust: float | None = None
    leave_worst: float = float("nan")
    leave_fails: pd.Timestamp | None = None
    first_night: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HourRow:
    """One hour as a start for a step: chance, what binds, what the air is like.

    ``open_to`` is False for a start that is past, too late, or too early for what must
    come before it.
    """

    time: pd.Timestamp
    chance: float
    open_to: bool
    reason: Reason
    gust_at_sheet: float
    temp_air: float
    film_temp: float | None
    work_light_left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWindows:
    """A step with its limits by phase, its windows in order of rank, and its hours.

    ``none_because`` is set where there is no window: what binds at the best start.
    """

    limits: dict[str, tuple[Limit, ...]]
    windows: tuple[Window, ...]
    hours: tuple[HourRow, ...]
    none_because: Reason | None


def middle(values: Floats) -> Floats:
    """Give the middle member, shape (hours,), of an array of (members, hours)."""
    return np.asarray(values[0] if len(values) == 1 else np.median(values, axis=0))
