"""What comes out of comparing weather with limits: conditions, reasons, windows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

import numpy as np

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Hashable, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from planner.job.records import Limit

    Floats = NDArray[np.float64]

Kept = TypeVar("Kept")

_DECIMALS: Final = 9  # sums of the same weights in another order are the same to so many


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
    ground : {"open", "wooded"}
        What surrounds the place.
    site_ratio : float or None
        Gust at the sheet over the 10 m gust, where the job gives one [-].
    pace : numpy.ndarray, shape (members,)
        By which the crew's minutes are multiplied in each possible weather; ones, its
        own pace, where none is given [-].
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
    ground: Literal["open", "wooded"] = "open"
    site_ratio: float | None = None
    pace: Floats = field(default_factory=lambda: np.ones(0))
    _kept: dict[Hashable, Any] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self) -> None:
        if not len(self.pace):
            object.__setattr__(self, "pace", np.ones(len(self.weights)))

    def once(self, key: Hashable, work_out: Callable[[], Kept]) -> Kept:
        """Give what was worked out under a key before, else work it out and keep it."""
        if key not in self._kept:
            self._kept[key] = work_out()
        kept: Kept = self._kept[key]
        return kept

    def middle(self, quantity: str) -> Floats:
        """Give a quantity in the middle possible weather, shape (hours,) [its unit]."""
        return self.once(("middle", quantity), lambda: middle(self.values[quantity]))


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
    gust limit as a meter in the hand reads it, ``hand_mean_limit`` that of the steady wind,
    NaN where there is none [m/s]; ``beaufort`` the number of the 10 m wind at which the
    mean limit is reached or gusts may reach theirs, whichever is less, NaN where there is
    none [-].
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
    hand_mean_limit: float = float("nan")

    @property
    def minutes(self) -> float:
        """How long it takes [min]."""
        return (self.end - self.start).total_seconds() / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A calm spell for a step: when to start, when it ends, what binds.

    ``swing`` is the change of film temperature, or of the air where it is not known, over
    the window [K]; ``film_temp`` the film temperature at the locks, ``film_temp_shaded``
    that on the side away from the sun [degC]; ``pull`` mm past snug by span;
    ``first_night`` the tension in the coldest hour of the night after, at least, in the
    middle and at most [N/m]. ``heat_index`` is the highest of its hours [degC].
    ``slow_chance`` is the chance in the slowest fifth of possible paces, the same as
    ``chance`` where no paces are drawn [-]. ``down_by`` is when to be down after the best
    start, ``last_down_by`` after the last one. ``leave_gust`` is what the state after it
    survives alone [m/s]; ``leave_chance``, ``leave_worst`` and ``leave_fails`` are of
    ``LeftAlone``.
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
    leave_chance: float | None = None
    leave_worst: float = float("nan")
    leave_fails: pd.Timestamp | None = None
    first_night: tuple[float, float, float] | None = None
    last_down_by: pd.Timestamp | None = None

    @property
    def down_later(self) -> pd.Timestamp | None:
        """When to be down after the last start, None if that is when it is anyway."""
        later = self.last_down_by
        return later if later is not None and later > self.down_by else None

    @property
    def minutes(self) -> float:
        """How long it takes from its best start [min]."""
        return (self.end - self.start).total_seconds() / 60.0

    @property
    def tightest(self) -> PhaseTime | None:
        """The phase with the lowest gust limit, None where none has one."""
        limited = [x for x in self.phases if np.isfinite(x.gust_limit)]
        return min(limited, key=lambda x: x.gust_limit, default=None)

    @property
    def steadiest(self) -> PhaseTime | None:
        """The phase with the lowest limit of the steady wind, None where none has one."""
        limited = [x for x in self.phases if np.isfinite(x.hand_mean_limit)]
        return min(limited, key=lambda x: x.hand_mean_limit, default=None)


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
    """Give the middle of the members that have a number, hour by hour.

    Parameters
    ----------
    values : numpy.ndarray, shape (members, hours)
        Of one quantity [any unit].

    Returns
    -------
    numpy.ndarray, shape (hours,)
        NaN only where no member has a number [the same unit].

    Examples
    --------
    >>> middle(np.array([[1.0, np.nan], [3.0, np.nan], [np.nan, np.nan]]))
    array([ 2., nan])
    """
    if len(values) == 1:
        return np.asarray(values[0])
    ordered = np.sort(values, axis=0)  # NaN comes last
    known = len(values) - np.isnan(values).sum(axis=0)
    hours = np.arange(values.shape[1])
    low, high = ordered[np.maximum(known - 1, 0) // 2, hours], ordered[known // 2, hours]
    return np.asarray((low + high) / 2.0)


def share(weights: Floats, holds: NDArray[np.bool_]) -> Floats:
    """Give the weighted share of the members in which something holds.

    Parameters
    ----------
    weights : numpy.ndarray, shape (members,)
        Of the members [-].
    holds : numpy.ndarray of bool, shape (members or 1, ...)
        Whether it does.

    Returns
    -------
    numpy.ndarray, shape (...)
        Rounded, so that all of the members are the whole [-].
    """
    if len(holds) == 1:
        return np.asarray((weights.sum() * holds[0]).round(_DECIMALS))
    # einsum, since a product of matrices of this size waits for threads
    return np.asarray(np.einsum("m,m...->...", weights, holds).round(_DECIMALS))


def at_most_in(values: Floats, weights: Floats, shares: Sequence[float]) -> tuple[float, ...]:
    """Give the numbers that are not passed in given shares of the members.

    Parameters
    ----------
    values : numpy.ndarray, shape (members,)
        Of one quantity; members without a number are left out [any unit].
    weights : numpy.ndarray, shape (members,)
        Of the members [-].
    shares : sequence of float
        Between 0 and 1 [-].

    Returns
    -------
    tuple of float
        For each share the smallest number with at least that share at or below it; NaN
        where no member has a number [the same unit].

    Examples
    --------
    >>> at_most_in(np.array([4.0, 1.0, 2.0, 3.0]), np.full(4, 0.25), (0.5, 0.9))
    (2.0, 4.0)
    """
    known = np.isfinite(values)
    if not known.any():
        return tuple(float("nan") for _ in shares)
    order = np.flatnonzero(known)[np.argsort(values[known])]
    below = np.cumsum(weights[order])
    at = np.searchsorted(below, np.asarray(shares) * below[-1] - 1e-9)
    return tuple(float(number) for number in values[order[at]])
