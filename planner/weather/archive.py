"""Read an archive: forecasts of many issue times in one table, each an ordinary forecast.

The rows are read, converted and looked over as those of any weather file. Then the
forecasts are laid end to end on one line of hours, a few empty hours apart, so that the
grid of one forecast serves for all of them and nothing is carried from one to the next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import GapTooLong, WeatherError
from planner.weather.formats.maps import LABELS
from planner.weather.found import check_rows, find_rows, given, origins
from planner.weather.hourly.about import EXAMPLE, check_word, choose_label, place_of
from planner.weather.hourly.clean import plural, utc_text
from planner.weather.hourly.grid import to_hours
from planner.weather.table import LONGEST_FORECAST, Note, Weather

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.weather.formats.maps import Label
    from planner.weather.found import Found, Source
    from planner.weather.hourly.rows import Rows
    from planner.weather.table import Floats, GustMeaning, WeatherPlace

    Times = NDArray[np.datetime64]
    Counts = NDArray[np.int64]

_HOUR: Final = np.timedelta64(3_600_000_000_000, "ns")
_BETWEEN: Final = 3  # empty hours between two forecasts, more than are ever filled [-]
_LONGEST_LEAD: Final = np.timedelta64(LONGEST_FORECAST, "D")
_MOST_HOURS: Final = 2_500_000  # of all forecasts together: what a clock in ns can count [-]
_LEAST_SHARE: Final = 0.2  # of the hours from first to last must be there [-]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Archive:
    """Forecasts of one place, by the time they were issued.

    Attributes
    ----------
    issues : pandas.DatetimeIndex, shape (forecasts,)
        When each was issued, UTC, in order.
    times : pandas.DatetimeIndex
        Starts of the hours of all forecasts, one after another, UTC.
    values : dict of str to numpy.ndarray, shape (1, hours of all forecasts)
        By column name, units as in ``COLUMNS``; read-only.
    begins, ends : numpy.ndarray, shape (forecasts,)
        Where the hours of each forecast begin and end in ``times`` [-].
    place : WeatherPlace
        Where they are for.
    format, credit, file : str
        Name of the format, whom to name on every face, the (first) file.
    gust_meaning : str
        What the gust column holds.
    gust_resolution : float
        Step to which gusts are rounded [m/s].
    notes : tuple of Note
        What reading found, assumed or doubts, of the archive as a whole.
    """

    issues: pd.DatetimeIndex
    times: pd.DatetimeIndex
    values: dict[str, Floats]
    begins: Counts
    ends: Counts
    place: WeatherPlace
    format: str
    credit: str
    file: str
    gust_meaning: GustMeaning
    gust_resolution: float
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        for array in (*self.values.values(), self.begins, self.ends):
            array.setflags(write=False)

    def __len__(self) -> int:
        return len(self.issues)

    @property
    def latitude(self) -> float | None:
        """Degrees north, None if the file does not say."""
        return self.place.latitude

    @property
    def longitude(self) -> float | None:
        """Degrees east, None if the file does not say."""
        return self.place.longitude

    @property
    def hours(self) -> Counts:
        """How many hours each forecast spans."""
        return self.ends - self.begins

    def weather(self, i: int) -> Weather:
        """Give one forecast as any other: hourly, missing hours NaN, no copy made.

        Parameters
        ----------
        i : int
            Its place in ``issues``, from 0.

        Returns
        -------
        Weather
            Of one member. Its notes are empty: see those of the archive.

        Raises
        ------
        IndexError
            If there are not so many.
        """
        hours = slice(self.begins[i], self.ends[i])
        values = {name: value[:, hours] for name, value in self.values.items()}
        return Weather(
            times=self.times[hours],
            values=values,
            weights=np.ones(1),
            kind="forecast",
            origin=origins(values),
            issued=self.issues[i],
            issued_from="column",
            place=self.place,
            format=self.format,
            credit=self.credit,
            gust_meaning=self.gust_meaning if given(values, "wind_gust") else "none",
            gust_resolution=self.gust_resolution,
        )

    def between(self, first: pd.Timestamp, last: pd.Timestamp) -> Archive:
        """Give the forecasts that were issued in a stretch of time.

        Parameters
        ----------
        first, last : pandas.Timestamp
            The stretch; a forecast issued at ``last`` is not in it.

        Returns
        -------
        Archive
            The smaller archive, perhaps an empty one.
        """
        begin, end = (int(self.issues.searchsorted(time)) for time in (first, last))
        return replace(
            self,
            issues=self.issues[begin:end],
            begins=self.begins[begin:end],
            ends=self.ends[begin:end],
        )


def read_archive(
    source: Source | Sequence[Source],
    *,
    format: str | None = None,  # noqa: A002 - the word of the command line
    zone: str | None = None,
    label: str | None = None,
    location: str | None = None,
) -> Archive:
    """Read a table of many forecasts, each row with the time its forecast was issued.

    Such archives are what forecasts are tried against: what was said, and when.
    The plain format is the planner's own CSV with one more column, ``issued``.

    Parameters
    ----------
    source : path or Raw, or a sequence of them
        A file, as for ``read_weather``, or several of one place.
    format : str, optional
        Name of a format, where the content does not tell.
    zone : str, optional
        Clock of times that have no offset, of hours and issues both.
    label : {"start", "end"}, optional
        What a row's time says, if other than the format's rule.
    location : str, optional
        Which place, where a file holds several.

    Returns
    -------
    Archive
        The forecasts in order of issue.

    Raises
    ------
    WeatherError
        If the file cannot be read or trusted; if it has no column of issue times or
        only one forecast; if a row is for a time before its issue or 35 days after
        it, or stands twice.
    UnknownFormat, MissingColumn, GapTooLong
        As for ``read_weather``.

    Notes
    -----
    A row may be for the hour in which its forecast was issued. In an archive whose
    rows label the end of their hour, the first hour of a forecast so begins before
    its issue, and knows rain and gust only.
    """
    check_word("label", label, LABELS, file=None)
    notes: list[Note] = []
    found = find_rows(source, format=format, zone=zone, location=location, notes=notes)
    rows, issued = _by_issue(found, notes)
    rule = _label(found, label)
    issues, first, count = np.unique(issued, return_index=True, return_counts=True)
    _check_times(rows, issued)
    _refuse_one(issues, file=rows.files[0])
    rows = check_rows(rows, notes)
    step = found.gust_resolution(rows, notes)
    times, values, hours = _hours(found.labelled(rows, rule), rule, (first, count), notes)
    ends = np.cumsum(hours)
    return Archive(
        issues=pd.DatetimeIndex(issues, tz="UTC", name="issued"),
        times=pd.DatetimeIndex(times, tz="UTC", name="time"),
        values=values,
        begins=ends - hours,
        ends=ends,
        place=place_of(found.meta, found.place, rows.files[0], notes=notes),
        format=found.format.name,
        credit=found.meta.get("credit") or found.format.credit,
        file=rows.files[0],
        gust_meaning=found.gust_meaning if given(values, "wind_gust") else "none",
        gust_resolution=step,
        notes=tuple(notes),
    )


def _by_issue(found: Found, notes: list[Note]) -> tuple[Rows, Times]:
    """Give the rows and their issue times in order of issue, then of time."""
    rows, file = found.rows, found.rows.files[0]
    if rows.issues is None:
        name = found.format.layout.get("issue")
        raise WeatherError(
            "No column says when each forecast was issued, so this is no archive.",
            fix=f'It must be named "{name}".'
            if name
            else f"A {found.format.name} file holds one forecast or record. Save the forecasts "
            "as plain CSV: issued,time,temp_air,wind_speed,wind_gust,precipitation.",
            file=file,
            key=name,
        )
    check_word("kind", found.meta.get("kind"), ("forecast", EXAMPLE), file=file)
    order = np.lexsort((rows.labels, rows.issues))
    if (np.diff(order) != 1).any():
        text = "The rows were not in order of issue and time; sorted."
        notes.append(Note(code="sorted", text=text))
    return rows.take(order), rows.issues[order]


def _label(found: Found, label: str | None) -> Label:
    file = found.rows.files[0]
    rule = choose_label(label, found.meta, file, default=found.format.label)
    if rule == "closes":
        raise WeatherError(
            "A forecast is for whole hours; only reports close one at any minute.",
            fix="Use --label start or --label end.",
            file=file,
            key="label",
        )
    return rule


def _refuse_one(issues: Times, *, file: str) -> None:
    if issues.size == 1:
        raise WeatherError(
            f"It holds one forecast only, issued {utc_text(issues[0])}; an archive is many.",
            fix="Read it as a forecast: planner windows JOB FILE.",
            file=file,
            key="issued",
        )


def _check_times(rows: Rows, issues: Times) -> None:
    """Refuse rows from before their issue, from far after it, and doubled ones."""
    ahead = rows.labels - issues.astype("datetime64[h]").astype("datetime64[ns]")
    none = np.timedelta64(0, "ns")
    for wrong, how in (
        (ahead < none, "before its forecast was issued, at"),
        (ahead > _LONGEST_LEAD, "over 35 days after its forecast was issued, at"),
    ):
        if wrong.any():
            row = int(np.flatnonzero(wrong)[np.argmin(rows.lines[wrong])])
            raise WeatherError(
                f"This row is for {utc_text(rows.labels[row])}, {how} {utc_text(issues[row])}.",
                fix="Check its two times and the clock they are in, or take the row out.",
                file=rows.file_of(row),
                line=int(rows.lines[row]),
            )
    twice = np.flatnonzero((np.diff(issues) == none) & (np.diff(rows.labels) == none))
    if twice.size:
        row = int(twice[0])
        raise WeatherError(
            f"{utc_text(rows.labels[row])} of the forecast issued {utc_text(issues[row])} is "
            f"there already, in {rows.where(row)}.",
            fix=f"Take one of the rows out ({plural(twice.size, 'row')} too many).",
            file=rows.file_of(row + 1),
            line=int(rows.lines[row + 1]),
        )


def _hours(
    rows: Rows, label: Label, runs: tuple[Counts, Counts], notes: list[Note]
) -> tuple[Times, dict[str, Floats], Counts]:
    """Put each forecast on its hours; give starts, columns and hours of each.

    ``runs`` says where the rows of each forecast begin, and how many they are.
    """
    first, count = runs
    begin = rows.labels[first]
    hours = (rows.labels[first + count - 1] - begin) // _HOUR + 1
    _check_count(rows, hours)
    along = np.cumsum(hours + _BETWEEN) - (hours + _BETWEEN)
    whole = begin.astype("datetime64[h]").astype("datetime64[ns]")
    zero = np.datetime64(0, "ns")
    line = zero + np.repeat(along * _HOUR - (whole - zero), count) + (rows.labels - zero)
    told: list[Note] = []
    starts, values = to_hours(replace(rows, labels=line), label, told)
    _note_gaps(hours - count, notes)
    notes += [note for note in told if note.code != "gaps"]
    total = int(hours.sum())
    within = np.arange(total) - np.repeat(np.cumsum(hours) - hours, hours)
    place = np.repeat(along, hours) + within
    early = line[0] - starts[0]
    times = np.repeat(begin - early, hours) + within * _HOUR
    return times, {name: value[:, place] for name, value in values.items()}, hours


def _check_count(rows: Rows, hours: Counts) -> None:
    file, total = rows.files[0], int(hours.sum())
    if rows.labels.size < 2 * hours.size:
        raise WeatherError(
            f"It holds {plural(rows.labels.size, 'row')} for {hours.size:,} forecasts; the "
            "planner reads hourly forecasts.",
            fix="Check the column of issue times, or get all the hours of each forecast.",
            file=file,
        )
    if rows.labels.size < _LEAST_SHARE * total:
        raise GapTooLong(
            f"Of the {total:,} hours from the first to the last of its forecasts only "
            f"{rows.labels.size:,} are in the file.",
            fix="Get hourly forecasts, or take out rows with a wrong date.",
            file=file,
        )
    if total + _BETWEEN * hours.size > _MOST_HOURS:
        raise WeatherError(
            f"Its forecasts have {total:,} hours together, more than can be read at once.",
            fix="Cut it into files of some years.",
            file=file,
        )


def _note_gaps(lacking: Counts, notes: list[Note]) -> None:
    forecasts = int((lacking > 0).sum())
    if forecasts:
        text = (
            f"{plural(int(lacking.sum()), 'hour')} not in the file, in "
            f"{forecasts:,} of {plural(lacking.size, 'forecast')}."
        )
        notes.append(Note(code="gaps", text=text))
