"""Which hours of a weather file hold a number, as a picture for a phone and for print.

One ink: a small panel a column, a row a day or month, across it the clock; the darker a
cell, the larger the share of its hours that hold a number, solid where all do, dotted
where none does, bare where the file has no hour.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from planner.report.availability import CLOCK, gaps, longest_gap, shares
from planner.report.picture.day_sheet import FAINT, INK, STYLE, whole_page, write
from planner.report.words import day, of_100, plain, wrap

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from planner.report.availability import Counts, Mask, Shares
    from planner.weather.table import Floats, Weather

_WIDE, _MARGIN, _LEFT, _RIGHT = 4.6, 0.3, 0.78, 0.25  # [in]
_ACROSS: Final = _WIDE - _LEFT - _RIGHT
_TOP, _LINE, _KEY, _HEAD, _AXIS, _FOOT = 0.56, 0.165, 0.3, 0.24, 0.27, 0.15  # [in]
_TALLEST, _LOWEST, _PANEL = 0.14, 0.04, 2.2  # a row at most and at least, all of them [in]
_WRITTEN: Final = 0.115  # a row lower than this has no room for a number [in]
_LABELLED: Final = 0.105  # rows lower than this share labels [in]
_LETTERS: Final = 64  # in a line over and under the panels
_COLUMNS: Final = {
    "temp_air": "Air temperature",
    "wind_speed": "Mean wind",
    "wind_gust": "Gust",
    "precipitation": "Rain",
}
_CHANCE: Final = ("precipitation_probability", "Chance of rain")
#: Least number of 100 hours of each shade, the shade, and what it says, the fullest first.
_SHADES: Final = (
    (100, "#707070", "all"),
    (90, "#a3a3a3", "90 to 99"),
    (50, "#c8c8c8", "50 to 89"),
    (1, "#e6e6e6", "1 to 49"),
)
_NONE: Final = "none"
_DARK: Final = 1  # shades on which a number is written in white
_ROWS: Final = {
    "day": "a row a day",
    "month": "a row a month",
    "month of the year": "a row a month of the year, all years together",
}
_EVERY: Final = {"day": (1, 2, 7, 14), "month": (1, 3, 6, 12), "month of the year": (1, 2, 3)}


def availability_figure(weather: Weather, *, time_zone: str = "UTC") -> Figure:
    """Draw which hours hold a temperature, a mean wind, a gust and rain.

    Parameters
    ----------
    weather : Weather
        As read.
    time_zone : str
        Of days, months and clock hours.

    Returns
    -------
    matplotlib.figure.Figure
        Its label is the title that ``chart_bytes`` writes.

    Notes
    -----
    A column that holds no number at all has a line of words instead of a panel.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    columns = columns_to_draw(weather)
    found = shares(weather, tuple(columns), time_zone=time_zone)
    there = [name for name in columns if found.there[name].any()]
    above, below = _above(weather, found), _below(weather, columns, found)
    tall = _row_height(len(found.rows)) * len(found.rows)
    panels = _TOP + _LINE * len(above) + _KEY
    floor = panels + len(there) * (_HEAD + tall + _AXIS)
    high = floor + _FOOT + _LINE * len(below)
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(_WIDE, high), label=_title(weather))
        page = whole_page(figure, how=_how(found))
        write(page, _MARGIN, 0.3, "Which hours hold a number", size=14, weight="bold")
        for at, line in enumerate(above):
            write(page, _MARGIN, 0.56 + _LINE * at, line, size=8.5)
        if there:
            _key(page, panels - 0.5 * _KEY, found, there)
        for at, name in enumerate(there):
            top = panels + at * (_HEAD + tall + _AXIS) + _HEAD
            held = f"{columns[name]}: {of_100(found.whole(name))} hours"
            write(page, _LEFT, top - 0.1, held, size=9, weight="bold")
            _panel(_plot(figure, top, tall), found, name)
        for at, line in enumerate(below):
            write(page, _MARGIN, floor + _FOOT + _LINE * (at - 0.5), line, size=8)
    return figure


def columns_to_draw(weather: Weather) -> dict[str, str]:
    """Give the columns to draw and their words; the chance of rain too if rain is not there."""
    if weather.has(_CHANCE[0]) and not weather.has("precipitation"):
        return {**_COLUMNS, _CHANCE[0]: _CHANCE[1]}
    return _COLUMNS


def _title(weather: Weather) -> str:
    return f"{plain(weather.place.name) or weather.format}: which hours hold a number"


def _how(found: Shares) -> str:
    return (
        f"{_ROWS[found.by].capitalize()}, across it the clock hours from 0 to 23, "
        f"{found.time_zone}. The darker a cell, the larger the share of its hours that hold a "
        "number: solid all, dotted none, bare where the file has no hour."
    )


def _above(weather: Weather, found: Shares) -> list[str]:
    """Give the lines over the panels: what file it is, its span, its rows and its clock."""
    kind = {"observed": "station record"}.get(weather.kind, weather.kind)
    what = ", ".join(x for x in (weather.place.name, f"{kind} ({weather.format})") if x)
    span = "no hours"
    if weather.hours:
        first, last = (x.tz_convert(found.time_zone) for x in weather.times[[0, -1]])
        span = f"{first:%Y-%m-%d} to {last:%Y-%m-%d}, {weather.hours:,} hours"
    rows = f"{_ROWS[found.by].capitalize()}, across it the clock hour, {found.time_zone}."
    return [line for text in (what, span, rows) for line in wrap(text, _LETTERS)]


def _below(weather: Weather, columns: dict[str, str], found: Shares) -> list[str]:
    """Give the lines under the panels: what is nowhere, the longest gap, the credit."""
    texts = [
        f"{said}: nowhere in this file, so there is no panel."
        for name, said in columns.items()
        if not found.there[name].any()
    ]
    longest = longest_gap(gaps(weather))
    if longest is not None:
        hours = "1 hour" if longest.hours == 1 else f"{longest.hours:,} hours"
        first = longest.first.tz_convert(found.time_zone)
        texts.append(f"Longest gap: {hours} from {first:%Y-%m-%d %H:%M}.")
    texts += [weather.credit] if weather.credit else []
    return [line for text in texts for line in wrap(text, _LETTERS)]


def _row_height(rows: int) -> float:
    """Give how high a row is drawn [in]."""
    return min(max(_PANEL / max(rows, 1), _LOWEST), _TALLEST)


def _plot(figure: Figure, top: float, tall: float) -> Axes:
    """Give a panel at a distance from the top of the page."""
    wide, high = figure.get_size_inches()
    axes = figure.add_axes((_LEFT / wide, 1 - (top + tall) / high, _ACROSS / wide, tall / high))
    axes.set_xlim(0, CLOCK)
    for side in axes.spines.values():
        side.set_color(FAINT)
    axes.tick_params(labelsize=7.5, colors=INK, color=FAINT, length=2.5)
    return axes


def _panel(axes: Axes, found: Shares, name: str) -> None:
    """Draw the cells of a column, a number where one has room, and the labels."""
    rows = len(found.rows)
    height = _row_height(rows)
    axes.set_ylim(rows, 0)
    count = _of_100(found.share(name))
    shade = _shades(count)
    for at, (_, ink, _) in enumerate(_SHADES):
        for row in range(rows):
            runs = _runs(shade[row] == at)
            axes.broken_barh(runs, (row, 1), facecolor=ink, edgecolor=ink, lw=0.3)
    line: dict[str, Any] = {"color": "white", "lw": 0.5 if height >= _WRITTEN else 0.3}
    axes.hlines(range(1, rows), 0, CLOCK, **line)
    axes.vlines(range(1, CLOCK), 0, rows, **line)
    down, across = np.nonzero(count == 0)
    axes.scatter(across + 0.5, down + 0.5, s=min(3.0, 18.0 * height), color=INK, lw=0)
    if height >= _WRITTEN:
        _numbers(axes, count, shade)
    axes.set_xticks([x + 0.5 for x in range(0, CLOCK, 3)], [str(x) for x in range(0, CLOCK, 3)])
    places = _labelled(found, height)
    axes.set_yticks([x + 0.5 for x in places], [_label(found, x) for x in places])


def _of_100(share: Floats) -> Counts:
    """Round shares to so many of 100, 100 and 0 only where they are; -1 where no hour is."""
    count = np.clip(np.round(100.0 * np.nan_to_num(share)), 1, 99)
    count = np.where(share == 1.0, 100, np.where(share == 0.0, 0, count))
    return np.where(np.isnan(share), -1, count).astype(np.int64)


def _shades(count: Counts) -> Counts:
    """Give the place in ``_SHADES`` of every cell, -1 where none is."""
    shade = np.full(count.shape, -1)
    for at, (least, _, _) in reversed(list(enumerate(_SHADES))):
        shade[count >= least] = at
    return shade


def _runs(mask: Mask) -> list[tuple[float, float]]:
    """Give begin and length of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(float(x), float(y - x)) for x, y in edges.reshape(-1, 2)]


def _numbers(axes: Axes, count: Counts, shade: Counts) -> None:
    """Write how many of 100 hours hold a number where some do and some do not."""
    for row, hour in np.argwhere(shade > 0).tolist():
        ink = "white" if shade[row, hour] < _DARK else INK
        axes.text(hour + 0.5, row + 0.53, f"{count[row, hour]}", size=6.5, color=ink,
                  ha="center", va="center")  # fmt: skip


def _labelled(found: Shares, height: float) -> list[int]:
    """Give the rows that have a label, as many as there is room for."""
    step = next(
        (x for x in _EVERY[found.by] if x * height >= _LABELLED),
        math.ceil(_LABELLED / height),
    )
    begin = 0
    if found.by == "month" and step > 1:  # so that every January has its label
        begin = (1 - int(found.rows[0][-2:])) % step
    return list(range(begin, len(found.rows), step))


def _label(found: Shares, row: int) -> str:
    """Write what a row is: ``Apr 28``, ``Apr 2026`` or ``Apr``."""
    said = found.rows[row]
    if found.by == "day":
        return day(dt.date.fromisoformat(said))[4:]
    month = day(dt.date(2000, int(said[-2:]), 1)).split(" ")[1]
    return f"{month} {said[:4]}" if found.by == "month" else month


def _key(page: Axes, y: float, found: Shares, names: list[str]) -> None:
    """Draw what the shades say, those that occur and none."""
    drawn = {int(x) for name in names for x in np.unique(_shades(_of_100(found.share(name))))}
    x, square = _MARGIN, 0.12
    write(page, x, y, "Of 100 hours:" if drawn - {-1, 0} else "The hours:", size=8)
    x += 0.88
    for at, (_, ink, said) in enumerate(_SHADES):
        if at in drawn or at == 0:
            page.fill([x, x + square, x + square, x], [y - 0.06, y - 0.06, y + 0.06, y + 0.06],
                      color=ink, lw=0)  # fmt: skip
            write(page, x + square + 0.05, y, said, size=8)
            x += square + 0.17 + 0.062 * len(said)
    page.scatter([x + 0.06], [y], s=3.0, color=INK, lw=0)
    write(page, x + square + 0.05, y, _NONE, size=8)
