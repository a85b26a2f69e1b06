"""What comes next: other starts of the step, and the order of all steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from planner.report import words as say
from planner.report.answer.why import waits
from planner.report.chances import brief_trouble

if TYPE_CHECKING:
    from planner.hours.records import Window
    from planner.plan.records import Plan, Sequence, StepPlan
    from planner.report.words import Words

    #: What a line begins with, and the text that is wrapped beside it.
    Row = tuple[str, str]

_LABEL: Final = 12  # columns before the rows
_NEXT: Final = 3
_NAME: Final = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRow:
    """Another start of the step, each part in words.

    ``chance`` is "" in one certain weather; ``why`` what is likeliest to stop it, or what
    is closest; ``rank`` its place among all starts [-].
    """

    rank: int
    day: str
    starts: str
    chance: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """A step with its place in the order, each part in words.

    ``instead`` says why it has no place, all else is "" then. ``duration`` is "" where
    there are many possible weathers, ``chance`` where there is one.
    """

    step: str
    day: str = ""
    clock: str = ""
    chance: str = ""
    duration: str = ""
    instead: str = ""


def other_starts(plan: Plan, words: Words) -> tuple[StartRow, ...]:
    """Give the other starts of the step that the answer is about.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of StartRow
        The likeliest first; empty where there are no others.
    """
    best = plan.decision.window
    return tuple(
        _start(window, plan, words)
        for x in plan.steps
        if best and x.step.name == best.step
        for window in x.found.windows
        if window.rank != best.rank
    )


def _start(window: Window, plan: Plan, words: Words) -> StartRow:
    many = plan.weather.members > 1
    return StartRow(
        rank=window.rank,
        day=words.day(window.start),
        starts=words.span(window.earliest_start, window.latest_start),
        chance=say.of_100(window.chance) if many else "",
        why=_limit(window, plan, words),
    )


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


def next_starts(plan: Plan, words: Words) -> list[Row]:
    """Write the best other starts of the step on lines of a terminal.

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
    rest = other_starts(plan, words)
    shown = rest[:_NEXT]
    width = max((len(x.starts) for x in shown), default=0)
    if plan.weather.members == 1:
        width = _NAME
    rows: list[Row] = []
    for row in shown:
        label = "" if rows else "Next starts"
        chance = f" {row.chance:>9}" if row.chance else ""
        text = f"{row.day:<10} {row.starts:<{width}}{chance} {row.why}"
        rows.append((f"{label:<{_LABEL}}{row.rank:<3}", text))
    if len(rest) > _NEXT:
        rows.append((" " * (_LABEL + 3), f"and {len(rest) - _NEXT} more"))
    return rows


def step_rows(plan: Plan, words: Words) -> tuple[StepRow, ...]:
    """Give the steps in their order, or, without one, the best hours of each by itself.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of StepRow
        Empty where one step is left.
    """
    found = plan.order
    if found is None or plan.weather.members == 1:
        left = [x for x in plan.steps if not x.step.done]
        if len(left) < 2 or "past-finish" in plan.decision.codes:
            return ()
        return tuple(_best(x, plan, words) for x in left)
    if len(found.steps) + len(found.missing) < 2:
        return ()
    placed = [
        StepRow(
            step=x.step,
            day=words.day(x.start),
            clock=words.clock(x.start),
            chance=say.of_100(x.chance),
        )
        for x in found.steps
    ]
    missing = [StepRow(step=x, instead=_no_place(x, plan, words)) for x in found.missing]
    return (*placed, *missing)


def all_together(plan: Plan, words: Words) -> str:
    """Say how likely all steps are together, or what their list means without that.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        "" where nothing is to be said.
    """
    found, rows = plan.order, step_rows(plan, words)
    if found is None or plan.weather.members == 1:
        return "Best hours of each step once what comes before it can be done." if rows else ""
    by = _by(plan, words)
    if not rows:
        chance = say.of_100(found.chance_all)
        return f"Hours enough for it, one day or another, by {by}: {chance}."
    return _together(found, by)


def order(plan: Plan, words: Words) -> list[Row]:
    """Write the steps in order and all together on lines of a terminal.

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
    steps, together = step_rows(plan, words), all_together(plan, words)
    in_order = plan.order is not None and plan.weather.members > 1
    width = min(max((len(say.plain(x.step)) for x in steps), default=0), _NAME) + 2
    clock = max([*(len(x.clock) for x in steps), _NAME])
    rows: list[Row] = []
    for row in steps:
        label = "" if rows else ("Order" if in_order else "Steps")
        if row.instead:
            text = row.instead
        elif in_order:
            count, _, of = row.chance.partition(" ")
            text = f"{row.day:<11}{row.clock:>8}{count:>5}"
            text += "" if rows else f" {of}"  # the first row says of what
        else:
            chance = f" {row.chance:>9}" if row.chance else ""
            text = f"{row.day:<10} {row.clock:<{clock}}{chance} {row.duration}"
        rows.append((_head(label, row.step, width), text))
    if together:
        rows.append((f"{'' if rows else 'In all':<{_LABEL}}", together))
    return rows


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
    because = plan.step(name).found.none_because
    return f"no hours: {words.trouble(because)}" if because else "no day left for it"


def _head(label: str, name: str, width: int) -> str:
    return f"{label:<{_LABEL}}{say.plain(name)[: width - 1]:<{width}}"


def _best(here: StepPlan, plan: Plan, words: Words) -> StepRow:
    """Give the best hours of a step by itself."""
    if not here.found.windows:
        because = here.found.none_because
        instead = f"no hours: {words.trouble(because)}" if because else waits(here, plan)
        return StepRow(step=here.step.name, instead=instead)
    window = here.found.windows[0]
    return StepRow(
        step=here.step.name,
        day=words.day(window.start),
        clock=words.span(window.earliest_start, window.latest_start),
        chance=say.of_100(window.chance) if plan.weather.members > 1 else "",
        duration=say.duration(window.minutes),
    )
