"""Airport reports carry their own time in UTC; by it the clock of a file is told."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.file.sheet import Sheet

    Times = NDArray[np.datetime64]

#: Day, hour and minute of a report, UTC: "KXYZ 010552Z" (WMO-No. 306, code FM 15).
_REPORT_TIME: Final = re.compile(r"\b(\d{2})(\d{2})(\d{2})Z\b")
_NEAR: Final = 90  # it stands within so many letters [-]
_AGREE: Final = 0.9  # of them must be one of two clocks, an hour apart at most [-]
_QUARTER: Final = 15  # zones are whole quarters of an hour from UTC [min]
_LATE: Final = 2  # a report may be filed so late [min]
_DAY: Final = 1440  # min


def east_by_reports(sheet: Sheet, stamps: Times) -> NDArray[np.timedelta64] | None:
    """Tell by the reports in a table how far east of UTC the clock of its times is.

    Parameters
    ----------
    sheet : Sheet
        The table.
    stamps : numpy.ndarray of datetime64[ns], shape (rows,)
        Its times on the clock that is looked for [-].

    Returns
    -------
    numpy.ndarray of timedelta64, shape (rows,), or None
        For every row, as its own report says or the one before it; None where no
        reports stand in the table, or they do not agree on one clock, put forward in
        summer or not.
    """
    name = sheet.format.time.get("reports")
    field = next(iter(sheet.named(name)), None) if name else None
    if field is None:
        return None
    found = [_REPORT_TIME.search(text, 0, _NEAR) for text in sheet.texts(field)]
    rows = np.array([row for row, match in enumerate(found) if match], np.int64)
    if not rows.size:
        return None
    said = np.array([match.groups() for match in found if match], np.int64)
    bare = pd.DatetimeIndex(stamps[rows])
    there = _DAY * np.asarray(bare.day) + 60 * np.asarray(bare.hour) + np.asarray(bare.minute)
    east = there - said @ np.array([_DAY, 60, 1])
    east = (east + _DAY // 2) % _DAY - _DAY // 2
    quarters = np.round(east / _QUARTER).astype(np.int64)
    near = np.abs(east - quarters * _QUARTER) <= _LATE
    clocks, count = np.unique(quarters[near], return_counts=True)
    usual = clocks[np.argsort(-count)[:2]]
    agree = near & np.isin(quarters, usual)
    if not usual.size or np.ptp(usual) > 60 // _QUARTER or agree.mean() < _AGREE:
        return None
    rows, quarters = rows[agree], quarters[agree]
    before = np.maximum(np.searchsorted(rows, np.arange(stamps.size), side="right") - 1, 0)
    return np.asarray(quarters[before] * _QUARTER, "timedelta64[m]")
