"""Typical years for building models, EPW and TMY3, through pvlib's readers.

Such a year is put together from months of different years. It is no record of
any one of them, and it has no gusts. Times are local standard time the year
round and name the END of the hour; states are those at that time, sunlight and
rain are of the hour before it.
"""

from __future__ import annotations

import csv
import datetime as dt
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import pandas as pd

from planner.errors import WeatherError
from planner.weather.hourly.clean import plural

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.weather.table import Floats

#: Months of several years are put into this one, of 365 days.
ONE_YEAR: Final = 2001

#: A year of rain with more than these is in tenths of its unit. Assumed: no place in a
#: typical year comes near either, and of the two TMY3 files that pvlib ships one has
#: 500 "mm" in an hour and the other 255.
_MOST_RAIN_HOUR: Final = 100.0  # mm
_MOST_RAIN_YEAR: Final = 5_000.0  # mm


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """How one kind of file is laid out; columns by the names that pvlib gives them."""

    head: int  # lines above the first row [-]
    place: tuple[int, int, int, int, int]  # name, latitude, longitude, zone, elevation
    fields: tuple[int, ...]  # that must be numbers or empty, from 0; else by the header
    columns: dict[str, tuple[str, float, float]]  # ours: theirs, scale, missing from here on
    depth: str
    hours: str

    @property
    def named(self) -> tuple[str, ...]:
        """The columns that must stand in the header, where the last line of head is one."""
        return () if self is _EPW else tuple(theirs for theirs, *_ in self.columns.values())


# Meanings: EnergyPlus documentation, "Auxiliary Programs", EPW data dictionary; a number
# as large as the one given there is missing.
_EPW: Final = _Layout(
    head=8,
    place=(1, 6, 7, 8, 9),
    fields=(6, 7, 8, 9, 13, 20, 21, 22, 33, 34),
    columns={
        "temp_air": ("temp_air", 1.0, 99.9),
        "temp_dew": ("temp_dew", 1.0, 99.9),
        "relative_humidity": ("relative_humidity", 1.0, 999.0),
        "pressure": ("atmospheric_pressure", 1.0, 999_999.0),
        "ghi": ("ghi", 1.0, 9999.0),
        "wind_direction": ("wind_direction", 1.0, 999.0),
        "wind_speed": ("wind_speed", 1.0, 999.0),
        "cloud_cover": ("total_sky_cover", 10.0, 99.0),
    },
    depth="liquid_precipitation_depth",
    hours="liquid_precipitation_quantity",
)

# Meanings: Wilcox and Marion 2008, "Users Manual for TMY3 Data Sets", NREL/TP-581-43156,
# tables 1-1 to 1-3; -9900 is missing.
_TMY3: Final = _Layout(
    head=2,
    place=(1, 4, 5, 3, 6),
    fields=(),
    columns={
        "temp_air": ("Dry-bulb (C)", 1.0, np.inf),
        "temp_dew": ("Dew-point (C)", 1.0, np.inf),
        "relative_humidity": ("RHum (%)", 1.0, np.inf),
        "pressure": ("Pressure (mbar)", 100.0, np.inf),
        "ghi": ("GHI (W/m^2)", 1.0, np.inf),
        "wind_direction": ("Wdir (degrees)", 1.0, np.inf),
        "wind_speed": ("Wspd (m/s)", 1.0, np.inf),
        "cloud_cover": ("TotCld (tenths)", 10.0, 99.0),
    },
    depth="Lprecip depth (mm)",
    hours="Lprecip quantity (hr)",
)
_LAYOUTS: Final = {"epw": _EPW, "tmy3": _TMY3}


def read_typical(
    text: str, kind: Literal["epw", "tmy3"], file: str
) -> tuple[pd.DataFrame, dict[str, str]]:
    """Read a typical year.

    Parameters
    ----------
    text : str
        The whole file.
    kind : {"epw", "tmy3"}
        Which of the two it is.
    file : str
        Its name, for messages.

    Returns
    -------
    tuple of pandas.DataFrame and dict of str to str
        Columns and units of the weather table, at the labels of the file in UTC (the
        ends of the hours); latitude, longitude, elevation and name of the place, and
        under ``note.CODE`` what has to be said of the file.

    Raises
    ------
    WeatherError
        If a line is broken, the hours do not follow each other, or the head lacks
        the place.

    Notes
    -----
    Rain counts only where it is of one hour: sums over 3, 6 or 24 h overlap those
    of one hour and each other. A year without a drop is one in which rain was not
    recorded, so it has no rain.
    """
    layout = _LAYOUTS[kind]
    rows = [_cells(line) for line in text.splitlines()]
    _check_head(rows, layout, file)
    lines = _check_rows(rows, layout, file)
    dates = _dates(rows, lines, kind, file)
    years = sorted({year for year, _, _ in dates})
    if len(years) > 1:
        _set_in_one_year(rows, lines, dates, kind=kind, file=file)
    data, labels = _by_pvlib(rows, kind, file)
    _check_hourly(labels, lines, file)
    meta = {
        key: rows[0][at].strip()
        for key, at in zip(
            ("name", "latitude", "longitude", "elevation"),
            [layout.place[i] for i in (0, 1, 2, 4)],
            strict=True,
        )
    }
    meta["note.typical_year"] = _say_years(years)
    table = pd.DataFrame(index=labels.rename("time"))
    for ours, (theirs, scale, missing) in layout.columns.items():
        values = data[theirs].to_numpy(np.float64)
        known = (values < missing) & (values > -9900.0)
        table[ours] = np.where(known, values * scale, np.nan)
    rain = _rain(data, layout, meta)
    if rain is not None:
        table["precipitation"] = rain
    return table, meta


def _cells(line: str) -> list[str]:
    """Split a line; a quotation mark that is not closed does not run on into the next."""
    try:
        return next(csv.reader([line]), [])
    except csv.Error:  # a field of over 131,072 letters
        return [line]


def _check_head(rows: list[list[str]], layout: _Layout, file: str) -> None:
    first = rows[0] if rows else []
    try:
        numbers = [float(first[at]) for at in layout.place[1:]]
    except (IndexError, ValueError) as err:
        raise WeatherError(
            "The first line does not give name, latitude, longitude, time zone and elevation.",
            fix="Download the file again.",
            file=file,
            line=1,
        ) from err
    latitude, longitude, zone, _ = numbers
    if abs(latitude) > 90.0 or abs(longitude) > 180.0 or abs(zone) > 14.0:
        raise WeatherError(
            "The first line gives a place or a time zone that is nowhere.",
            fix="Download the file again.",
            file=file,
            line=1,
        )
    periods = rows[7] if len(rows) > 7 and rows[7] else [""]
    if periods[0].strip().upper() == "DATA PERIODS" and periods[2:3] != ["1"]:
        raise WeatherError(
            f"It has {', '.join(periods[2:3])} rows an hour; the planner reads hourly data.",
            fix="Take the hourly file.",
            file=file,
            line=8,
        )


def _check_rows(rows: list[list[str]], layout: _Layout, file: str) -> list[int]:
    """Check that every row is whole and its numbers are numbers; give their places."""
    header = (
        [cell.strip() for cell in rows[layout.head - 1]] if len(rows) >= layout.head else []
    )
    lacking = [name for name in layout.named if name not in header]
    if lacking:
        raise WeatherError(
            f"The header lacks {lacking[0]}.",
            fix="Download the file again.",
            file=file,
            line=layout.head,
        )
    names = (*layout.named, layout.depth, layout.hours)
    fields = layout.fields or [header.index(name) for name in names if name in header]
    least, most = (len(header), len(header)) if layout is _TMY3 else (22, 35)
    lines = [at for at, row in enumerate(rows) if at >= layout.head and row]
    if not lines:
        fix = "Save or download it again."
        raise WeatherError("There is a header but no data below it.", fix=fix, file=file)
    for at in lines:
        row = rows[at]
        if not least <= len(row) <= most:
            raise WeatherError(
                f"This line has {len(row)} fields where {most} are due.",
                fix="Mend the line or take it out.",
                file=file,
                line=at + 1,
            )
        for place in fields:
            if place < len(row) and row[place].strip() and not _is_number(row[place]):
                raise WeatherError(
                    f'"{row[place]}" is not a number (field {place + 1}).',
                    fix="Mend it.",
                    file=file,
                    line=at + 1,
                )
    return lines


def _is_number(word: str) -> bool:
    try:
        return bool(np.isfinite(float(word)))
    except ValueError:
        return False


def _dates(
    rows: list[list[str]], lines: Sequence[int], kind: str, file: str
) -> list[tuple[int, int, int]]:
    """Give year, month and day of every row."""
    dates = []
    for at in lines:
        row = rows[at]
        words = row[:3] if kind == "epw" else [*row[0].split("/"), "", ""][2::-1]
        clock = row[3] if kind == "epw" else row[1].partition(":")[0]
        try:
            year, second, third = (int(word) for word in words)
            month, day = (second, third) if kind == "epw" else (third, second)
            dt.date(year, month, day)
            if not 0 <= int(clock) <= 24:
                raise ValueError(clock)
        except ValueError as err:
            raise WeatherError(
                "This is no date and hour.", fix="Mend the line.", file=file, line=at + 1
            ) from err
        dates.append((year, month, day))
    return dates


def _set_in_one_year(
    rows: list[list[str]],
    lines: Sequence[int],
    dates: Sequence[tuple[int, int, int]],
    *,
    kind: str,
    file: str,
) -> None:
    for at, (_, month, day) in zip(lines, dates, strict=True):
        if (month, day) == (2, 29):
            raise WeatherError(
                "A year put together from several has 365 days, yet this is 29 February.",
                fix="Take that day out.",
                file=file,
                line=at + 1,
            )
        rows[at][0] = str(ONE_YEAR) if kind == "epw" else f"{month:02d}/{day:02d}/{ONE_YEAR}"


def _say_years(years: list[int]) -> str:
    if len(years) == 1:
        return (
            f"All months are of {years[0]}; files of this kind are as a rule put together "
            "as typical and are no record. They have no gusts."
        )
    return (
        f"A typical year, put together from months of {years[0]} to {years[-1]} and set in "
        f"{ONE_YEAR}; it is no record of any year, and it has no gusts."
    )


def _by_pvlib(
    rows: list[list[str]], kind: str, file: str
) -> tuple[pd.DataFrame, pd.DatetimeIndex]:
    """Let pvlib read it; give its table and the ends of the hours, UTC.

    pvlib 0.11 takes only the name of a file, so the text is put into one. Commas in
    the name of the place would shift its fields; its own change of year takes the last
    row for the end of December.
    """
    from pvlib import iotools

    lines = [",".join(cell.replace(",", " ") for cell in row) for row in rows if row]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "year.csv"
        path.write_text("\n".join(lines) + "\n", encoding="ascii", errors="replace")
        try:
            if kind == "epw":
                data, _ = iotools.read_epw(str(path))
            else:
                data, _ = iotools.read_tmy3(str(path), map_variables=False)
        except (ValueError, KeyError, IndexError, AttributeError) as err:
            raise WeatherError(
                f"It cannot be read as {kind.upper()} ({err}).",
                fix="Download the file again.",
                file=file,
            ) from err
    labels = pd.DatetimeIndex(data.index).tz_convert("UTC").as_unit("ns")
    # pvlib labels EPW hours by their start, TMY3 hours by their end.
    return data, labels + pd.Timedelta(hours=1) if kind == "epw" else labels


def _check_hourly(labels: pd.DatetimeIndex, lines: Sequence[int], file: str) -> None:
    odd = np.flatnonzero(np.diff(labels.to_numpy()) != np.timedelta64(1, "h"))
    if odd.size:
        raise WeatherError(
            "This hour does not follow the one before it.",
            fix="Download the file again; a typical year has every hour once.",
            file=file,
            line=lines[int(odd[0]) + 1] + 1,
        )


def _rain(
    data: pd.DataFrame, layout: _Layout, meta: dict[str, str]
) -> NDArray[np.float64] | None:
    """Give the rain of each hour [mm], None where it was not recorded."""
    if layout.depth not in data or layout.hours not in data:
        return None
    depth: Floats = data[layout.depth].to_numpy(np.float64)
    hours: Floats = data[layout.hours].to_numpy(np.float64)
    known = (depth >= 0.0) & (depth < 999.0)
    dry = known & (depth == 0.0) & ~(hours > 1.0)
    of_hour = (known & (hours == 1.0)) | (dry & (hours >= 0.0))
    longer = int((known & (hours > 1.0) & (hours < 99.0)).sum())
    if longer:
        meta["note.rain_over_hours"] = (
            f"In {plural(longer, 'hour')} rain is given as a sum over several; these overlap "
            "each other and were left out."
        )
    rain = np.where(of_hour, depth, np.nan)
    if not of_hour.any():
        return None
    if float(np.nansum(rain)) == 0.0:
        meta["note.no_rain"] = "Not a drop of rain in the whole year: it was not recorded."
        return None
    if np.nanmax(rain) > _MOST_RAIN_HOUR or np.nansum(rain) > _MOST_RAIN_YEAR:
        meta["note.rain_in_tenths"] = (
            f"Rain is {np.nanmax(rain):g} mm in one hour and {np.nansum(rain):,.0f} mm in the "
            "year as printed, so it was read as tenths of a millimetre."
        )
        rain = rain / 10.0
    return rain
