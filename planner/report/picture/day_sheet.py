"""The day sheet as a picture: time runs down, one row an hour, a bar against a mark.

The bar is a gust against its limits, or with many possible weathers a chance against the
one that a go needs. Two inks and patterns: solid where a start holds, hatched where it does
not, dotted where the file has no data; what binds is written beside each bar. Night is
folded.
"""

from __future__ import annotations

import io
import math
import re
from typing import TYPE_CHECKING, Any, Final

from planner.report.picture.day_rows import lay_out
from planner.report.words import ANSWERS, day, plain, wrap
from planner.report.yard.fine_print import notes

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from planner.hours.records import Window
    from planner.plan.records import Plan
    from planner.report.picture.day_rows import Cell, DayRows, State

INK: Final = "#1c1c1c"
MARK: Final = "#1d5fa8"  # the second ink: limits and the job itself
FAINT: Final = "#c4c4c4"
STYLE: Final[dict[Any, Any]] = {
    "font.family": "sans-serif",
    "svg.fonttype": "none",
    "svg.hashsalt": "planner",
    "hatch.linewidth": 0.7,
}
_PANEL, _MARGIN, _ROW, _FOLD, _TOP, _LINE = 4.15, 0.35, 0.215, 0.17, 1.45, 0.17  # [in]
_CLOCK, _NUMBER, _BAR, _LONG, _WORDS = 0.62, 1.0, 1.16, 1.12, 2.36  # from the panel's left [in]
_RIGHT: Final = _PANEL - 0.25
_THIN, _BOLD = 31, 27  # letters of what binds that have room at full size
#: With one certain weather, and with many possible ones.
_BINDS: Final = {False: "closest limit", True: "most likely trouble"}
_STATES: Final = {
    False: ("a start in this hour holds", "a start in this hour fails, by the limit named"),
    True: ("a start in this hour has the chance that GO needs", "it has less"),
}
_DONE: Final = "Every step in the job file is marked done."
_HOW: Final = "Time runs down, one row an hour, days side by side."
_LAST: Final = "A plan is not permission: the meter in the hand goes first."


def day_sheet(plan: Plan, step_name: str | None = None, *, units: str, days: int = 3) -> Figure:
    """Draw the hours of a step, the best days side by side, time running down.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    step_name : str, optional
        The step; by default the one the plan decides about, else the first.
    units : {"us", "si"}
        Which units to write.
    days : int
        How many days are drawn; the others are listed in words [-].

    Returns
    -------
    matplotlib.figure.Figure
        Its label is the title that ``chart_bytes`` writes.

    Notes
    -----
    With one forecast a bar is the gust at the sheet in that hour, marked at the
    tightest and the loosest limit of the step's phases. With many possible weathers
    it is the chance of a start on that hour, marked at the chance that a go needs.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    wanted = step_name or plan.decision.step
    here = next((x for x in plan.steps if x.step.name == wanted), None)
    here = here or next(iter(plan.steps), None)
    name = plain(plan.job.name)
    with mpl.rc_context(STYLE):
        if here is None:
            figure = Figure(figsize=(6.0, 1.2), label=f"{name}: nothing left to plan")
            write(whole_page(figure, how=_HOW), _MARGIN, 0.6, _DONE, size=11)
            return figure
        sheet = lay_out(plan, here, units=units, days=days)
        below = _below(sheet)
        tops = _tops(sheet)
        figure = Figure(
            figsize=(
                2 * _MARGIN + _panels(sheet) * _PANEL,
                tops[24] + 0.75 + _LINE * len(below),
            ),
            label=f"{name}: hours for the {plain(here.step.name)}",
        )
        axes = whole_page(figure, how=_HOW)
        _title(axes, sheet)
        for at, date in enumerate(sheet.days):
            _panel(axes, sheet, date, left=_MARGIN + at * _PANEL, tops=tops)
        _legend(axes, tops[24] + 0.26, many=sheet.many)
        for at, line in enumerate(below):
            write(axes, _MARGIN, tops[24] + 0.7 + at * _LINE, line)
    return figure


def _answer(sheet: DayRows) -> str:
    """Write the answer behind the title, where it is about the step that is drawn."""
    decision = sheet.plan.decision
    mine = decision.step == sheet.here.step.name
    now = sheet.words.moment(sheet.plan.now)
    return f" ({ANSWERS[decision.answer]} at {now})" if mine else ""


def _panels(sheet: DayRows) -> int:
    return max(len(sheet.days), 3)  # the legend needs three


def _tops(sheet: DayRows) -> dict[int, float]:
    """Give the top of each hour's row, the fold's for hours in it, and the bottom as 24."""
    tops: dict[int, float] = {}
    y = _TOP
    for first, after, shown in sheet.runs:
        for hour in range(first, after):
            tops[hour] = y
            y += _ROW if shown else 0.0
        y += 0.0 if shown else _FOLD
    return tops | {24: y}


def whole_page(figure: Figure, *, how: str) -> Axes:
    """Give axes over the whole figure, in inches from its top left corner.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The picture.
    how : str
        How to read it, for those who hear it described.

    Returns
    -------
    matplotlib.axes.Axes
        The first axes of the figure.
    """
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), label=how)
    width, height = figure.get_size_inches()
    axes.set_xlim(0.0, width)
    axes.set_ylim(height, 0.0)
    axes.axis("off")
    return axes


def write(axes: Axes, x: float, y: float, text: str, **more: Any) -> None:
    """Write plain text at a place of ``whole_page`` [in]."""
    style: dict[str, Any] = {"size": 7.5, "color": INK, "va": "center", "ha": "left"}
    axes.text(x, y, plain(text), **(style | {"parse_math": False} | more))


def _title(axes: Axes, sheet: DayRows) -> None:
    step = sheet.here.step.name
    write(
        axes,
        _MARGIN,
        0.3,
        f"{step[:1].upper()}{step[1:]}: when to start{_answer(sheet)}",
        size=14,
        weight="bold",
    )
    job, weather = sheet.plan.job, sheet.plan.weather
    issued = weather.issued
    of = "a station record" if weather.kind == "observed" else weather.kind
    if issued is not None:
        of = f"forecast of {sheet.words.moment(issued)}"
    write(axes, _MARGIN, 0.56, f"{job.name}, {sheet.words.house(job)}; {of}", size=8.5)
    write(axes, _MARGIN, 0.76, _bar_words(sheet), size=8.5)


def _bar_words(sheet: DayRows) -> str:
    if sheet.many:
        needs = _mark(sheet, sheet.marks[0])
        unit = "mph" if sheet.words.units == "us" else "m/s"
        return (
            f"Bar: in how many of 100 a start on the hour holds; line: GO needs {needs}.  "
            f"Gusts in {unit} at the sheet."
        )
    text = "Bar: gust at the sheet in the hour"
    if not sheet.marks:
        return f"{text}."
    limits = [sheet.words.amount(x, "gust") for x in sheet.marks]
    phase = next(
        phase
        for phase, of in sheet.here.found.limits.items()
        for x in of
        if x.quantity == "gust" and x.governs and x.bound == sheet.marks[0]
    )
    text = f"{text}; line: the tightest limit, {limits[0]} ({phase})"
    return f"{text}; dashes: the loosest, {limits[1]}." if limits[1:] else f"{text}."


def _mark(sheet: DayRows, mark: float) -> str:
    if sheet.many:
        return f"{math.ceil(round(100 * mark, 6))}"
    return sheet.words.amount(mark, "gust", unit=False)


def _panel(
    axes: Axes, sheet: DayRows, date: dt.date, *, left: float, tops: dict[int, float]
) -> None:
    starts = sheet.starts(date)
    write(axes, left, _TOP - 0.38, day(date), size=10, weight="bold")
    write(axes, left + _BAR, _TOP - 0.38, f"start {starts}" if starts else "no start", size=9)
    unit = "of 100" if sheet.many else ("mph" if sheet.words.units == "us" else "m/s")
    write(axes, left + _NUMBER, _TOP - 0.14, unit, size=7, ha="right")
    write(axes, left + _WORDS, _TOP - 0.14, _BINDS[sheet.many], size=7)
    for first, after, shown in sheet.runs:
        for hour in range(first, after) if shown else ():
            _hour(axes, sheet, sheet.cell(date, hour), left=left, top=tops[hour])
        if not shown:
            _fold(axes, left=left, middle=tops[first] + _FOLD / 2, hours=after - first)
    for at, mark in enumerate(sheet.marks):
        x = left + _BAR + _LONG * mark / sheet.full
        style: Any = (0, (3, 3)) if at else "-"
        axes.plot([x, x], [_TOP, tops[24]], color=MARK, lw=1.1, ls=style, zorder=4)
        label = _mark(sheet, mark)
        write(axes, x, _TOP - 0.14, label, size=7, ha=_beside(sheet, at), color=MARK)
    for window in _lines(sheet):
        _job_line(axes, sheet, window, date, x=left + _BAR - 0.07, tops=tops)


def _beside(sheet: DayRows, at: int) -> str:
    """Say on which side of a mark its number stands: clear of the words and of the other."""
    if len(sheet.marks) > 1 and sheet.marks[1] - sheet.marks[0] < 0.25 * sheet.full:
        return ("right", "left")[at]
    return "right" if sheet.marks[at] > 0.9 * sheet.full else "center"


def _lines(sheet: DayRows) -> tuple[Window, ...]:
    """Give the windows whose work is drawn beside the bars."""
    if not sheet.many:
        return sheet.here.found.windows
    return tuple(x for date in sheet.days for x in sheet.windows(date))


def _fold(axes: Axes, *, left: float, middle: float, hours: int) -> None:
    write(axes, left + _CLOCK, middle, "night", size=6.5, ha="right", style="italic")
    write(axes, left + _WORDS, middle, f"{hours} h folded", size=6.5, style="italic")
    for first, last in ((_BAR, _WORDS - 0.1), (_WORDS + 0.7, _RIGHT)):
        axes.plot([left + first, left + last], [middle] * 2, color=FAINT, lw=0.6, ls=":")


def _hour(axes: Axes, sheet: DayRows, cell: Cell, *, left: float, top: float) -> None:
    middle, under = top + _ROW / 2, top + _ROW
    axes.plot([left, left + _RIGHT], [under, under], color=FAINT, lw=0.4, zorder=0)
    faint = {"color": "#6b6b6b"} if cell.state == "past" else {}
    write(axes, left + _CLOCK, middle, cell.clock, ha="right", **faint)
    weight = "bold" if cell.state == "holds" else "normal"
    room = _BOLD if weight == "bold" else _THIN
    size = 7.0 * min(1.0, room / max(len(cell.words), 1))
    write(axes, left + _WORDS, middle, cell.words, size=size, weight=weight, **faint)
    if cell.state in {"past", "not in file"}:
        return
    if cell.value != 0.0 or not sheet.many:
        _bar(axes, cell.value / sheet.full, cell.state, x=left + _BAR, y=top + 0.035)
    number = "-"
    if math.isfinite(cell.value):
        gust = sheet.words.amount(cell.value, "gust", unit=False)
        number = f"{100 * cell.value:.0f}" if sheet.many else gust
    write(axes, left + _NUMBER, middle, number, ha="right")


def _bar(axes: Axes, share: float, state: State, *, x: float, y: float) -> None:
    """Draw a bar: solid, hatched or, without data, a dotted outline."""
    from matplotlib.patches import Rectangle

    look: dict[str, Any] = {"edgecolor": INK, "lw": 0.7, "zorder": 2}
    if state == "no data":
        look |= {"fill": False, "ls": (0, (1, 2)), "lw": 0.9}
    elif state == "holds":
        look["facecolor"] = INK
    else:
        look |= {"facecolor": "white", "hatch": "//////"}
    long = _LONG if state == "no data" or not share < 1.0 else _LONG * share
    axes.add_patch(Rectangle((x, y), long, _ROW - 0.07, **look))
    if share > 1.0:  # the bar is cut: say so
        across, down = [x + long - 0.09, x + long - 0.05], [y + _ROW - 0.07, y]
        axes.plot(across, down, color="white", lw=2.2, zorder=3)


def _job_line(
    axes: Axes,
    sheet: DayRows,
    window: Window,
    date: dt.date,
    *,
    x: float,
    tops: dict[int, float],
) -> None:
    """Draw the job itself beside the bars, from its best start to its end."""
    if not sheet.local(window.start).date() <= date <= sheet.local(window.end).date():
        return
    ends = [_down(sheet, time, date, tops) for time in (window.start, window.end)]
    axes.plot([x, x], ends, color=MARK, lw=2.6, solid_capstyle="butt", zorder=5)
    for phase in window.phases:
        if sheet.local(phase.start).date() == date:
            y = _down(sheet, phase.start, date, tops)
            axes.plot([x - 0.04, x + 0.04], [y, y], color=MARK, lw=1.2, zorder=5)


def _down(sheet: DayRows, time: pd.Timestamp, date: dt.date, tops: dict[int, float]) -> float:
    """Give the height of a time in the panel of a day [in]."""
    local = sheet.local(time)
    if local.date() != date:
        return tops[24] if local.date() > date else tops[0]
    after = tops[local.hour + 1] - tops[local.hour]
    return tops[local.hour] + after * local.minute / 60.0


def _legend(axes: Axes, y: float, *, many: bool) -> None:
    holds, fails = _STATES[many]
    entries: tuple[tuple[State, str], ...] = (
        ("holds", holds),
        ("fails", fails),
        ("no data", "no data in the file"),
    )
    x = _MARGIN
    for state, text in entries:
        _bar(axes, 0.3, state, x=x, y=y)
        x += 0.08 + _LONG * (1.0 if state == "no data" else 0.3)
        write(axes, x, y + 0.07, text)
        x += 0.3 + 0.06 * len(text)
    axes.plot([x, x], [y - 0.02, y + 0.16], color=MARK, lw=2.6, solid_capstyle="butt")
    write(axes, x + 0.08, y + 0.07, "best start to done, a tick a phase")


def _below(sheet: DayRows) -> list[str]:
    """Give the lines under the picture: the other days, notes, credit."""
    wide = 64 * _panels(sheet)
    others = ".  ".join(sheet.other_days())
    texts = [f"Other days.  {others}."] if others else []
    texts += [*notes(sheet.plan, headed=False), _LAST, sheet.plan.weather.credit]
    return [line for text in texts for line in wrap(text, wide)]


def chart_bytes(figure: Figure, suffix: str) -> bytes:
    """Make a picture's file: SVG, the same every time, or PNG at twice the screen size.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        From ``day_sheet`` or ``tension_figure``; its first axes are those of ``whole_page``.
    suffix : {".svg", ".png"}
        Which of them.

    Returns
    -------
    bytes
        The file, with a title, an SVG with a description too.
    """
    import matplotlib as mpl

    about: dict[str, Any] = {"Title": str(figure.get_label())}
    with mpl.rc_context(STYLE):
        if suffix == ".png":
            picture = io.BytesIO()
            figure.savefig(picture, format="png", dpi=200, metadata=about)
            return picture.getvalue()
        text = io.StringIO()
        about |= {"Date": None, "Creator": None}
        figure.savefig(text, format="svg", metadata=about)
    said = " ".join(x.get_text() for x in figure.axes[0].texts[:3])
    said = f"{said} {figure.axes[0].get_label()}"
    said = said.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    svg = re.sub(
        r"(<title>.*?</title>)",
        lambda found: f"{found.group()}\n <desc>{said}</desc>",
        text.getvalue(),
        count=1,
    )
    return svg.replace("<svg ", '<svg role="img" ', 1).encode()
