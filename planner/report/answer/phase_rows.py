"""The phases of a window as every face lists them, each cell in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.report import words as say
from planner.site.beaufort import beaufort_sign

if TYPE_CHECKING:
    from planner.hours.records import PhaseTime, Window
    from planner.plan.records import Plan, StepPlan
    from planner.report.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseRow:
    """One phase: when, how many hands, the gust expected against the limit and its origin.

    Attributes
    ----------
    new_day : str
        The day on which it begins, "" for that of the phase before or of the window.
    clock, name : str
        When it begins and what it is.
    minutes : int
        How long it takes [min].
    hands : int
        How many people it takes [-].
    gust, low_high : str
        At the sheet in the middle possible weather, and in 8 of 10 of them; "" where
        there is one certain weather. Without unit.
    limit, hand_limit, hand_mean, sign : str
        Gust limit at the sheet and as a meter in the hand reads it, without unit, "-" for
        none; the limit of the steady wind in the hand, "-" where none is below that of
        gusts; what a wind at the limit looks like, "" for none.
    too_much : bool
        Whether the gust expected is beyond the limit.
    origin : str
        Where the limit comes from.
    chance : str
        ``"96 of 100"``, "" in one certain weather.
    """

    new_day: str
    clock: str
    name: str
    minutes: int
    hands: int
    gust: str
    low_high: str
    limit: str
    hand_limit: str
    hand_mean: str
    sign: str
    too_much: bool
    origin: str
    chance: str

    @property
    def in_the_hand(self) -> str:
        """Both limits in the hand, ``"9.4 / 6.7"``; one of them, or "-" for none."""
        return (
            self.hand_limit
            if self.hand_mean == "-"
            else f"{self.hand_limit} / {self.hand_mean}"
        )


def phase_rows(plan: Plan, window: Window, words: Words) -> tuple[PhaseRow, ...]:
    """Put the phases of a window into words.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    window : Window
        One of its windows.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of PhaseRow
        In the order in which they are done.
    """
    here = plan.step(window.step)
    many = plan.weather.members > 1
    days = [words.date(x) for x in (window.start, *(x.start for x in window.phases))]
    return tuple(
        _row(here, phase, words, many=many, new_day="" if day == before else say.day(day))
        for phase, before, day in zip(window.phases, days, days[1:], strict=False)
    )


def _row(
    here: StepPlan, phase: PhaseTime, words: Words, *, many: bool, new_day: str
) -> PhaseRow:
    low, middle, high = phase.gust
    limited = math.isfinite(phase.gust_limit)
    seen = math.isfinite(phase.beaufort)
    steady = math.isfinite(phase.hand_mean_limit) and not (
        limited and phase.hand_mean_limit >= phase.hand_limit
    )
    return PhaseRow(
        new_day=new_day,
        clock=words.clock(phase.start),
        name=phase.phase,
        minutes=round(phase.minutes),
        hands=phase.hands,
        gust=words.amount(middle, "gust", unit=False),
        low_high=f"{words.amount(low, 'gust', unit=False)} to "
        f"{words.amount(high, 'gust', unit=False)}"
        if many
        else "",
        limit=words.amount(phase.gust_limit, "gust", unit=False) if limited else "-",
        hand_limit=words.amount(phase.hand_limit, "gust", unit=False) if limited else "-",
        hand_mean=words.amount(phase.hand_mean_limit, "gust", unit=False) if steady else "-",
        too_much=limited and middle > phase.gust_limit,
        sign=beaufort_sign(int(phase.beaufort)) if seen else "",
        origin=_origin(here, phase, words),
        chance=say.of_100(phase.chance) if many else "",
    )


def _origin(here: StepPlan, phase: PhaseTime, words: Words) -> str:
    limits = [x for x in here.found.limits.get(phase.phase, ()) if x.quantity == "gust"]
    governing = next((x for x in limits if x.governs), None)
    if governing is None:
        return "no gust limit"
    return words.origin(governing, others=tuple(x for x in limits if not x.governs))
