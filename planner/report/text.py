"""The first screen of the terminal: 80 columns, ASCII, the answer first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from planner.report import words as say
from planner.report.answer import answer
from planner.report.fine_print import cautions, notes
from planner.report.starts import next_starts, order
from planner.report.tension_words import at_the_locks, beyond
from planner.report.why import why
from planner.report.words import Words

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable

    from planner.hours.records import PhaseTime, Window
    from planner.plan.records import Plan, StepPlan

WIDTH: Final = 80
_TOP: Final = 9  # columns before the answer
_LABEL: Final = 12  # columns before everything below it
_ASSUMED_LINES: Final = 4
_NAME: Final = 22
_BRACKETS: Final = "In brackets: gusts in 8 of 10 possible weathers."
_ROW: Final = 20  # columns of clock and minutes in a phase's row
_WIDE: Final = WIDTH - 26  # columns left of the limit beside which its long title fits
_GUST: Final = 10
_GUSTS: Final = 20


def first_screen(plan: Plan, *, units: str) -> str:
    """Write what the crew reads first: the answer, why, the phases, what comes next.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    words = Words(units=units, time_zone=plan.time_zone, light=plan.light)
    window = plan.decision.window
    label, said = answer(plan, words)
    sections = [
        _header(plan, words),
        items(label, said, width=_TOP),
        items("Why", why(plan, words), width=_TOP),
        phases(plan, window, words=words) if window else [],
        _rows(next_starts(plan, words)),
        _rows(order(plan, words)),
        [*_light(plan, words), *_beyond(plan, words), *_cautions(plan, units), *_assumed(plan)],
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def show(plan: Plan, *, units: str | None = None) -> str:
    """Write the first screen in the job's own units, for ``print`` in a notebook.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    units : {"us", "si"}, optional
        Which units to write, if other than the job file's.

    Returns
    -------
    str
        The first screen.
    """
    return first_screen(plan, units=units or plan.job.units)


def item(label: str, text: str, *, width: int = _LABEL) -> list[str]:
    """Write a label and a text beside it, wrapped under itself; dates stay in one piece."""
    return say.wrap(text, WIDTH, first=f"{label:<{width}}", rest=" " * width) or [label]


def items(label: str, texts: Iterable[str], *, width: int = _LABEL) -> list[str]:
    """Write several texts beside one label, each on a line of its own."""
    lines: list[str] = []
    for text in texts:
        lines += item("" if lines else label, text, width=width)
    return lines


def _rows(rows: Iterable[tuple[str, str]]) -> list[str]:
    return [line for head, text in rows for line in item(head, text, width=len(head))]


def _header(plan: Plan, words: Words) -> list[str]:
    job, weather = plan.job, plan.weather
    parts = [f"{job.name}: {words.house(job)}", say.people(job.crew.people)]
    if job.finish_by:
        parts.append(f"done by {say.day(job.finish_by)}")
    now = words.moment(plan.now)
    zone = words.zone(plan.now)
    if weather.kind == "observed":
        about = (
            f"Station record from {words.day(weather.first)}, taken as known at {now} {zone}"
        )
    elif weather.issued is None:
        about = f"Forecast without a time of issue, now {now} {zone}"
    else:
        issued = words.date(weather.issued)
        about = (
            f"Forecast of {words.moment(weather.issued)} {words.zone(weather.issued)}, "
            f"{issued.year}, now {words.moment(plan.now, on=issued)}"
        )
    many = f"  {weather.members} possible weathers." if weather.members > 1 else ""
    about = f"{about}, up to {words.until(weather.last)}.{many}"
    return [*item("", ", ".join(parts), width=0), *item("", about, width=0)]


def phases(plan: Plan, window: Window, *, words: Words) -> list[str]:
    """Write the phases of a window: clock, minutes, gust expected, limit and its origin."""
    here = next(x for x in plan.steps if x.step.name == window.step)
    many = plan.weather.members > 1
    width = min(max(len(say.plain(x.phase)) for x in window.phases), _NAME)
    gust = f"gust at sheet, {'mph' if words.units == 'us' else 'm/s'}"
    room = _ROW + width + (_GUSTS if many else _GUST)
    day = words.date(window.start)
    title = say.plain(f"{window.step[:1].upper()}{window.step[1:]}, {say.day(day)}")
    title = title[: room - len(gust) - 1]
    origin = "limit comes from" if room <= _WIDE else "set by"
    lines = [f"{title}{gust:>{room - len(title)}}{'limit':>8}  {origin}"]
    for phase in window.phases:
        if words.date(phase.start) != day:
            day = words.date(phase.start)
            lines.append(f"  {say.day(day)}")
        lines += _phase(here, phase, words=words, width=width, many=many)
    done = f"{words.clock(window.end):>9}  done"
    if words.date(window.end) != day:
        done = f"{words.moment(window.end):>9}  done"
    pull = at_the_locks(window, words)
    return [*lines, *(item(done + ".", " " + pull, width=11) if pull else [done])]


def _phase(
    here: StepPlan, phase: PhaseTime, *, words: Words, width: int, many: bool
) -> list[str]:
    limits = [x for x in here.found.limits.get(phase.phase, ()) if x.quantity == "gust"]
    governing = [x for x in limits if x.governs]
    origin = "no gust limit"
    if governing:
        others = tuple(x for x in limits if not x.governs)
        origin = words.origin(governing[0], others=others)
    low, middle, high = (words.amount(x, "gust", unit=False) for x in phase.gust)
    gust = f"{middle:>5} {f'({low} to {high})':>14}" if many else middle
    finite = math.isfinite(phase.gust_limit)
    limit = words.amount(phase.gust_limit, "gust", unit=False) if finite else "-"
    minutes = round((phase.end - phase.start).total_seconds() / 60.0)
    name = say.plain(phase.phase)[:width]
    row = f"{words.clock(phase.start):>9}  {name:<{width}}{minutes:>5} min"
    row = f"{row}{gust:>{_GUSTS if many else _GUST}}{limit:>8}  "
    return item(row, origin, width=len(row))


def _light(plan: Plan, words: Words) -> list[str]:
    window = plan.decision.window
    day = words.date(window.start if window else plan.now)
    light = next((x for x in plan.light if x.day == day), None)
    if light is None:
        return []
    if light.begin is None and light.end is None:
        text = f"{_all_day(plan, day, words)} on {say.day(day)}"
    elif light.begin is None or light.end is None:
        one = light.begin if light.begin is not None else light.end
        assert one is not None
        text = f"{'from' if light.end is None else 'to'} {words.moment(one)}"
    else:
        text = f"{words.span(light.begin, light.end)} on {say.day(day)}"
    if window:
        text += f"; be down by {words.moment(window.down_by, on=day)}"
    lines = item("Light", f"{text}.")
    if any(here.step.sheet == "roof" for here in plan.steps):
        spare = say.duration(plan.make_safe)
        lines += item("", f"Keep {spare} of it in hand to make a loose sheet safe.")
    return lines


def _all_day(plan: Plan, day: dt.date, words: Words) -> str:
    """Tell a day without dusk from a day without dawn."""
    left = [
        row.work_light_left
        for x in plan.steps
        for row in x.found.hours
        if words.date(row.time) == day
    ]
    return "work light all day" if max(left, default=0.0) > 0.0 else "no work light"


def _beyond(plan: Plan, words: Words) -> list[str]:
    """Warn where the roof sheet would leave the band in the days of the file."""
    return items("Tension", [f"{beyond(x, words)}: see planner tension." for x in plan.beyond])


def _cautions(plan: Plan, units: str) -> list[str]:
    clear = plan.hardware.keep_clear
    return items("Cautions", cautions(plan.job, keep_clear=clear, units=units))


def _assumed(plan: Plan) -> list[str]:
    assumed = item("Assumed", "; ".join(plan.job.assumed) + ".") if plan.job.assumed else []
    if len(assumed) > _ASSUMED_LINES:
        assumed = [*assumed[:_ASSUMED_LINES], f"{'':<{_LABEL}}and more: see planner inspect."]
    credit = items("Weather", [plan.weather.credit]) if plan.weather.credit else []
    brackets = [_BRACKETS] if plan.weather.members > 1 and plan.decision.window else []
    return [*assumed, *items("Notes", [*brackets, *notes(plan)]), *credit]
