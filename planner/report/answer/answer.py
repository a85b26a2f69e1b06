"""The answer: one word, what it is about, how far it can be relied on, and who to call."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from planner.reference.tables import value
from planner.report import words as say
from planner.report.chances import holds, needed, trouble

if TYPE_CHECKING:
    from planner.hours.records import Window
    from planner.job.records import Job
    from planner.plan.records import Plan
    from planner.report.words import Words

_AGAINST: Final = {
    "low-chance": "too few of the possible weathers hold",
    "waiting-costs-less": "waiting is likely to cost less",
    "old-forecast": "the forecast is too old to go on",
    "leave-gust": "what is up would not stand what follows",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """The answer in words.

    Attributes
    ----------
    word : str
        ``"GO"``, ``"HOLD"``, ``"NO-GO"``, ``"NO DATA"`` or ``"DONE"``.
    headline : str
        What it is about, and when to look again.
    start : str
        When to start, "" without a window.
    holds : tuple of str
        How far that can be relied on.
    up : tuple of str
        Whether what is up already stands until then.
    """

    word: str
    headline: str
    start: str = ""
    holds: tuple[str, ...] = ()
    up: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """All that stands beside the word."""
        start = (self.start,) if self.start else ()
        return (self.headline, *start, *self.holds, *self.up)


def answer(plan: Plan, words: Words) -> Answered:
    """Write the answer and what stands beside it.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    Answered
        The word, what it is about, when to start, the chance, what is up.
    """
    decision, window = plan.decision, plan.decision.window
    if "all-done" in decision.codes:
        done = "Nothing is left: every step is done or skipped."
        return Answered(word="DONE", headline=done)
    word, headline = say.ANSWERS[decision.answer], _headline(plan, words)
    if window is None:
        return Answered(word=word, headline=headline)
    start, *holds = _window(plan, window, words)
    return Answered(
        word=word,
        headline=headline,
        start=start,
        holds=tuple(holds),
        up=tuple(_left_up(plan, window, words)),
    )


def _headline(plan: Plan, words: Words) -> str:
    decision = plan.decision
    step = decision.step or "film"
    again = decision.look_again
    look = f"  Look again {words.moment(again)}." if again is not None else ""
    if "old-forecast" in decision.codes and again is not None and again <= plan.now:
        look = "  Look again at once, with a newer forecast."
    if decision.answer == "go":
        left = {here.step.name: here.step for here in plan.steps}
        before = [name for name in left[step].after if name in left]
        first = f", after {' and '.join(before)}" if before else ""
        return f"{step[:1].upper()}{step[1:]} today{first}."
    if "past-finish" in decision.codes and plan.job.finish_by:
        return f"The last day to finish, {say.day(plan.job.finish_by)}, is over.{look}"
    if decision.answer == "no-data":
        return f"The weather file does not say enough for the {step}.{look}"
    against = [_against(code, plan) for code in _AGAINST if code in decision.codes]
    if against:
        reasons = " and ".join(x for x in (", ".join(against[:-1]), against[-1]) if x)
        return f"Not the {step} today: {reasons}.{look}"
    if decision.window:
        return f"{_not_today(plan, step, words)}{_call(plan, words)}{look}"
    last = plan.job.finish_by
    covered = last is not None and words.date(plan.weather.last) > last
    until = f" up to {say.day(last)}" if last and covered else " in the hours looked at"
    if plan.on is not None:
        until = f" on {say.day(plan.on)}, the only day looked at"
    return f"No hours for the {step}{until}.{look}"


def _against(code: str, plan: Plan) -> str:
    """Say what speaks against a go, with its chance where that is the reason."""
    window = plan.decision.window
    if code != "leave-gust" or plan.weather.members == 1 or window is None:
        return _AGAINST[code]
    if window.leave_chance is None:
        return _AGAINST[code]
    return f"left alone after it, it stands in only {say.of_100(window.leave_chance)}"


def _not_today(plan: Plan, step: str, words: Words) -> str:
    rivals = [x for y in plan.steps if y.step.name == step for x in y.found.windows]
    if plan.weather.members == 1 and _on(rivals, words.date(plan.now), words):
        return f"Wait with the {step}: a better start than today's is coming."
    return f"No {step} today."


def _call(plan: Plan, words: Words) -> str:
    """Say whether to call the crew for tomorrow."""
    decision = plan.decision
    if plan.weather.members == 1:
        return ""
    tomorrow = words.date(plan.now) + dt.timedelta(days=1)
    if "call-crew" in decision.codes:
        return f"  Call the crew for {say.day(tomorrow)}."
    windows = [x for y in plan.steps if y.step.name == decision.step for x in y.found.windows]
    if decision.stage != "call" or not _on(windows, tomorrow, words):
        return ""
    again = decision.look_again
    yet = " yet" if again is not None and words.date(again) < tomorrow else ""
    return f"  Do not call the crew for {say.day(tomorrow)}{yet}."


def _on(windows: list[Window], day: dt.date, words: Words) -> bool:
    return any(words.date(x.start) == day for x in windows)


def _window(plan: Plan, window: Window, words: Words) -> list[str]:
    """Say when to start, and how far the window can be relied on."""
    decision, day = plan.decision, words.date(window.start)
    start = _start(window, words)
    if decision.answer == "go":
        line = f"S{start[1:]}."
    elif plan.weather.members > 1 and day == words.date(plan.now):
        line = f"Best left today: {start}."
    else:
        line = f"Best so far: {say.day(day)}, {start}."
    sure = holds(window.chance, plan.weather)
    if plan.weather.members == 1 or window.chance >= 1.0:
        return [line, sure, f"Closest to its limit: {words.closest(window.reason, on=day)}."]
    needs = decision.needs_chance
    if decision.answer != "go" and needs is not None and window.chance < needs:
        sure = f"{sure[:-1]}: GO if it reaches {needed(window.chance, needs)}."
    return [line, f"{sure}  Most likely trouble: {trouble(window.reason, words, on=day)}."]


def _start(window: Window, words: Words) -> str:
    first, last = window.earliest_start, window.latest_start
    start = f"start at {words.clock(first)}"
    if first != last:
        on = words.date(window.start)
        start = f"start between {words.span(first, last, join='and', on=on)}"
        if window.start != first:
            start += f", best at {words.clock(window.start)}"
    return f"{start}, {say.duration(window.minutes)}"


def _left_up(plan: Plan, window: Window, words: Words) -> list[str]:
    """Say whether what is up already stands until the window, aloud if it hardly does."""
    stands, gust = plan.decision.stands, stands_to(plan.job)
    if stands is None or gust is None:
        return []
    up = f"hat is up stands to {words.amount(gust, 'gust')}"
    until = words.moment(window.start)
    if stands < value("planning", "least_chance_leave"):
        more = f", and in {say.of_100(1.0 - stands)} more comes before {until}"
        if plan.weather.members == 1:
            more = f"; more is coming before {until}"
        return [f"WATCH OUT: w{up}{more}.  Make it safe."]
    if plan.decision.stage == "leave" and plan.weather.members > 1:
        return [f"W{up}, in {say.of_100(stands)} until {until}."]
    return []


def stands_to(job: Job) -> float | None:
    """Give the gust that what is up stands unattended, None if nothing is up.

    Parameters
    ----------
    job : Job
        With its steps.

    Returns
    -------
    float or None
        That of the last finished step which leaves something standing [m/s].
    """
    up = [step.phases[-1].leave_gust for step in job.steps if step.done]
    return next((gust for gust in reversed(up) if gust is not None), None)
