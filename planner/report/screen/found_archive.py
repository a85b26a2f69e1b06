"""What ``inspect`` says in words about an archive of forecasts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.report.screen.first import item, items
from planner.report.screen.found import dated, file_lines, where_it_is
from planner.report.words import Words
from planner.weather.table import COLUMN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.weather.archive import Archive


def archive_report(
    archive: Archive, *, units: str, time_zone: str = "UTC", files: Sequence[str] = ()
) -> str:
    """Say how many forecasts an archive holds, from when to when, and how far they reach.

    Parameters
    ----------
    archive : Archive
        As read.
    units : {"us", "si"}
        Which units to write.
    time_zone : str
        In which times are written.
    files : sequence of str
        The file it was read from, or several read as one.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    words = Words(units=units, time_zone=time_zone)
    clock = archive.issues.tz_convert(time_zone).strftime("%H:%M")
    at = [
        words.clock(x) for _, x in sorted(dict(zip(clock, archive.issues, strict=True)).items())
    ]
    hours = sorted({int(archive.hours.min()), int(archive.hours.max())})
    there = [c for c in COLUMN if np.isfinite(archive.values.get(c, np.nan)).any()]
    issued = f"{dated(archive.issues[0], words)} to {dated(archive.issues[-1], words)}"
    sections = [
        [
            *file_lines(files),
            *item("Format", f"{archive.format}, an archive of {len(archive):,} forecasts"),
            *item("Place", where_it_is(archive.place, words)),
            *item("Issued", f"{issued} {words.time_zone}, at {', '.join(at)}"),
            *item("Hours", f"{' to '.join(map(str, hours))} in each, one row an hour"),
        ],
        [
            *items("Columns", [", ".join(there)]),
            *items("Not there", [", ".join(c for c in COLUMN if c not in there)]),
        ],
        items("Doubts", [x.text for x in archive.notes if x.doubt]),
        items("Notes", [x.text for x in archive.notes if not x.doubt]),
        items("Credit", [archive.credit] if archive.credit else []),
    ]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)
