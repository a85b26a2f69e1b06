"""Times that stand in several columns of numbers: day and hour, year to minute."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.weather.hourly.columns import Numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.file.sheet import Sheet
    from planner.weather.formats.maps import Field
    from planner.weather.table import Floats

    Times = NDArray[np.datetime64]

#: What a column of numbers can hold, and into which parts it falls, by their size.
_PACKED: Final = {
    "yyyymmdd": (("year", 10_000), ("month", 100), ("day", 1)),
    "yyyymmddhh": (("year", 1_000_000), ("month", 10_000), ("day", 100), ("hour", 1)),
    "hhmm": (("hour", 100), ("minute", 1)),
    "year": (("year", 1),),
    "month": (("month", 1),),
    "day": (("day", 1),),
    "hour": (("hour", 1),),
    "minute": (("minute", 1),),
}
_PARTS: Final = ("year", "month", "day", "hour", "minute")


def times_of_parts(sheet: Sheet, fields: list[Field]) -> Times:
    """Put times together from the columns that ``time.parts`` of a map describes.

    Parameters
    ----------
    sheet : Sheet
        The table.
    fields : list of Field
        The columns, one for each word of ``time.parts``: "yyyymmdd", "yyyymmddhh",
        "hhmm", "year", "month", "day", "hour" (0 to 24) or "minute".

    Returns
    -------
    numpy.ndarray of datetime64[ns], shape (rows,)
        The times on the file's clock.

    Raises
    ------
    WeatherError
        If a number is no date or no time of day.
    """
    numbers = Numbers(sheet, [])
    rest = np.zeros(sheet.lines.size)
    found: dict[str, Floats] = {}
    for field, word in zip(fields, sheet.format.time["parts"], strict=True):
        left = numbers.number(field, None)
        whole = np.isfinite(left) & (left >= 0) & (left == np.floor(left))
        _refuse(sheet, ~whole, "This is no date or time.", field)
        for part, size in _PACKED[word]:
            found[part], left = left // size, left % size
    year, month, day, hour, minute = (found.get(part, rest) for part in _PARTS)
    _refuse(sheet, ~((year >= 1850) & (year < 2200)), "This is no date.", fields[0])
    inside = (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31)
    _refuse(sheet, ~inside, "This is no date.", fields[0])
    months = (year - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (month - 1).astype(
        np.int64
    )
    days = months.astype("datetime64[D]") + (day - 1).astype(np.int64)
    _refuse(sheet, days.astype("datetime64[M]") != months, "This is no date.", fields[0])
    odd = ~((hour <= 24) & (minute < 60) & ((hour < 24) | (minute == 0)))
    _refuse(sheet, odd, "This is no hour from 0 to 24.", fields[-1])
    minutes = (60 * hour + minute).astype("timedelta64[m]")
    return np.asarray(days.astype("datetime64[ns]") + minutes)


def _refuse(sheet: Sheet, rows: NDArray[np.bool_], message: str, field: Field) -> None:
    places = np.flatnonzero(rows)
    if places.size:
        raise sheet.error(
            message,
            fix="Mend it or take the row out.",
            row=int(places[0]),
            key=field.name,
        )
