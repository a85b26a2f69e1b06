"""The rows of weather files in the planner's units, still in the files' order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import WeatherError
from planner.weather.table import COLUMNS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.formats.maps import Source
    from planner.weather.table import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """From which column of the file one of ours was taken, and how."""

    source: Source
    unit: str
    factor: float
    offset: float

    def printed(self, value: float) -> str:
        """Write a value of the table as the file has it: ``wind_speed 1048.4 mph``."""
        number = f"{(value - self.offset) / self.factor:.5g}"
        unit = self.unit if self.source.scale == 1.0 else ""  # else it is of no unit we name
        return " ".join(part for part in (self.source.name, number, unit) if part)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Rows of one or more files, in the table's units.

    Attributes
    ----------
    labels : numpy.ndarray of datetime64[ns], shape (rows,)
        The time each row is labelled with, UTC.
    values : dict of str to numpy.ndarray, shape (members or 1, rows)
        By column name.
    taken : dict of str to Taken
        Where each column came from.
    members : int
        How many possible weathers there are.
    files : tuple of str
        The files.
    file_at : numpy.ndarray, shape (rows,)
        Which of the files each row is from.
    lines : numpy.ndarray, shape (rows,)
        Line of that file, from 1.
    issues : numpy.ndarray of datetime64[ns] or None, shape (rows,)
        When the forecast of each row was issued, UTC; None where no column says so.
    row_word : str
        What a row is called in messages.
    """

    labels: NDArray[np.datetime64]
    values: dict[str, Floats]
    taken: dict[str, Taken]
    members: int
    files: tuple[str, ...]
    file_at: NDArray[np.int64]
    lines: NDArray[np.int64]
    issues: NDArray[np.datetime64] | None = None
    row_word: str = "line"

    def take(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Rows:
        """Give some of the rows, by place or by mask."""
        return replace(
            self,
            labels=self.labels[which],
            values={name: value[:, which] for name, value in self.values.items()},
            file_at=self.file_at[which],
            lines=self.lines[which],
            issues=None if self.issues is None else self.issues[which],
        )

    def with_values(self, **changed: Floats) -> Rows:
        """Give the same rows with some columns changed."""
        return replace(self, values={**self.values, **changed})

    def unjoined(self) -> Rows:
        """Give the same rows, each number taken for the hour of its label as it stands."""
        taken = {
            name: replace(one, source=replace(one.source, joins=""))
            for name, one in self.taken.items()
        }
        return replace(self, taken=taken)

    def where(self, row: int) -> str:
        """Name the place of a row: "line 5204", with its file if there are several."""
        line = f"{self.row_word} {self.lines[row]}"
        return line if len(self.files) == 1 else f"{Path(self.file_of(row)).name}, {line}"

    def file_of(self, row: int) -> str:
        """Name the file of a row."""
        return self.files[int(self.file_at[row])]


def join_rows(parts: list[Rows]) -> Rows:
    """Put the rows of several files one after another.

    Parameters
    ----------
    parts : list of Rows
        Of the same format.

    Returns
    -------
    Rows
        All of them; a column that a file lacks is missing (NaN) in its rows.

    Raises
    ------
    WeatherError
        If the files do not have the same members, or only some say when each
        forecast was issued.
    """
    if len(parts) == 1:
        return parts[0]
    names = [column.name for column in COLUMNS if any(column.name in p.values for p in parts)]
    counts = {part.members for part in parts}
    if len(counts) > 1:
        raise WeatherError(
            "The files do not have the same number of members.",
            fix="Read them one at a time.",
            file=parts[-1].files[0],
        )
    values = {}
    for name in names:
        high = max(len(part.values[name]) for part in parts if name in part.values)
        blocks = [
            np.broadcast_to(part.values.get(name, np.full((1, 1), np.nan)), (high, size))
            for part, size in ((part, part.labels.size) for part in parts)
        ]
        values[name] = np.concatenate(blocks, axis=1)
    return Rows(
        labels=np.concatenate([part.labels for part in parts]),
        values=values,
        taken={name: taken for part in parts[::-1] for name, taken in part.taken.items()},
        members=counts.pop(),
        files=tuple(part.files[0] for part in parts),
        file_at=np.repeat(np.arange(len(parts)), [part.labels.size for part in parts]),
        lines=np.concatenate([part.lines for part in parts]),
        issues=_join_issues(parts),
        row_word=parts[0].row_word,
    )


def _join_issues(parts: list[Rows]) -> NDArray[np.datetime64] | None:
    told = [part.issues for part in parts if part.issues is not None]
    if told and len(told) < len(parts):
        lacks = next(part for part in parts if part.issues is None)
        raise WeatherError(
            "It does not say when each forecast was issued, as other files do.",
            fix="Read archives of forecasts and other files apart.",
            file=lacks.files[0],
        )
    return np.concatenate(told) if told else None
