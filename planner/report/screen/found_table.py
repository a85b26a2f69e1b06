"""What ``inspect`` says of many weather files: a table, one row a file."""

from __future__ import annotations

import textwrap
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from planner.errors import PlannerError
from planner.report.availability import blank_hours
from planner.report.screen.first import WIDTH
from planner.report.words import of_100, plain, wrap
from planner.report.yard.fine_print import COUNTED
from planner.weather.archive import Archive

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.weather.table import Weather

_GUSTS: Final = {
    "hour maximum": "hour",
    "10-minute maximum": "10 min",
    "none": "none",
    "not said": "not said",
}
_TITLES: Final = ("format", "first day", "last day", "hours", "gusts", "blank", "doubts")
_NUMBERS: Final = frozenset({"hours", "blank", "doubts"})
_LONGEST: Final = 10  # letters of a format's name
_LEAST: Final = 12  # letters of a file's name
_CUT: Final = ".."
_FOOT: Final = (
    "Days are UTC. Gusts: the largest of the hour or of 10 minutes; blank: how many of "
    "100 hours have none; doubts: how many things to look at, which --full tells."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One file, or one place of it, in the table.

    Attributes
    ----------
    file : str
        Where it is.
    place : str
        Which of its places, if it holds several.
    cells : tuple of str
        What stands under each title but the file's; none if words are said instead.
    said : str
        Words instead of cells, cut where the line ends.
    """

    file: str
    place: str = ""
    cells: tuple[str, ...] = ()
    said: str = ""


def table_row(file: str, place: str, found: Weather | Archive | PlannerError) -> Row:
    """Say what was found in a file, in a row.

    Parameters
    ----------
    file : str
        Where it is.
    place : str
        Which of its places, if it holds several.
    found : Weather, Archive or PlannerError
        As read, or why it was refused.

    Returns
    -------
    Row
        For ``found_table``.
    """
    if isinstance(found, PlannerError):
        line = "" if found.line is None else f"line {found.line}: "
        return Row(file=file, place=place, said=f"refused: {line}{plain(found.message)}")
    if isinstance(found, Archive):
        issued = f"{found.issues[0]:%Y-%m-%d} to {found.issues[-1]:%Y-%m-%d}"
        said = f"{found.format} {len(found):,} forecasts, issued {issued}"
        return Row(file=file, place=place, said=said)
    return Row(file=file, place=place, cells=_cells(found))


def found_table(rows: Sequence[Row]) -> str:
    """Write what was found in many files, one row a file.

    Parameters
    ----------
    rows : sequence of Row
        In the order in which they are shown.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    full = [_TITLES, *(x.cells for x in rows if x.cells)]
    widths = [max(len(cells[at]) for cells in full) for at in range(len(_TITLES))]
    rest = WIDTH - sum(widths) - len(widths)
    names = _short(rows, max(rest, _LEAST))
    wide = max(len("file"), *map(len, names))
    lines = [f"{'file':<{wide}} {_line(_TITLES, widths)}"]
    for row, name in zip(rows, names, strict=True):
        room = WIDTH - wide - 1
        said = textwrap.shorten(row.said, room, placeholder=" ...")
        lines.append(f"{name:<{wide}} {_line(row.cells, widths) if row.cells else said}")
    return "\n".join(line.rstrip() for line in lines) + "\n\n" + "\n".join(wrap(_FOOT, WIDTH))


def _cells(weather: Weather) -> tuple[str, ...]:
    doubts = [x for x in weather.notes if x.doubt and x.code not in COUNTED]
    blank = blank_hours(weather, "wind_gust") / max(weather.hours, 1)
    none = weather.gust_meaning == "none"
    return (
        _cut(weather.format, _LONGEST, _LONGEST // 2),
        *(f"{x:%Y-%m-%d}" for x in weather.times[[0, -1]]),
        f"{weather.hours}",
        _GUSTS.get(weather.gust_meaning, weather.gust_meaning),
        "" if none else of_100(blank).removesuffix(" of 100"),
        f"{len(doubts)}",
    )


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    """Put cells side by side: words to the left, numbers to the right."""
    return " ".join(
        f"{cell:>{width}}" if title in _NUMBERS else f"{cell:<{width}}"
        for title, cell, width in zip(_TITLES, cells, widths, strict=True)
    )


def _short(rows: Sequence[Row], width: int) -> list[str]:
    """Give files their short names: without the folder unless two would be the same.

    Of a name that is too long a part is left out, if possible one that others share.
    """
    count = Counter(Path(file).name for file in {x.file for x in rows})
    names = [
        plain(Path(x.file).as_posix() if count[Path(x.file).name] > 1 else Path(x.file).name)
        for x in rows
    ]

    third = width // 3
    heads = [*range(third, width - len(_CUT)), *range(third - 1, 0, -1)]
    each = [
        [_name(x, row.place, (width, head)) for x, row in zip(names, rows, strict=True)]
        for head in heads
    ]
    counts = [Counter(short) for short in each]
    names = list(each[0])
    for at in range(len(rows)):
        alone = (x[at] for x, count in zip(each, counts, strict=True) if count[x[at]] == 1)
        names[at] = next(alone, names[at])
    return names


def _name(file: str, place: str, room: tuple[int, int]) -> str:
    width, head = room
    if not place:
        return _cut(file, width, head)
    place = _cut(plain(place), width // 2, width // 4)
    return f"{_cut(file, width - len(place) - 1, head)} {place}"


def _cut(text: str, width: int, head: int) -> str:
    """Leave out the middle of a text that is too long, after so many letters."""
    if len(text) <= width:
        return text
    head = min(head, width - len(_CUT) - 1)
    return f"{text[:head]}{_CUT}{text[head + len(_CUT) - width :]}"
