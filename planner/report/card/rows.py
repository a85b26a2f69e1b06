"""What the crew card holds, as records: the printed sheet and the text draw the same."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from planner.film.slack import EXPANSION_AT
from planner.plan.locks import moment_of_locks
from planner.plan.pull import pull_chart
from planner.reference.tables import value
from planner.report import words as say
from planner.report.answer.answer import answer
from planner.report.answer.heading import NOT_YET, about_job, about_weather, use_until
from planner.report.answer.phase_rows import phase_rows
from planner.report.answer.why import why
from planner.report.chances import holds
from planner.report.yard.checklists import meter_check
from planner.report.yard.daylight import in_hand, work_light
from planner.report.yard.fine_print import TRUST, cautions, notes, thunder
from planner.report.yard.tension import chart_cells
from planner.units import convert, show

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

    from planner.hours.records import Window
    from planner.plan.records import ChartRow, Plan
    from planner.report.answer.phase_rows import PhaseRow
    from planner.report.words import Words

CALLER: Final = "Caller, the one who says down:"
MEASURED: Final = "Measured film at the locks:"
OUTRANKS: Final = "The reading in the hand outranks this card."
NO_START: Final = "No start to print."
_RAIN: Final = "Rain on loose film: make it safe."
#: Codes of notes for who makes the plan, not for who goes by it.
_ASIDE: Final = frozenset({"chances-from", "learned-elsewhere"})
_ROWS: Final = 8  # of the pull chart
_STEP: Final = {"us": 10.0, "si": 5.0}  # between two of them, in the reader's degrees


@dataclass(frozen=True, slots=True, kw_only=True)
class PullLine:
    """The pull at one film temperature: by span in words, and what to check by hand.

    ``check`` is the sag midway between two bows, "-" where the film is pulled, or what
    speaks against pulling.
    """

    film: str
    pulls: tuple[str, ...]
    check: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PullTable:
    """The pull chart around what the film may have that day.

    ``spans`` name the columns of each line's ``pulls``; ``expected`` says what film
    temperature was worked out, "" where none was.
    """

    spans: tuple[str, ...]
    expected: str
    lines: tuple[PullLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What belongs to a start: times, phases, stop lines, pull chart.

    Attributes
    ----------
    times : tuple of (str, str)
        What each time is, and the clock: from when to start, the last start, when it is
        done from the best start, down by.
    clocks : str
        For which start the clocks of the phases are, and how the limit is read.
    phases : tuple of PhaseRow
        In the order in which they are done.
    heads : tuple of str
        What stands over the columns of the phases: clock, what, minutes, hands, limit, sign.
    done : str
        Clock of the end.
    stops : tuple of str
        At what to stop.
    pull : PullTable or None
        None where no tension is set.
    readings : tuple of str
        What stands over the columns of the table to fill.
    """

    times: tuple[tuple[str, str], ...]
    clocks: str
    heads: tuple[str, ...]
    phases: tuple[PhaseRow, ...]
    done: str
    stops: tuple[str, ...]
    pull: PullTable | None
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """Everything on the card, in words.

    Attributes
    ----------
    house, title : str
        The job; the step and the day.
    answer : str
        One word.
    said : tuple of str
        What stands beside it.
    use : str
        Until when the card may be used, and that its times do not count yet if they do not.
    work : Work or None
        None where there is no start to print.
    cautions, rests : tuple of str
        Warnings; what weather it rests on, doubts, credit.
    """

    house: str
    title: str
    answer: str
    said: tuple[str, ...]
    use: str
    work: Work | None
    cautions: tuple[str, ...]
    rests: tuple[str, ...]


def card_rows(plan: Plan, words: Words) -> Card:
    """Put on record what the crew card holds.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    Card
        For the printed sheet and for the text.
    """
    window = plan.decision.window
    clear = plan.hardware.keep_clear
    given = cautions(plan.job, keep_clear=clear, units=words.units)
    said_above = {TRUST, *(() if window is None else (thunder(plan.job),))}
    return Card(
        house=about_job(plan, words),
        title=_title(plan, words),
        answer=answer(plan, words).word,
        said=_said(plan, words),
        use=_use(plan, words),
        work=None if window is None else _work(plan, window, words),
        cautions=tuple(x for x in given if x not in said_above),
        rests=_rests(plan, words),
    )


def _said(plan: Plan, words: Words) -> tuple[str, ...]:
    """Give what stands beside the answer: why, and whether what is up stands."""
    window = plan.decision.window
    said = answer(plan, words)
    if window is None:
        none = () if "all-done" in plan.decision.codes else (NO_START,)
        return (*said.lines, *why(plan, words), *none)
    sure = holds(window.chance, plan.weather)
    if plan.decision.answer == "go":
        same = said.headline == f"{say.capital(window.step)} today."  # the title says it
        return (*(() if same else (said.headline,)), sure, *said.up)
    return (said.headline, said.start, sure, *said.up)


def _use(plan: Plan, words: Words) -> str:
    until = use_until(plan, words)
    waits = plan.decision.window is not None and plan.decision.answer != "go"
    return f"{NOT_YET}  {until}" if waits else until


def _rests(plan: Plan, words: Words) -> tuple[str, ...]:
    """Say what weather it rests on, what was filled or doubted, and whose it is."""
    aside = {x.text for x in plan.notes if not x.doubt or x.code in _ASIDE}
    credit = plan.weather.credit
    return (
        about_weather(plan, words),
        *(x for x in notes(plan) if x not in aside),
        *([f"Weather: {credit}"] if credit else []),
    )


def _title(plan: Plan, words: Words) -> str:
    window, step = plan.decision.window, plan.decision.step or ""
    day = words.date(window.start if window else plan.now)
    named = f"{say.capital(step)}, " if step else ""
    return f"{named}{say.day(day)}, {day.year}"


def _work(plan: Plan, window: Window, words: Words) -> Work:
    day = words.date(window.start)
    times = {
        "start from": window.earliest_start,
        "last start": window.latest_start,
        "down by": window.down_by,
    }
    if window.down_later is not None:
        times["begun last, down by"] = window.down_later
    height = show(value("planning", "meter_height"), "length", words.units)
    speed, warmth = ("mph", "F") if words.units == "us" else ("m/s", "C")
    return Work(
        times=tuple((label, words.moment(at, on=day)) for label, at in times.items()),
        clocks=(
            f"Clocks are for a start at {words.clock(window.start)}: later start, all later.  "
            f"Stop at that gust / that steady wind on a meter held up at {height}."
        ),
        heads=("clock", "what", "min", "hands", f"stop {speed}", "or by eye"),
        phases=phase_rows(plan, window, words),
        done=words.moment(window.end, on=words.date(window.phases[-1].start)),
        stops=_stops(plan, window, words),
        pull=_pull(plan, window, words),
        readings=("time", f"gust {speed}", f"mean {speed}", f"film {warmth}", "who"),
    )


def _stops(plan: Plan, window: Window, words: Words) -> tuple[str, ...]:
    """Give the stop lines: lowest limit, thunder, light, rain, minutes to keep."""
    here = plan.step(window.step)
    lines = [f"{meter_check(plan, words)}", thunder(plan.job)]
    if any(x.quantity == "rain" for own in here.found.limits.values() for x in own):
        lines.append(_RAIN)
    lines += [f"Light {x}" for x in work_light(plan, words)]
    return (*lines, *in_hand(plan))


def _pull(plan: Plan, window: Window, words: Words) -> PullTable | None:
    if moment_of_locks(window) is None and window.pull is None:
        return None
    chart = pull_chart(plan.job, film_temps(plan, window, units=words.units))
    return PullTable(
        spans=tuple(chart.spans),
        expected=_expected(window, words),
        lines=tuple(_pull_line(row, words) for row in chart.rows),
    )


def _expected(window: Window, words: Words) -> str:
    """Say which film temperature was worked out for the locks, on both sides."""
    if window.film_temp is None:
        return ""
    said = f"Expected {show(window.film_temp, 'temperature', words.units)}"
    if window.film_temp_shaded is not None:
        said += f", shaded {show(window.film_temp_shaded, 'temperature', words.units)}"
    return f"{said}."


def _pull_line(row: ChartRow, words: Words) -> PullLine:
    film, *pulls, sag, hand = chart_cells(row, words)
    return PullLine(film=film, pulls=tuple(pulls), check=hand if row.against else sag)


def film_temps(plan: Plan, window: Window, *, units: str) -> tuple[float, ...]:
    """Choose the film temperatures of the card's pull chart: what that day may bring.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    window : Window
        In which the tension is set.
    units : {"us", "si"}
        Rows are every 10 F or every 5 C.

    Returns
    -------
    tuple of float
        Eight, rising, those of the locks among them, else the middle of the day's; inside
        the table of the film's growth, at most one too cold to pull if the locks allow [degC].

    Notes
    -----
    The film of an hour that is not known is taken as its air.
    """
    day = _day(plan, window.start)
    hours = plan.step(window.step).found.hours
    light = [
        x.temp_air if x.film_temp is None else x.film_temp
        for x in hours
        if _day(plan, x.time) == day and x.work_light_left > 0.0
    ]
    locks = [x for x in (window.film_temp, window.film_temp_shaded) if x is not None]
    known = [x for x in (*locks, *light) if math.isfinite(x)] or [plan.job.film.stress_free]
    rows = [_row_of(x, units) for x in known]
    first = round((min(rows) + max(rows)) / 2.0) - _ROWS // 2 + 1
    first = max(first, math.floor(_row_of(value("work_rules", "film_lowest"), units)))
    if locks:  # kept in, with a row on either side
        near = [_row_of(x, units) for x in locks]
        first = min(first, math.floor(min(near)) - 1)
        first = max(first, math.ceil(max(near)) + 2 - _ROWS)
    lowest = math.ceil(_row_of(EXPANSION_AT[0], units))
    highest = math.floor(_row_of(EXPANSION_AT[-1], units))
    first = min(max(first, lowest), highest - _ROWS + 1)
    return tuple(_of_row(first + at, units) for at in range(_ROWS))


def _day(plan: Plan, time: pd.Timestamp) -> dt.date:
    return time.tz_convert(plan.time_zone).date()


def _row_of(temp: float, units: str) -> float:
    """Count the rows from 0 F or 0 C up to a film temperature [-]."""
    return convert(temp, "temperature", "F" if units == "us" else "C") / _STEP[units]


def _of_row(row: int, units: str) -> float:
    """Give the film temperature of a row counted from 0 F or 0 C [degC]."""
    shown = row * _STEP[units]
    return (shown - 32.0) * 5.0 / 9.0 if units == "us" else shown
