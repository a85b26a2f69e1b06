"""What the page shows, section by section, before it is laid out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from planner.report.picture.day_rows import lay_out
from planner.report.words import day, of_100
from planner.report.yard.tension import at_the_locks, chart_cells, to_do

if TYPE_CHECKING:
    from planner.plan.records import Plan, PullChart
    from planner.report.picture.day_rows import DayRows
    from planner.report.words import Words

_DAYS: Final = 3
_FULL: Final = 100  # length of the longest bar [px]
#: Film temperatures of the chart, from frost to a hot day: first, last, each printed one.
DEGREES: Final = {"us": (30, 130, 10), "si": (0, 55, 5)}


@dataclass(frozen=True, slots=True, kw_only=True)
class HourLine:
    """One hour of the day sheet: a bar, its length [px], the number and the words beside it."""

    clock: str
    state: str
    length: int
    number: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """Hours of the night that are not shown."""

    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySheet:
    """One day, hour by hour; ``marks`` are where a bar has to reach, or stay under [px]."""

    day: str
    starts: str
    lines: tuple[HourLine | Fold, ...]
    marks: tuple[int, ...]
    best: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PullTable:
    """The pull chart: rows for the eye, and a text for every whole degree.

    ``spans`` are the titles, ``rows`` temperature, pull by span, sag and what the hand
    does; ``texts`` begin at ``first`` whole degrees of ``unit``.
    """

    now: str
    unit: str
    first: int
    spans: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One limit with the phases it holds for, its kind and where it comes from."""

    phases: str
    limit: str
    kind: str
    source: str


def facts(plan: Plan, words: Words) -> tuple[tuple[str, str], ...]:
    """Give the few things that are looked up again and again in the yard.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of (str, str)
        Name and value; empty without a window.
    """
    window = plan.decision.window
    if window is None:
        return ()
    on = words.date(window.start)
    rows = [
        ("Start", words.span(window.earliest_start, window.latest_start, on=on)),
        ("Last start", words.moment(window.latest_start, on=on)),
        ("Down by", words.moment(window.down_by, on=on)),
    ]
    if window.down_later is not None:
        rows.append(("Down by, begun last", words.moment(window.down_later, on=on)))
    if plan.weather.members > 1:
        rows.append(("Holds in", of_100(window.chance)))
    return (("Day", day(on)), *rows)


def day_sheets(plan: Plan, words: Words) -> tuple[DaySheet, ...]:
    """Put the days of the answer's step into rows, the best day marked.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of DaySheet
        In the order of the days; empty where no step is left.
    """
    here = plan.about
    if here is None:
        return ()
    sheet = lay_out(plan, here, units=words.units, days=_DAYS)
    window = plan.decision.window
    best = words.date(window.start) if window else sheet.days[0]
    marks = tuple(round(_FULL * min(x / sheet.full, 1.0)) for x in sheet.marks)
    return tuple(
        DaySheet(
            day=day(date),
            starts=sheet.starts(date),
            lines=tuple(_lines(sheet, at, words)),
            marks=marks,
            best=date == best,
        )
        for at, date in enumerate(sheet.days)
    )


def _lines(sheet: DayRows, at: int, words: Words) -> list[HourLine | Fold]:
    date = sheet.days[at]
    lines: list[HourLine | Fold] = []
    for first, after, shown in sheet.runs:
        if not shown:
            lines.append(Fold(words=f"{_hour(first, words)} to {_hour(after, words)}: night"))
            continue
        lines += [_line(sheet, at, hour, words) for hour in range(first, after)]
    there = any((date, hour) in sheet.rows for hour in range(24))
    return lines if there else []


def _hour(hour: int, words: Words) -> str:
    if words.units == "si":
        return f"{hour:02d}:00"
    return f"{hour % 12 or 12} {'am' if hour % 24 < 12 else 'pm'}"


def _line(sheet: DayRows, at: int, hour: int, words: Words) -> HourLine:
    cell = sheet.cell(sheet.days[at], hour)
    known = math.isfinite(cell.value)
    number = ""
    if known:
        number = of_100(cell.value) if sheet.many else words.amount(cell.value, "gust")
    share = min(cell.value / sheet.full, 1.0) if known else 0.0
    return HourLine(
        clock=cell.clock or _hour(hour, words),
        state=cell.state.replace(" ", "-"),
        length=round(_FULL * share),
        number=number,
        words=cell.words,
    )


def pull_table(plan: Plan, chart: PullChart, words: Words) -> PullTable:
    """Put the pull chart into words, for the eye and for a temperature that is typed.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    chart : PullChart
        With a row for every whole degree of ``DEGREES``.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    PullTable
        In the reader's units.
    """
    first, _, step = DEGREES[words.units]
    window = plan.decision.window
    return PullTable(
        now=(at_the_locks(window, words) if window else None) or "",
        unit="F" if words.units == "us" else "C",
        first=first,
        spans=tuple(chart.spans),
        rows=tuple(chart_cells(row, words) for row in chart.rows[::step]),
        texts=tuple("  ".join(to_do(row, words)) for row in chart.rows),
    )


def limit_lines(plan: Plan, words: Words) -> tuple[LimitLine, ...]:
    """Trace every limit of the answer's step to its kind and source.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of LimitLine
        Those that govern, each once.
    """
    here = plan.about
    if here is None:
        return ()
    held: dict[tuple[str, str, str], list[str]] = {}
    for phase, limits in here.found.limits.items():
        others = tuple(x for x in limits if not x.governs)
        for limit in limits:
            if limit.governs:
                said = words.limit(limit), limit.kind, words.origin(limit, others=others)
                held.setdefault(said, []).append(phase)
    every = len(here.found.limits)
    return tuple(
        LimitLine(
            phases="every phase" if len(phases) == every else ", ".join(phases),
            limit=limit,
            kind=kind,
            source=source,
        )
        for (limit, kind, source), phases in held.items()
    )
