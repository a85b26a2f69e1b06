"""Windows: calm spells for a step, one a spell, best first.

A window is named by its best start and gives the range of starts that hold.
Neighbouring starts of the same spell are never listed as separate windows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.holds import phase_chance, sheet_factor, starts_that_hold
from planner.hours.leaving import down_by, left_alone
from planner.hours.reasons import binding
from planner.hours.records import HourRow, PhaseTime, StepWindows, Window, at_most_in
from planner.hours.spans import QUARTER, QUARTERS, clock, paces, slowest, spans
from planner.hours.spells import find_spells
from planner.reference.tables import value
from planner.site.beaufort import beaufort
from planner.site.wet import is_dry
from planner.site.wind import gust_at_height, hand_meter_factor, mean_from_gust

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from planner.hours.holds import Holds
    from planner.hours.reasons import Binding
    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Pace, Span
    from planner.hours.spells import Spell
    from planner.job.records import Limit, Phase, Step

    Booleans = NDArray[np.bool_]

_LOW_MIDDLE_HIGH: Final = (0.1, 0.5, 0.9)  # shares of possible weathers


def find_windows(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    *,
    starts_every: int = QUARTER,
    allowed: Booleans | None = None,
    holds: Holds | None = None,
) -> StepWindows:
    """Find the windows of a step in the hours of a place.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        The step.
    limits : dict of str to tuple of Limit
        By phase name.
    starts_every : int
        Minutes between starts, a multiple of 15 up to 60 [min].
    allowed : numpy.ndarray of bool, shape (4 * hours,), optional
        The quarter hours at which a start is to be considered at all (not past, not
        after the last day). All by default.
    holds : Holds, optional
        Of the same conditions, step and limits where they are worked out already; the
        minutes between starts are then theirs.

    Returns
    -------
    StepWindows
        Windows that end within the file at the crew's own pace, best first: by chance,
        then by room to the limits less a little for swing of temperature and for days
        ahead, then the earlier. Windows that overlap a better one are left out.
    """
    if holds is None:
        holds = starts_that_hold(conditions, step, limits, starts_every=starts_every)
    every = holds.every // QUARTER
    count = len(conditions.times) * QUARTERS
    open_to = np.ones(count, dtype=bool) if allowed is None else allowed
    starts = _starts(conditions, step, limits, holds)
    within = open_to & (starts.ends <= count)  # quick crews may end in the file, this one not
    spells = find_spells(
        starts.chance[::every],
        starts.bound.margin[::every],
        starts.ends[::every] / every,
        open_to=within[::every],
    )
    found = [
        _window(conditions, limits, starts, _in_quarters(spell, every)) for spell in spells
    ]
    considered = np.flatnonzero(open_to[::every]) * every
    none_because = None
    if not found and len(considered):
        order = (-starts.bound.margin[considered], -starts.chance[considered].round(2))
        none_because = starts.bound.reason(int(considered[np.lexsort(order)[0]]))
    return StepWindows(
        limits=limits,
        windows=_ranked(found, clock(conditions, considered[0])) if found else (),
        hours=_hour_rows(conditions, step, starts, open_to),
        none_because=none_because,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Starts:
    """By quarter hour: chance, that of slow crews, what binds, and when the step ends.

    ``laid`` holds the phases at the crew's own pace, ``at_paces`` those at each pace, on
    dry film and on wet; ``wet`` says which of them counts. ``ends`` are quarter hours.
    """

    step: Step
    chance: Floats
    slow: Floats
    bound: Binding
    wet: Booleans
    ends: Floats
    laid: dict[bool, tuple[Span, ...]]
    at_paces: dict[bool, dict[Pace, tuple[Span, ...]]]


def _starts(
    conditions: Conditions, step: Step, limits: dict[str, tuple[Limit, ...]], holds: Holds
) -> _Starts:
    every = holds.every // QUARTER
    chance, slow = (
        np.repeat(holds.chance(weights), every)
        for weights in (conditions.weights, slowest(conditions))
    )
    wet = np.zeros(len(chance), dtype=bool)
    if "wetness" in conditions.values:
        wet = np.repeat(~is_dry(conditions.middle("wetness")), QUARTERS)
    laid = {x: spans(step, wet=x) for x in (False, True)}
    longest = {x: own[-1].end / QUARTER for x, own in laid.items()}
    return _Starts(
        step=step,
        chance=chance,
        slow=slow,
        bound=binding(conditions, step, limits),
        wet=wet,
        ends=np.arange(len(chance), dtype=float) + np.where(wet, longest[True], longest[False]),
        laid=laid,
        at_paces={
            x: {pace: spans(step, pace=pace.work, wet=x) for pace in paces(conditions)}
            for x in (False, True)
        },
    )


def _in_quarters(spell: Spell, every: int) -> Spell:
    """Count the starts of a spell in quarter hours."""
    return replace(
        spell, best=spell.best * every, first=spell.first * every, last=spell.last * every
    )


def _window(
    conditions: Conditions,
    limits: dict[str, tuple[Limit, ...]],
    starts: _Starts,
    spell: Spell,
) -> Window:
    best, wet = spell.best, bool(starts.wet[spell.best])
    laid, end = starts.laid[wet], float(starts.ends[best])
    hours = slice(best // QUARTERS, int(np.ceil(end / QUARTERS)))
    alone = left_alone(conditions, laid[-1], best)
    laid_last = starts.laid[bool(starts.wet[spell.last])]
    return Window(
        step=starts.step.name,
        rank=0,
        start=clock(conditions, best),
        earliest_start=clock(conditions, spell.first),
        latest_start=clock(conditions, spell.last),
        end=clock(conditions, end),
        down_by=clock(conditions, down_by(conditions, laid, limits, best)),
        last_down_by=clock(conditions, down_by(conditions, laid_last, limits, spell.last)),
        chance=float(starts.chance[best]),
        slow_chance=float(starts.slow[best]),
        margin=float(starts.bound.margin[best]),
        reason=starts.bound.reason(best),
        phases=tuple(
            _phase_time(
                conditions,
                {pace: own[at] for pace, own in starts.at_paces[wet].items()},
                limits[span.phase.name],
                span=span,
                best=best,
            )
            for at, span in enumerate(laid)
        ),
        leave_gust=alone.survives,
        leave_chance=alone.chance,
        leave_worst=alone.worst,
        leave_fails=None if alone.fails is None else clock(conditions, alone.fails * QUARTERS),
        heat_index=_hottest(conditions, hours),
        swing=_swing(conditions, hours),
    )


def _swing(conditions: Conditions, hours: slice) -> float:
    """Change of film or air over some hours and the next in the middle member [K]."""
    film = "temp_film" in conditions.values
    over = conditions.middle("temp_film" if film else "temp_air")
    over = over[hours.start : hours.stop + 1]
    return float(over.max() - over.min())


def _hottest(conditions: Conditions, hours: slice) -> float | None:
    """Highest heat index of some hours in the middle member, None where it is not known."""
    if "heat_index" not in conditions.values:
        return None
    over = conditions.middle("heat_index")[hours]
    return float(np.nanmax(over)) if np.isfinite(over).any() else None


def _phase_time(
    conditions: Conditions,
    at_paces: dict[Pace, Span],
    own: tuple[Limit, ...],
    *,
    span: Span,
    best: int,
) -> PhaseTime:
    """Give one phase of a window; its clock and its gusts are those at the crew's own pace."""
    phase = span.phase
    first = best + span.begin / QUARTER
    last = best + span.end / QUARTER
    hours = slice(int(first // QUARTERS), max(int(np.ceil(last / QUARTERS)), 1))
    gust = conditions.values["gust"][:, hours].max(axis=1)
    gust = gust * sheet_factor(conditions, phase.height, "gust")
    weights = conditions.weights if len(gust) > 1 else np.ones(1)
    low, middle, high = at_most_in(gust, weights, _LOW_MIDDLE_HIGH)
    bound = min((x.bound for x in own if x.quantity == "gust"), default=float("nan"))
    return PhaseTime(
        phase=phase.name,
        start=clock(conditions, first),
        end=clock(conditions, last),
        chance=phase_chance(conditions, phase, own, at_paces=at_paces, start=best),
        gust=(low, middle, high),
        gust_limit=bound,
        hand_limit=bound * _in_the_hand(conditions, phase),
        hand_mean_limit=_mean_limit(own) * _mean_in_the_hand(conditions, phase),
        beaufort=float(beaufort(_wind_at_limit(conditions, phase, own))),
        hands=phase.hands,
    )


def _in_the_hand(conditions: Conditions, phase: Phase) -> float:
    """Gust at a meter held up over gust at the sheet [-]."""
    if conditions.site_ratio is not None:
        return 1.0  # the ratio was read with the meter in the hand
    height = value("planning", "meter_height")
    return conditions.once(
        ("hand", phase.height), lambda: hand_meter_factor(height, phase.height)
    )


def _mean_in_the_hand(conditions: Conditions, phase: Phase) -> float:
    """Mean wind at a meter held up over that at the sheet [-]."""
    sheet = sheet_factor(conditions, phase.height, "mean_wind")
    return sheet_factor(conditions, value("planning", "meter_height"), "mean_wind") / sheet


def _mean_limit(own: tuple[Limit, ...]) -> float:
    """Lowest limit of the mean wind at the sheet, NaN where there is none [m/s]."""
    bounds = [x.bound for x in own if x.quantity == "mean_wind" and np.isfinite(x.bound)]
    return min(bounds, default=float("nan"))


def _wind_at_limit(conditions: Conditions, phase: Phase, own: tuple[Limit, ...]) -> float:
    """Mean wind at 10 m at which the phase stops, NaN where no wind is limited [m/s].

    Where the mean reaches its limit, or where gusts may reach theirs. A yard that is
    calmer than open ground has calmer signs too, so its own ratio does not raise it.
    """

    def least(quantity: str) -> float:
        return min((x.bound for x in own if x.quantity == quantity), default=float("inf"))

    at_sheet = max(
        sheet_factor(conditions, phase.height, "gust"), float(gust_at_height(1.0, phase.height))
    )
    mean = least("mean_wind") / sheet_factor(conditions, phase.height, "mean_wind")
    gusty = float(mean_from_gust(least("gust") / at_sheet, conditions.ground, upper=True))
    return min(mean, gusty) if np.isfinite(min(mean, gusty)) else float("nan")


def _ranked(found: list[Window], first: pd.Timestamp) -> tuple[Window, ...]:
    """Put windows in order and leave out those that overlap a better one.

    Chances count in steps of what a few hundred drawn weathers leave open.
    """

    def worth(window: Window) -> tuple[float, float, pd.Timestamp]:
        ahead = (window.start - first).total_seconds() / 86_400.0
        room = (
            min(window.margin, 1.0)
            - value("planning", "swing_weight") * window.swing
            - value("planning", "lead_weight") * ahead
        )
        steps = round(window.chance / value("planning", "chance_noise"))
        return (-steps, -round(room, 1), window.start)

    kept: list[Window] = []
    for window in sorted(found, key=worth):
        if all(window.start >= k.end or window.end <= k.start for k in kept):
            kept.append(replace(window, rank=len(kept) + 1))
    return tuple(kept)


def _hour_rows(
    conditions: Conditions, step: Step, starts: _Starts, open_to: Booleans
) -> tuple[HourRow, ...]:
    local = conditions.times.tz_convert(conditions.time_zone)
    gust = conditions.middle("gust") * sheet_factor(
        conditions, max(phase.height for phase in step.phases), "gust"
    )
    temp = conditions.middle("temp_air")
    film = conditions.middle("temp_film") if "temp_film" in conditions.values else None
    light = conditions.light_left[value("work_rules", "light_work")]
    return tuple(
        HourRow(
            time=time,
            chance=float(starts.chance[hour * QUARTERS]),
            open_to=bool(open_to[hour * QUARTERS]),
            reason=starts.bound.reason(hour * QUARTERS),
            gust_at_sheet=float(gust[hour]),
            temp_air=float(temp[hour]),
            film_temp=None if film is None else float(film[hour]),
            work_light_left=max(float(light[hour * QUARTERS]), 0.0),
        )
        for hour, time in enumerate(local)
    )
