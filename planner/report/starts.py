"""What comes next: other starts of the step, and the order of all steps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.report import words as say
from planner.report.chances import brief_trouble
from planner.report.why import waits

if TYPE_CHECKING:
    from planner.hours.records import Window
    from planner.plan.records import Plan, Sequence, StepPlan
    from planner.report.words import Words

    #: What a line begins with, and the text that is wrapped beside it.
    Row = tuple[str, str]

_LABEL: Final = 12  # columns before the rows
_NEXT: Final = 3
_NAME: Final = 18


def next_starts(plan: Plan, words: Words) -> list[Row]:
    """Write the best other starts of the step that the answer is about.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    list of tuple of str
        Head and text of each row; empty where there are no others.
    """
    best = plan.decision.window
    many = plan.weather.members > 1
    rest = [
        window
        for x in plan.steps
        if best and x.step.name == best.step
        for window in x.found.windows
        if window.rank != best.rank
    ]
    shown = rest[:_NEXT]
    width = _span_width(shown, words) if many else _NAME
    rows: list[Row] = []
    for window in shown:
        label = "" if rows else "Next starts"
        text = _row(window, words=words, many=many, width=width)
        rows.append(
            (f"{label:<{_LABEL}}{window.rank:<3}", f"{text} {_limit(window, plan, words)}")
        )
    if len(rest) > _NEXT:
        rows.append((" " * (_LABEL + 3), f"and {len(rest) - _NEXT} more"))
    return rows


def _limit(window: Window, plan: Plan, words: Words) -> str:
    """Say what is likeliest to stop a window, or what is closest in one certain weather."""
    on = words.date(window.start)
    if plan.weather.members > 1:
        return brief_trouble(window.reason, words, on=on)
    said = words.brief(window.reason, on=on)
    if window.pull:
        span, mm = next(iter(window.pull.items()))
        said += f"; {words.pull_span(span, mm)}"
    return said


def _row(window: Window, *, words: Words, many: bool, width: int) -> str:
    """Write a window on one line: day, range of starts, chance."""
    day = words.date(window.start)
    starts = words.span(window.earliest_start, window.latest_start)
    chance = f" {say.of_100(window.chance):>9}" if many else ""
    return f"{say.day(day):<10} {starts:<{width}}{chance}"


def _span_width(windows: list[Window], words: Words) -> int:
    spans = [words.span(x.earliest_start, x.latest_start) for x in windows]
    return max(map(len, spans), default=0)


def order(plan: Plan, words: Words) -> list[Row]:
    """Write the steps in order, each with its day, time and chance, and all together.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    list of tuple of str
        Head and text of each row. Without an order, or in one certain weather, the best
        hours of each step by itself.
    """
    if plan.order is None or plan.weather.members == 1:
        return _each(plan, words)
    found = plan.order
    by = _by(plan, words)
    if len(found.steps) + len(found.missing) < 2:
        chance = say.of_100(found.chance_all)
        return [_said(f"Hours enough for it, one day or another, by {by}: {chance}.", "In all")]
    names = [*(x.step for x in found.steps), *found.missing]
    width = min(max(len(say.plain(x)) for x in names), _NAME) + 2
    rows: list[Row] = []
    for step in found.steps:
        count, _, of = say.of_100(step.chance).partition(" ")
        when = f"{words.day(step.start):<11}{words.clock(step.start):>8}{count:>5}"
        when += "" if rows else f" {of}"  # the first row says of what
        rows.append((_head("" if rows else "Order", step.step, width), when))
    for name in found.missing:
        text = _no_place(name, plan, words)
        rows.append((_head("" if rows else "Order", name, width), text))
    return [*rows, _said(_together(found, by))]


def _together(found: Sequence, by: str) -> str:
    """Say how likely the whole order is, and that there are hours enough for all."""
    chance = say.of_100(found.chance_all)
    if found.missing and found.chance_all <= 0.0:
        return f"In none of the possible weathers does all of it fit by {by}."
    if found.missing:
        return f"Around that start not all of it fits; with others, by {by}: {chance}."
    listed = say.of_100(found.chance_as_listed)
    return (
        f"All as listed, and what is up stands the waits between: {listed}; hours enough "
        f"one way or another by {by}: {chance.removesuffix(' of 100')}."
    )


def _by(plan: Plan, words: Words) -> str:
    """Write the last day, or where the weather file ends if that is earlier."""
    last = plan.job.finish_by
    if last is not None and last <= words.date(plan.weather.last):
        return say.day(last)
    return words.until(plan.weather.last)


def _no_place(name: str, plan: Plan, words: Words) -> str:
    because = next(x for x in plan.steps if x.step.name == name).found.none_because
    return f"no hours: {words.trouble(because)}" if because else "no day left for it"


def _head(label: str, name: str, width: int) -> str:
    return f"{label:<{_LABEL}}{say.plain(name)[: width - 1]:<{width}}"


def _said(text: str, label: str = "") -> Row:
    return f"{label:<{_LABEL}}", text


def _each(plan: Plan, words: Words) -> list[Row]:
    """Write the best hours of each step by itself."""
    left = [x for x in plan.steps if not x.step.done]
    if len(left) < 2 or "past-finish" in plan.decision.codes:
        return []
    best = [window for x in left for window in x.found.windows[:1]]
    starts = max(_span_width(best, words), _NAME)
    width = min(max(len(say.plain(x.step.name)) for x in left), _NAME) + 2
    rows: list[Row] = []
    for x in left:
        label = "" if rows else "Steps"
        rows.append((_head(label, x.step.name, width), _best(x, plan, words, width=starts)))
    return [*rows, _said("Best hours of each step once what comes before it can be done.")]


def _best(here: StepPlan, plan: Plan, words: Words, *, width: int) -> str:
    if here.found.windows:
        window = here.found.windows[0]
        minutes = (window.end - window.start).total_seconds() / 60.0
        row = _row(window, words=words, many=plan.weather.members > 1, width=width)
        return f"{row} {say.duration(minutes)}"
    because = here.found.none_because
    return f"no hours: {words.trouble(because)}" if because else waits(here, plan)
