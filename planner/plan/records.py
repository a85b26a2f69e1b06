"""The finished plan: numbers and codes, no members and no words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

    from planner.film.sheet import Hardware, Sheet
    from planner.hours.records import StepWindows, Window
    from planner.job.records import Job, Step
    from planner.weather.table import Note

Answer = Literal["go", "hold", "no-go", "no-data"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnState:
    """Where one column of the weather came from, and how many hours it was filled for."""

    name: str
    origin: str
    hours: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherState:
    """What the plan used of the weather file."""

    format: str
    kind: str
    credit: str
    first: pd.Timestamp
    last: pd.Timestamp
    issued: pd.Timestamp | None
    issued_from: str
    members: int
    hours: int
    columns: tuple[ColumnState, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LightDay:
    """Light of one local day; None where the sun or the work light does not come or go."""

    day: dt.date
    sunrise: pd.Timestamp | None
    sunset: pd.Timestamp | None
    begin: pd.Timestamp | None
    end: pd.Timestamp | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPlan:
    """A step that is still to do, and what the hours say about it."""

    step: Step
    found: StepWindows


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The one answer for the job.

    ``codes`` say why: "starts-today", "starts-later", "no-window", "not-covered",
    "past-finish", "all-done". ``look_again`` is when a newer forecast is worth reading.
    """

    answer: Answer
    step: str | None
    window: Window | None
    look_again: pd.Timestamp | None
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything a face shows about one job and one weather file.

    ``make_safe`` is the time to keep in hand for making a loose roof sheet safe [min].
    """

    job: Job
    now: pd.Timestamp
    time_zone: str
    weather: WeatherState
    notes: tuple[Note, ...]
    steps: tuple[StepPlan, ...]
    decision: Decision
    light: tuple[LightDay, ...]
    sheets: tuple[Sheet, ...]
    hardware: Hardware
    make_safe: float
