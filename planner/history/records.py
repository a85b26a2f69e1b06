"""A replay of past forecasts against what happened: numbers only, no words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import pandas as pd

PolicyName = Literal["planner", "plain rule", "climatology", "hindsight"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayAhead:
    """How good the chances of windows were that lay so many days ahead.

    Attributes
    ----------
    days_ahead : int
        Local days from the day of issue, 0 on that day [-].
    cases : int
        Windows scored [-].
    planner : float
        Brier score of the planner's chance, 0 for one that is always right [-].
    plain : float
        Brier score of the forecast taken at its word, 1 or 0 [-].
    climatology : float
        Brier score of the share of windows that held in the months it was taken from [-].
    """

    days_ahead: int
    cases: int
    planner: float
    plain: float
    climatology: float

    @property
    def share(self) -> float:
        """The planner's score over climatology's, NaN where that is nought [-]."""
        return self.planner / self.climatology if self.climatology else math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Tenth:
    """The windows whose chance lay in one tenth of the scale.

    Attributes
    ----------
    low, high : float
        The tenth: from ``low`` up to but without ``high``, the last with it [-].
    cases : int
        Windows in it [-].
    mean_chance : float
        Their chance as it was said, on average; NaN without a case [-].
    share_held : float
        How many of them held; NaN without a case [-].
    """

    low: float
    high: float
    cases: int
    mean_chance: float
    share_held: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """What came of deciding by one rule, morning after morning.

    Attributes
    ----------
    name : {"planner", "plain rule", "climatology", "hindsight"}
        The rule.
    episodes : int
        Stretches of days that were played [-].
    done, caught, missed : float
        Shares of them in which the step got done, the sheet was caught by weather outside
        the limits, and the days went by [-].
    days_waited : float
        On average [d].
    cost : float
        On average, in sheets lost [-].
    """

    name: PolicyName
    episodes: int
    done: float
    caught: float
    missed: float
    days_waited: float
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """Archived forecasts of one place, played for one step against what happened.

    Attributes
    ----------
    job, step : str
        What was played.
    time_zone : str
        Of the place.
    first, last : pandas.Timestamp
        Issue of the first forecast and of the last, UTC.
    issues : int
        Forecasts played [-].
    windows : int
        Windows scored, of all forecasts together [-].
    by_day : tuple of DayAhead
        Scores by days ahead.
    tenths : tuple of Tenth
        How often the windows of each tenth of chance held.
    policies : tuple of Policy
        What the planner, plain rules and hindsight came to.
    costs : dict of str to float
        Of a sheet "caught", of the days "missed", of a day "waited", in sheets lost [-].
    error : str
        The table of forecast errors that the chances were made with.
    fitted_on : str
        What that table was fitted on.
    own_months : bool
        Whether it was fitted on months that are scored here.
    credits : tuple of str
        Of forecasts and of what happened.
    notes : tuple of str
        What a reader of the scores must know.
    """

    job: str
    step: str
    time_zone: str
    first: pd.Timestamp
    last: pd.Timestamp
    issues: int
    windows: int
    by_day: tuple[DayAhead, ...]
    tenths: tuple[Tenth, ...]
    policies: tuple[Policy, ...]
    costs: dict[str, float]
    error: str
    fitted_on: str
    own_months: bool
    credits: tuple[str, ...]
    notes: tuple[str, ...]
