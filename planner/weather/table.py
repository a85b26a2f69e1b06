"""The one hourly weather table that every reader fills and every model reads.

A time labels the **start** of its hour and is tz-aware UTC. Arrays are
(members, hours): a forecast or a station record is one member.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, Literal, get_args

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LONGEST_FORECAST: Final = 35  # days; no forecast reaches further, longer is a record

Origin = Literal["given", "derived", "estimated", "missing"]
WeatherKind = Literal["forecast", "ensemble", "observed"]
GustMeaning = Literal["hour maximum", "10-minute maximum", "none", "not said"]
GUST_MEANINGS: Final[tuple[str, ...]] = get_args(GustMeaning)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of the table: its name, unit, meaning and possible range."""

    name: str
    unit: str
    meaning: str
    low: float
    high: float
    dimension: str = ""
    needed: bool = False


#: The glossary. ``low`` and ``high`` bound what the atmosphere near the ground can do.
COLUMNS: Final[tuple[Column, ...]] = (
    Column(
        name="temp_air",
        unit="degC",
        meaning="air temperature at 1.5 to 2 m",
        low=-60.0,
        high=55.0,
        dimension="temperature",
        needed=True,
    ),
    Column(
        name="temp_dew",
        unit="degC",
        meaning="dew point",
        low=-70.0,
        high=35.0,
        dimension="temperature",
    ),
    Column(
        name="relative_humidity", unit="%", meaning="relative humidity", low=0.0, high=105.0
    ),
    Column(
        name="wind_speed",
        unit="m/s",
        meaning="mean wind at 10 m",
        low=0.0,
        high=60.0,
        dimension="speed",
        needed=True,
    ),
    Column(
        name="wind_gust",
        unit="m/s",
        meaning="largest 3 s gust of the hour at 10 m",
        low=0.0,
        high=100.0,
        dimension="speed",
    ),
    Column(
        name="wind_direction",
        unit="deg",
        meaning="direction the wind comes from",
        low=0.0,
        high=360.0,
        dimension="angle",
    ),
    Column(
        name="wind_speed_aloft",
        unit="m/s",
        meaning="mean wind at 80 to 120 m",
        low=0.0,
        high=90.0,
        dimension="speed",
    ),
    Column(
        name="precipitation",
        unit="mm",
        meaning="rain and melted snow in the hour",
        low=0.0,
        high=200.0,
        dimension="rain",
    ),
    Column(
        name="precipitation_probability",
        unit="%",
        meaning="chance of rain in the hour",
        low=0.0,
        high=100.0,
    ),
    Column(name="cloud_cover", unit="%", meaning="sky covered", low=0.0, high=100.0),
    Column(name="ghi", unit="W/m2", meaning="sunlight on level ground", low=-10.0, high=1500.0),
    Column(
        name="pressure",
        unit="Pa",
        meaning="air pressure",
        low=50_000.0,
        high=110_000.0,
        dimension="pressure",
    ),
    Column(name="thunder", unit="-", meaning="1 where thunder is forecast", low=0.0, high=1.0),
)
COLUMN: Final = {column.name: column for column in COLUMNS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something that was found, assumed or doubted; ``code`` is for programs."""

    code: str
    text: str
    doubt: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherPlace:
    """Where the weather is for: degrees north and east, metres above the sea."""

    latitude: float | None = None
    longitude: float | None = None
    elevation: float | None = None
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weather:
    """Hourly weather, evenly spaced, without gaps in time (missing hours hold NaN).

    Attributes
    ----------
    times : pandas.DatetimeIndex, shape (hours,)
        Starts of the hours, UTC.
    values : dict of str to numpy.ndarray, shape (members or 1, hours)
        By column name, units as in ``COLUMNS``; read-only.
    weights : numpy.ndarray, shape (members,)
        Adding up to 1 [-].
    kind : {"forecast", "ensemble", "observed"}
        What the numbers are.
    origin : dict of str to {"given", "derived", "estimated", "missing"}
        Where each column came from; every column of ``COLUMNS`` has an entry.
    issued : pandas.Timestamp or None
        When the forecast was made, UTC; None for observations.
    issued_from : str
        How the issue time is known: "column", "option", "file", "first hour" or "".
    place : WeatherPlace
        Where it is for.
    format : str
        Name of the format it was read with.
    credit : str
        Whom to name on every face.
    gust_meaning : str
        What the gust column holds.
    gust_resolution : float
        Step to which gusts are rounded [m/s].
    label : str
        What a time of the file labelled: "start" or "end" of the hour, or "closes".
    zone : str
        The clock in which its times stood, "" if each carried its offset from UTC.
    fetched : pandas.Timestamp or None
        When a service gave it, UTC; None where the file does not say.
    stale : str
        Why it is an old copy of what a service has, "" if it is none.
    notes : tuple of Note
        What reading found, assumed or doubts.
    """

    times: pd.DatetimeIndex
    values: dict[str, Floats]
    weights: Floats
    kind: WeatherKind
    origin: dict[str, Origin]
    issued: pd.Timestamp | None = None
    issued_from: str = ""
    place: WeatherPlace = field(default_factory=WeatherPlace)
    format: str = ""
    credit: str = ""
    gust_meaning: GustMeaning = "not said"
    gust_resolution: float = 0.0
    label: str = ""
    zone: str = ""
    fetched: pd.Timestamp | None = None
    stale: str = ""
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        for array in (*self.values.values(), self.weights):
            array.setflags(write=False)

    @property
    def members(self) -> int:
        """How many possible weathers the table holds."""
        return len(self.weights)

    @property
    def hours(self) -> int:
        """How many hours the table spans."""
        return len(self.times)

    def has(self, name: str) -> bool:
        """Say whether a column holds any number at all."""
        return self.origin.get(name, "missing") != "missing"

    def between(self, first: pd.Timestamp, last: pd.Timestamp) -> Weather:
        """Give the hours that begin in a stretch of time, all the rest as it is.

        Parameters
        ----------
        first, last : pandas.Timestamp
            The stretch; an hour that begins at ``last`` is not in it.

        Returns
        -------
        Weather
            With at least one hour, whatever the stretch.
        """
        begin = min(int(self.times.searchsorted(first)), self.hours - 1)
        end = max(int(self.times.searchsorted(last)), begin + 1)
        if (begin, end) == (0, self.hours):
            return self
        values = {name: array[:, begin:end].copy() for name, array in self.values.items()}
        return replace(self, times=self.times[begin:end], values=values)
