"""What ``learn`` says on a terminal: how far forecasts missed, and what comes next."""

from __future__ import annotations

import math
import shlex
from typing import TYPE_CHECKING, Final

from planner.report.screen.first import item, items
from planner.report.words import Words
from planner.units import SHOWN, show

if TYPE_CHECKING:
    import pandas as pd

    from planner.history.misses import Learned, Miss

_NONE: Final = "-"  # where there is no number
_NAMES: Final = {
    "gust": ("Gust", "speed"),
    "wind": ("Mean wind", "speed"),
    "temp": ("Air", "temperature difference"),
}
_ROWS: Final = {
    "as_it_comes": "as it comes",
    "after": "set right",
    "too_high": "too high by",
    "lasts": "lasts, h",
}
_NAME, _WHAT, _CELL = 17, 14, 8  # columns of a name, of what is said of it, of a number
_HELD_AGAINST: Final = {
    "analysis": "an analysis, which is not a meter at the place: real misses are larger",
    "station": "what a station measured",
}
_NOTES: Final = (
    "As it comes and set right: root mean squares, the latter of the hours that were learned "
    "from; new days will come out a little worse. Lasts: hours until an error is down to half."
)


def learn_text(learned: Learned, *, units: str) -> str:
    """Write what an error table was learned from, and how far forecasts missed.

    Parameters
    ----------
    learned : Learned
        The table and what it was learned from.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII, but for a file's name.
    """
    sections = [
        _header(learned),
        _misses(learned.misses, units),
        [
            *items("Doubts", learned.notes),
            *items("Weather", learned.credits),
        ],
        [
            f"The table is in {learned.file}",
            f"Next: planner windows JOB WEATHER --error {shlex.quote(learned.file)}",
        ],
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def _header(learned: Learned) -> list[str]:
    words, error = Words(units="si", time_zone=learned.time_zone), learned.error

    def date(time: pd.Timestamp) -> str:
        return f"{words.day(time)}, {words.date(time).year}"

    north, east = error.latitude, error.longitude
    where = f"{abs(north):.2f} {'N' if north >= 0 else 'S'}"
    where += f" {abs(east):.2f} {'E' if east >= 0 else 'W'}"
    leaning = (
        "The table leans on the one that comes with the planner: few pairs change that little."
        if learned.leans_on
        else "The table stands alone, on these pairs and no other."
    )
    return [
        *item("", f"How far forecasts missed at {where}", width=0),
        *item(
            "",
            f"{learned.forecasts:,} forecasts, {date(learned.first)} to {date(learned.last)}; "
            f"{error.cases:,} hours held against {_HELD_AGAINST[error.truth]}.",
            width=0,
        ),
        *item("", leaning, width=0),
    ]


def _misses(misses: tuple[Miss, ...], units: str) -> list[str]:
    if not misses:
        return []
    days = sorted({miss.days_ahead for miss in misses})
    head = "Typical miss, by days ahead"
    lines = [f"{head:<{_NAME + _WHAT}}{''.join(f'{day:>{_CELL}}' for day in days)}"]
    for which, (name, dimension) in _NAMES.items():
        of = {miss.days_ahead: miss for miss in misses if miss.quantity == which}
        label = f"{name}, {SHOWN[units][dimension][0]}"
        for row, what in _ROWS.items():
            cells = (_cell(getattr(of[day], row), dimension, units, row) for day in days)
            lines.append(f"{label:<{_NAME}}{what:<{_WHAT}}{''.join(cells)}".rstrip())
            label = ""
    return [*lines, *item("", _NOTES, width=0)]


def _cell(miss: float, dimension: str, units: str, row: str) -> str:
    if not math.isfinite(miss):
        return f"{_NONE:>{_CELL}}"
    if row == "lasts":
        return f"{miss:>{_CELL}.0f}"
    text = show(miss, dimension, units, decimals=1, unit=False)
    signed = row == "too_high" and float(text) > 0.0
    return f"{'+' * signed + text:>{_CELL}}"
