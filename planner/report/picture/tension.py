"""The pull chart as a picture, and under it slack and tension of the coming days.

Two inks: black for what the sheet does, the second for what was measured, allowed and
named. Over the bows is a full line, end to end a dashed one; tension is a hatched band.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from planner.film.sag import slack_allowed
from planner.reference.tables import value
from planner.report.picture.day_sheet import FAINT, INK, MARK, STYLE, whole_page, write
from planner.report.words import Words, day, plain, wrap
from planner.report.yard.tension import beyond
from planner.units import SHOWN, convert, show

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from planner.plan.records import ChartRow, Course, TensionPlan

_WIDE, _LEFT, _RIGHT = 8.6, 0.85, 1.25  # [in]
_TOP, _CHART, _COURSE, _GAP, _LINE = 1.3, 3.1, 1.75, 0.75, 0.17  # [in]
_LETTERS: Final = 126  # in a line under the picture
_NEAR: Final = 0.15  # of the axis: names closer than this stand below each other
_ROOM: Final = 0.11  # of the axis, between two names
_CLEAR: Final = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}  # behind a name
_HOW: Final = (
    "Above, pull past snug against film temperature; below, if there is a weather file, "
    "slack and tension against time."
)
_LAST: Final = (
    "Measure the film at the locks, the mean of three.  Tension is an estimate: a band from "
    "least to most, the line its middle."
)
_LOOK: Final[tuple[dict[str, Any], ...]] = (
    {"ls": "-", "marker": "o", "markerfacecolor": INK},
    {"ls": (0, (5, 2)), "marker": "o", "markerfacecolor": "white"},
)


def tension_figure(plan: TensionPlan, *, units: str) -> Figure:
    """Draw the pull chart and, with a weather file, slack and tension of the coming days.

    Parameters
    ----------
    plan : TensionPlan
        From ``make_tension``.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    matplotlib.figure.Figure
        Its label is the title that ``chart_bytes`` writes.

    Notes
    -----
    Hours without data leave a gap in the lines.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    words = Words(units=units, time_zone=plan.time_zone)
    course = plan.course if plan.course is not None and plan.course.hours else None
    below = _below(plan, words)
    plots = _CHART + (0.0 if course is None else 2 * (_COURSE + _GAP))
    high = _TOP + plots + _GAP + _LINE * len(below)
    with mpl.rc_context(STYLE):
        label = f"{plain(plan.job.name)}: how tight to lock the film"
        figure = Figure(figsize=(_WIDE, high), label=label)
        page = whole_page(figure, how=_HOW)
        _title(page, plan, words)
        _pull(_plot(figure, _TOP, _CHART), plan, words)
        if course is not None:
            top = _TOP + _CHART + _GAP + 0.1
            _slack(_plot(figure, top, _COURSE), plan, course, words)
            _tension(_plot(figure, top + _COURSE + _GAP, _COURSE), plan, course, words)
        for at, line in enumerate(below):
            write(page, 0.35, high - _LINE * (len(below) - at), line)
    return figure


def _plot(figure: Figure, top: float, tall: float) -> Axes:
    """Give a plot at a distance from the top of the page, quiet all around."""
    wide, high = figure.get_size_inches()
    axes = figure.add_axes(
        (_LEFT / wide, 1 - (top + tall) / high, (wide - _LEFT - _RIGHT) / wide, tall / high)
    )
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(FAINT)
    axes.tick_params(labelsize=7.5, colors=INK, color=FAINT, length=3)
    axes.grid(color=FAINT, lw=0.4)
    axes.set_axisbelow(True)
    return axes


def _title(page: Axes, plan: TensionPlan, words: Words) -> None:
    job = plan.job
    temp = show(plan.chart.stress_free, "temperature", words.units)
    write(page, 0.35, 0.3, "How tight to lock the film", size=14, weight="bold")
    about = f"{job.name}, {words.house(job)}, {job.house.frame} frame"
    write(page, 0.35, 0.56, about, size=8.5)
    text = f"Stress-free film temperature {temp}.  Over the bows: full line; end to end:"
    write(page, 0.35, 0.76, f"{text} dashed.", size=8.5)


def _said(axes: Axes, x: float, y: float, text: str, **more: Any) -> None:
    """Write beside a line of a plot, in its own numbers."""
    style: dict[str, Any] = {"size": 7.5, "color": INK, "va": "center", "parse_math": False}
    lines = "\n".join(plain(line) for line in text.split("\n"))
    axes.text(x, y, lines, **(style | more))


def _head(axes: Axes, text: str) -> None:
    tall = axes.bbox.height / axes.figure.dpi
    place: dict[str, Any] = {"transform": axes.transAxes, "weight": "bold"}
    _said(axes, 0.0, 1.0 + 0.14 / tall, text, size=8.5, **place)


def _millimetres(words: Words) -> Callable[[float], float]:
    return (lambda mm: mm / 25.4) if words.units == "us" else (lambda mm: mm)


def _pull(axes: Axes, plan: TensionPlan, words: Words) -> None:
    """Draw pull against film temperature, what counts as snug, and the film now."""
    length, chart = _millimetres(words), plan.chart
    unit = SHOWN[words.units]["temperature"][0]
    rows = sorted(chart.rows, key=lambda row: row.film_temp)
    temps = [convert(row.film_temp, "temperature", unit) for row in rows]
    snug = length(value("film", "snug_repeats"))
    axes.axhspan(-snug, snug, facecolor="white", edgecolor=FAINT, hatch="....", lw=0.0)
    axes.axhline(0.0, color=INK, lw=0.7)
    for span, look in zip(chart.spans, _LOOK, strict=False):
        pulls = [length(row.pull[span]) for row in rows]
        axes.plot(temps, pulls, color=INK, lw=1.2, markersize=3.6, **look)
    free = convert(chart.stress_free, "temperature", unit)
    axes.axvline(free, color=INK, lw=0.7, ls=":")
    if plan.now is not None:
        _mark_now(axes, plan.now, words)
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + _ROOM * (high - low))
    if rows:
        _label_spans(axes, plan, x=temps[-1], words=words)
    bottom: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "right"}
    _said(axes, free, 0.04, "stress-free ", **bottom)
    _said(axes, 0.01, snug / 2, "snug", transform=axes.get_yaxis_transform(), bbox=_CLEAR)
    down = "in" if words.units == "us" else "mm"
    _head(axes, f"Pull past snug, {down}; below 0: leave that much slack")
    axes.set_xlabel(f"film temperature at the locks, {unit}", size=8, color=INK)


def _label_spans(axes: Axes, plan: TensionPlan, *, x: float, words: Words) -> None:
    """Name the lines at their hot end, apart from each other."""
    length, chart = _millimetres(words), plan.chart
    last = max(chart.rows, key=lambda row: row.film_temp)
    low, high = axes.get_ylim()
    above = math.inf
    for span in sorted(chart.spans, key=lambda span: -last.pull[span]):
        above = min(length(last.pull[span]), above - _ROOM * (high - low))
        long = show(chart.spans[span], "length", words.units)
        _said(axes, x, above, f"  {span}\n  {long}")


def _mark_now(axes: Axes, now: ChartRow, words: Words) -> None:
    length = _millimetres(words)
    x = convert(now.film_temp, "temperature", SHOWN[words.units]["temperature"][0])
    axes.axvline(x, color=MARK, lw=1.1)
    for pull in now.pull.values():
        axes.plot([x], [length(pull)], color=MARK, marker="D", markersize=4.5, zorder=5)
    said = f" now {show(now.film_temp, 'temperature', words.units)}"
    place: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "va": "top"}
    _said(axes, x, 0.99, said, color=MARK, weight="bold", **place)


def _slack(axes: Axes, plan: TensionPlan, course: Course, words: Words) -> None:
    length = _millimetres(words)
    spans = list(course.hours[0].slack)
    lines = [[length(hour.slack[span]) for hour in course.hours] for span in spans]
    for slack, look in zip(lines, _LOOK, strict=False):
        axes.plot(range(len(slack)), slack, color=INK, lw=1.2, ls=look["ls"])
    well = length(float(slack_allowed(plan.chart.spans[spans[0]])))
    _bound(axes, well, f" well up to here\n {spans[0]}")
    _days(axes, course, words, most=[well, *(x for line in lines for x in line)])
    _head(axes, f"Slack of the locked sheet, {'in' if words.units == 'us' else 'mm'}")
    _name(axes, course, {"hottest": course.hottest})


def _bound(axes: Axes, bound: float, text: str) -> None:
    """Draw what is still well, and say so beside it."""
    axes.axhline(bound, color=MARK, lw=1.1)
    _said(axes, 1.0, bound, text, color=MARK, transform=axes.get_yaxis_transform())


def _tension(axes: Axes, plan: TensionPlan, course: Course, words: Words) -> None:
    unit = SHOWN[words.units]["force per length"][0]
    low, mid, high = (
        [convert(hour.tension[at], "force per length", unit) for hour in course.hours]
        for at in range(3)
    )
    places = range(len(mid))
    axes.fill_between(
        places, low, high, facecolor="white", edgecolor=INK, hatch="//////", lw=0.5
    )
    axes.plot(places, mid, color=INK, lw=1.4)
    holds = convert(plan.allowed, "force per length", unit)
    _bound(axes, holds, " channel holds" + ("" if plan.channel_known else "\n (assumed)"))
    _days(axes, course, words, most=[holds, *high])
    _head(axes, f"Tension of the locked sheet, {unit}; gusts come on top")
    named = {
        "first night": course.first_night,
        "coldest": course.coldest,
        "largest gust": course.windiest,
    }
    _name(axes, course, named)


def _days(axes: Axes, course: Course, words: Words, *, most: Sequence[float]) -> None:
    """Mark where each local day begins, name it, and leave room for names above."""
    dates = [words.date(hour.time) for hour in course.hours]
    begins = [at for at, date in enumerate(dates) if not at or date != dates[at - 1]]
    ends = [*begins[1:], len(dates)]
    every = math.ceil(len(begins) / 10)
    room = min(16, max(end - begin for begin, end in zip(begins, ends, strict=True)))
    for number, (begin, end) in enumerate(zip(begins, ends, strict=True)):
        if number:
            axes.axvline(begin, color=FAINT, lw=0.6)
        if number % every == 0 and end - begin >= room:
            place: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center"}
            _said(axes, (begin + end) / 2, -0.07, day(dates[begin]), **place)
    axes.set_xticks([])
    axes.grid(visible=False, axis="x")
    axes.set_xlim(0, max(len(dates) - 1, 1))
    axes.set_ylim(0.0, 1.5 * max(x for x in most if math.isfinite(x)))


def _name(axes: Axes, course: Course, named: dict[str, int | None]) -> None:
    """Mark the named hours, each with its name at the top."""
    hours = len(course.hours)
    places = sorted((at, name) for name, at in named.items() if at is not None)
    row, before = 0, -hours
    for at, name in places:
        row = row + 1 if at - before < _NEAR * hours else 0
        before = at
        late = at > (1.0 - _NEAR) * hours
        axes.axvline(at, color=MARK, lw=0.9, ls=(0, (2, 2)))
        text = f"{name} " if late else f" {name}"
        place: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "va": "top"}
        place |= {"ha": "right" if late else "left", "color": MARK, "bbox": _CLEAR}
        _said(axes, at, 0.99 - _ROOM * row, text, **place)


def _below(plan: TensionPlan, words: Words) -> list[str]:
    strains = plan.course.beyond if plan.course is not None else ()
    texts = [*(f"{beyond(x, words)}." for x in strains), *(x.text for x in plan.notes)]
    texts += [_LAST, plan.credit]
    return [line for text in texts for line in wrap(text, _LETTERS)]
