"""How chances held, as a picture narrow enough for a phone and plain enough for print.

One ink: dots where chance said and share that held meet, the larger the more windows;
on the diagonal what was said is what came. Bars below count the windows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from planner.report.picture.day_sheet import FAINT, INK, STYLE, whole_page, write
from planner.report.screen.replay import doubts, how_chances_held, played
from planner.report.words import plain, wrap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from planner.history.records import Replay, Tenth

_WIDE, _MARGIN, _LEFT, _RIGHT = 4.6, 0.3, 0.75, 0.35  # [in]
_TOP, _GAP, _BARS, _FOOT, _LINE, _APART = 0.64, 0.62, 0.8, 0.62, 0.165, 0.06  # [in]
_SQUARE: Final = _WIDE - _LEFT - _RIGHT
_ABOVE, _BELOW = 65, 60  # letters in a line over and under the picture
_SMALLEST, _LARGEST = 14.0, 150.0  # areas of the dots [points squared]
_HOW: Final = (
    "Across, the chance that was said; up, the share of those windows that held; on the "
    "diagonal both are the same. Bars below count the windows in each tenth of chance."
)


def reliability_figure(replay: Replay) -> Figure:
    """Draw the share that held against the chance that was said, and count the windows.

    Parameters
    ----------
    replay : Replay
        Past forecasts played against what happened.

    Returns
    -------
    matplotlib.figure.Figure
        Its label is the title that ``chart_bytes`` writes.

    Notes
    -----
    A tenth of chance without a window has neither dot nor bar.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    texts = (how_chances_held(replay.tenths), *played(replay))
    above = [line for text in texts for line in wrap(text, _ABOVE)]
    below = _below(replay)
    top = _TOP + _LINE * len(above)
    floor = top + _SQUARE + _GAP + _BARS
    high = floor + _FOOT + sum(_LINE * len(lines) + _APART for lines in below)
    full = [x for x in replay.tenths if x.cases]
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(_WIDE, high), label=f"{plain(replay.job)}: how chances held")
        page = whole_page(figure, how=_HOW)
        write(page, _MARGIN, 0.3, "How chances held", size=14, weight="bold")
        for at, line in enumerate(above):
            write(page, _MARGIN, 0.56 + _LINE * at, line, size=8.5)
        _dots(_plot(figure, top, _SQUARE), replay.tenths)
        _bars(_plot(figure, top + _SQUARE + _GAP, _BARS), full)
        y = floor + _FOOT
        for lines in below:
            for line in lines:
                write(page, _MARGIN, y, line, size=8)
                y += _LINE
            y += _APART
    return figure


def _plot(figure: Figure, top: float, tall: float) -> Axes:
    """Give a plot at a distance from the top of the page, chances in 100 across it."""
    wide, high = figure.get_size_inches()
    axes = figure.add_axes((_LEFT / wide, 1 - (top + tall) / high, _SQUARE / wide, tall / high))
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(FAINT)
    axes.tick_params(labelsize=8, colors=INK, color=FAINT, length=3)
    axes.set_axisbelow(True)
    axes.set_xlim(0.0, 100.0)
    axes.set_xticks(range(0, 101, 20))
    return axes


def _dots(axes: Axes, tenths: Sequence[Tenth]) -> None:
    """Draw a dot for each tenth with windows, a line between those of tenths side by side."""
    axes.set_ylim(0.0, 100.0)
    axes.set_yticks(range(0, 101, 20))
    axes.grid(color=FAINT, lw=0.4)
    axes.plot([0.0, 100.0], [0.0, 100.0], color=INK, lw=0.7, ls=(0, (4, 3)))
    axes.plot(*_places(tenths), color=INK, lw=0.9)
    full = [x for x in tenths if x.cases]
    most = max((x.cases for x in full), default=1)
    areas = [_SMALLEST + (_LARGEST - _SMALLEST) * x.cases / most for x in full]
    look: dict[str, Any] = {"color": INK, "edgecolors": "white", "lw": 0.7, "clip_on": False}
    axes.scatter(*_places(full), s=areas, zorder=3, **look)
    behind = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
    place: dict[str, Any] = {"size": 8, "style": "italic", "color": INK, "bbox": behind}
    axes.text(3.0, 96.0, "held more often than said", va="top", **place)
    axes.text(97.0, 4.0, "held less often than said", ha="right", **place)
    axes.set_xlabel("chance said, of 100", size=8.5, color=INK)
    axes.set_ylabel("held, of 100", size=8.5, color=INK)


def _places(tenths: Sequence[Tenth]) -> tuple[list[float], list[float]]:
    """Give chance said and share held, both in 100."""
    return [100.0 * x.mean_chance for x in tenths], [100.0 * x.share_held for x in tenths]


def _bars(axes: Axes, full: list[Tenth]) -> None:
    """Count the windows of each tenth; thousands where the number is too wide."""
    cases = [x.cases for x in full]
    middles = [50.0 * (x.low + x.high) for x in full]
    axes.bar(middles, cases, width=7.0, facecolor="white", edgecolor=INK, lw=0.9)
    for middle, count in zip(middles, cases, strict=True):
        text = f"{count}" if count < 10_000 else f"{count / 1000:.0f}k"
        axes.annotate(text, (middle, count), (0, 2), textcoords="offset points",
                      ha="center", va="bottom", size=7.5, color=INK)  # fmt: skip
    axes.set_ylim(0.0, 1.25 * max(cases, default=1))
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("windows in each tenth of chance", size=8.5, color=INK)


def _below(replay: Replay) -> list[list[str]]:
    """Give the paragraphs under the picture, in lines: cautions and credits."""
    first = "The larger a dot, the more windows."
    texts = [first, *doubts(replay), *replay.credits]
    return [wrap(text, _BELOW) for text in texts]
