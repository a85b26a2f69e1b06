"""The finished plan: numbers and codes, no members; words only in its notes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

    from planner.film.sheet import Hardware, Sheet
    from planner.film.slack import PullClass
    from planner.hours.records import StepWindows, Window
    from planner.job.records import Job, Step
    from planner.plan.outlook import DayStart
    from planner.weather.table import Note

Answer = Literal["go", "hold", "no-go", "no-data"]
Stage = Literal["call", "start", "leave"]


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
    fetched: pd.Timestamp | None
    stale: str
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
    """A step that is still to do, and what the hours say about it.

    ``days`` has the best start of each day on which it may start.
    """

    step: Step
    found: StepWindows
    days: tuple[DayStart, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedStep:
    """A step with its place in the order, and the chance that it holds there [-]."""

    step: str
    start: pd.Timestamp
    end: pd.Timestamp
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sequence:
    """The steps in the order in which they are done.

    ``chance_as_listed`` that every step holds at its start and what is up stands every
    wait between; ``chance_all`` that there are hours enough for all, each possible weather
    with its own starts [-]; ``missing`` names steps without a place.
    """

    steps: tuple[OrderedStep, ...]
    chance_as_listed: float
    chance_all: float
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What would change the answer, and the chance that goes with it [-].

    ``what`` is "people" (``to`` so many), "day" (``to`` that start) or "chance" (``to`` the
    chance at which going costs no more than waiting).
    """

    what: Literal["people", "day", "chance"]
    to: int | float | pd.Timestamp
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The one answer for the job.

    ``codes`` say why: "starts-today", "starts-later", "waiting-costs-less", "no-window",
    "not-covered", "past-finish", "all-done", "waits-for-earlier-step", "low-chance",
    "old-forecast", "leave-gust", "call-crew". ``look_again`` is when a newer forecast is
    worth reading. ``stage`` is the price that waiting has: "call" the crew the evening
    before, "start" or send it home, "leave" what is up. ``go_cost`` and ``wait_cost`` are
    what going today, else in the window, and waiting cost on average [money of the stakes],
    ``needs_chance`` the chance at which they meet [-]; None where nothing was weighed.
    ``stands`` is the chance that what is up already stands until the crew is back [-].
    """

    answer: Answer
    step: str | None
    window: Window | None
    look_again: pd.Timestamp | None
    codes: tuple[str, ...]
    stage: Stage | None = None
    go_cost: float | None = None
    wait_cost: float | None = None
    needs_chance: float | None = None
    would_change: tuple[Change, ...] = ()
    stands: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything a face shows about one job and one weather file.

    ``make_safe`` is the time to keep in hand for making a loose roof sheet safe [min];
    ``beyond`` says where slack or tension of a roof sheet locked in its best window
    leaves the band in the days of the weather file. ``order`` is None where only one day
    was looked at. ``seed`` is that of the possible weathers, ``error`` the name of the
    table they were drawn from; None and "" where one certain weather was taken.
    ``use_until`` is when a newer forecast is wanted; None for past or invented weather.
    ``on`` is the only day on which starts were looked at, None for all.
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
    beyond: tuple[Strain, ...]
    order: Sequence | None = None
    seed: int | None = None
    error: str = ""
    use_until: pd.Timestamp | None = None
    on: dt.date | None = None

    def step(self, name: str) -> StepPlan:
        """Give what the hours say of a step that is still to do, by its name."""
        return next(here for here in self.steps if here.step.name == name)

    @property
    def about(self) -> StepPlan | None:
        """The step that the answer is about, None where none is left."""
        return next((x for x in self.steps if x.step.name == self.decision.step), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRow:
    """What the hand does at one film temperature.

    Attributes
    ----------
    film_temp : float
        At the locks [degC].
    pull : dict of str to float
        Past snug by span, negative to leave slack [mm].
    hand : {"slack", "snug", "pull"}
        What that is over the bows.
    sag : float
        Midway between two bows when it is right, 0 where it is pulled [mm].
    lift : float
        That the sheet can rise off the ridge when it is right, 0 where pulled [mm].
    force : float
        With which the hand pulls along each metre of edge, one layer, 0 for slack [N/m].
    against : tuple of str
        Codes of what speaks against pulling at all: "film-cold", "film-hot", "hard-pull".
    """

    film_temp: float
    pull: dict[str, float]
    hand: PullClass
    sag: float
    lift: float
    force: float
    against: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Consequence:
    """What a choice of stress-free film temperature means at a hot and a cold film.

    ``slack`` by span [mm]; ``tension`` as it may be at least, in the middle, at most [N/m];
    ``beyond`` has the codes "slack-hot" and "tension-cold" where that is more than is well.
    """

    stress_free: float
    hot: float
    cold: float
    slack: dict[str, float]
    tension: tuple[float, float, float]
    beyond: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseHour:
    """The locked sheet in one hour.

    ``slack`` by span [mm]; ``tension`` and ``share_of_yield`` at least, in the middle and
    at most [N/m] and [-]; ``share_of_channel`` of the most [-].
    """

    time: pd.Timestamp
    film_temp: float
    slack: dict[str, float]
    tension: tuple[float, float, float]
    share_of_yield: tuple[float, float, float]
    share_of_channel: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Strain:
    """A code for slack or tension beyond what is well, and when it is worst.

    ``code`` is "slack-hot", "tension-cold" or "gust-over-channel"; ``value`` and
    ``allowed`` are in ``unit``, slack over the bows.
    """

    code: str
    at: pd.Timestamp
    value: float
    allowed: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The locked sheet through the coming days; named hours are places in ``hours``.

    ``locked`` is when the last edge is taken to be locked, ``in_window`` whether that is
    in the roof's best window rather than at once. ``gust_tension`` is what the
    largest gust adds while it lasts [N/m], ``end_hoop`` the most that the sheet pulls one
    end bow inwards [N], ``bow`` the highest temperature of a bare bow in the sun [degC].
    """

    locked: pd.Timestamp
    in_window: bool = True
    hours: tuple[CourseHour, ...]
    hottest: int | None
    coldest: int | None
    first_night: int | None
    windiest: int | None
    gust: float
    gust_tension: float
    end_hoop: float
    bow: float
    beyond: tuple[Strain, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PullChart:
    """The chart that the crew takes to the locks: rows by film temperature."""

    stress_free: float
    spans: dict[str, float]
    rows: tuple[ChartRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionPlan:
    """How tight: the chart, what to do now, what the choice means, the coming days.

    ``choices`` has the job's own stress-free temperature in the middle; ``inflation`` is
    what air between two layers adds [N/m]; ``allowed`` the tension that channel or, where
    it is not known, an assumed figure holds [N/m]; ``curtain`` how much a roll-up side
    grows along the house from the coldest film to the hottest [mm]; ``error`` what a
    worked-out film temperature may be off by day and by night, one standard deviation [K].
    """

    job: Job
    chart: PullChart
    now: ChartRow | None
    choices: tuple[Consequence, ...]
    course: Course | None
    inflation: float
    allowed: float
    curtain: float
    error: tuple[float, float]
    channel_known: bool
    time_zone: str
    credit: str
    notes: tuple[Note, ...]
