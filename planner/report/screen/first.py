"""The first screen of the terminal: 80 columns, ASCII, the answer first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.report import words as say
from planner.report.answer.answer import answer
from planner.report.answer.heading import NOT_YET, about_job, about_weather, use_until
from planner.report.answer.phase_rows import phase_rows
from planner.report.answer.starts import next_starts, order
from planner.report.answer.why import why
from planner.report.reader import words_for
from planner.report.words import Words
from planner.report.yard.daylight import in_hand, work_light
from planner.report.yard.fine_print import cautions, notes
from planner.report.yard.tension import at_the_locks, beyond

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.hours.records import Window
    from planner.plan.records import Plan
    from planner.report.answer.phase_rows import PhaseRow

WIDTH: Final = 80
_TOP: Final = 9  # columns before the answer
_LABEL: Final = 12  # columns before everything below it
_ASSUMED_LINES: Final = 4
_NAME: Final = 22
_BRACKETS: Final = "In brackets: gusts in 8 of 10 possible weathers."
_ROW: Final = 20  # columns of clock and minutes in a phase's row
_WIDE: Final = WIDTH - 26  # columns left of the limit beside which its long title fits
_GUST: Final = 10
_WAIT: Final = 11  # columns before what is said under the phases
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
    words = words_for(plan, units)
    window = plan.decision.window
    answered = answer(plan, words)
    sections = [
        [
            *item("", about_job(plan, words), width=0),
            *item("", about_weather(plan, words), width=0),
            *item("", use_until(plan, words), width=0),
        ],
        items(answered.word, answered.lines, width=_TOP),
        items("Why", why(plan, words), width=_TOP),
        [*phases(plan, window, words=words), *_not_yet(plan)] if window else [],
        _rows(next_starts(plan, words)),
        _rows(order(plan, words)),
        [
            *items("Light", (*work_light(plan, words), *in_hand(plan))),
            *_beyond(plan, words),
            *_cautions(plan, units),
            *_assumed(plan),
        ],
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


def phases(plan: Plan, window: Window, *, words: Words) -> list[str]:
    """Write the phases of a window: clock, minutes, gust expected, limit and its origin."""
    many = plan.weather.members > 1
    width = min(max(len(say.plain(x.phase)) for x in window.phases), _NAME)
    gust = f"gust at sheet, {'mph' if words.units == 'us' else 'm/s'}"
    room = _ROW + width + (_GUSTS if many else _GUST)
    day = words.date(window.start)
    title = say.plain(f"{say.capital(window.step)}, {say.day(day)}")
    title = title[: room - len(gust) - 1]
    origin = "limit comes from" if room <= _WIDE else "set by"
    lines = [f"{title}{gust:>{room - len(title)}}{'limit':>8}  {origin}"]
    for row in phase_rows(plan, window, words):
        if row.new_day:
            lines.append(f"  {row.new_day}")
        lines += _phase(row, width=width, many=many)
    done = f"{words.clock(window.end):>9}  done"
    if words.date(window.end) != day:
        done = f"{words.moment(window.end):>9}  done"
    pull = at_the_locks(window, words)
    return [*lines, *(item(done + ".", " " + pull, width=11) if pull else [done])]


def _phase(row: PhaseRow, *, width: int, many: bool) -> list[str]:
    gust = f"{row.gust:>5} {f'({row.low_high})':>14}" if many else row.gust
    name = say.plain(row.name)[:width]
    line = f"{row.clock:>9}  {name:<{width}}{row.minutes:>5} min"
    line = f"{line}{gust:>{_GUSTS if many else _GUST}}{row.limit:>8}  "
    return item(line, row.origin, width=len(line))


def _not_yet(plan: Plan) -> list[str]:
    return [] if plan.decision.answer == "go" else [f"{'':<{_WAIT}}{NOT_YET}"]


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
