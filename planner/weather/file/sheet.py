"""The table of one weather file, still in the file's own words and units."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from planner.errors import WeatherError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.formats.maps import Field, Format


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The table of one file.

    Attributes
    ----------
    file : str
        The file's name, for messages.
    format : Format
        How to read it.
    fields : tuple of Field
        The columns it has.
    meta : dict of str to str
        What the file says of the whole, by the planner's names.
    frame : pandas.DataFrame
        The columns the map speaks of, by ``Field.at``, as text or numbers.
    lines : numpy.ndarray, shape (rows,)
        Number of every row in its file, from 1 [-].
    row_word : str
        What a row is called: a "line" of a text, an "entry" of an answer.
    decimal : str
        What stands before the decimals of a number: "." or ",".
    """

    file: str
    format: Format
    fields: tuple[Field, ...]
    meta: dict[str, str]
    frame: pd.DataFrame
    lines: NDArray[np.int64]
    row_word: str = "line"
    decimal: str = "."

    def named(self, name: str) -> list[Field]:
        """Give the fields of one name, by member."""
        fields = [field for field in self.fields if field.name == name]
        return sorted(fields, key=lambda field: int(field.member or -1))

    @property
    def clock(self) -> list[Field]:
        """The fields in which the time of a row stands."""
        return [self.named(name)[0] for name in self.format.time["columns"]]

    @property
    def issue(self) -> Field | None:
        """The field that says when a row's forecast was issued, if there is one."""
        return next(iter(self.named(self.format.layout.get("issue", ""))), None)

    def groups(self) -> NDArray[np.object_] | None:
        """Give the name of the place of each row, or None if the file has no such column.

        Raises
        ------
        WeatherError
            If a row does not say.
        """
        field = next(iter(self.named(self.format.layout.get("group", ""))), None)
        if field is None:
            return None
        column = self.frame[field.at]
        blank = np.flatnonzero(column.isna())
        if blank.size:
            raise self.error(
                f"This {self.row_word} does not say which place it is for.",
                fix="Mend it or take it out.",
                row=int(blank[0]),
                key=field.name,
            )
        kinds = column.unique()
        if len(kinds) == 1:
            return np.full(len(column), str(kinds[0]).strip(), object)
        return column.astype(str).str.strip().to_numpy(object)

    def once(self, field: Field) -> tuple[Sheet, NDArray[np.int64]]:
        """Give the first row of each value in a column, and which of them each row has."""
        which, _ = pd.factorize(self.frame[field.at], use_na_sentinel=False)
        return self.take(np.unique(which, return_index=True)[1]), which

    def take(self, which: NDArray[np.bool_] | NDArray[np.int64]) -> Sheet:
        """Give some of its rows, by mask or by place."""
        frame = self.frame.iloc[np.flatnonzero(which) if which.dtype == bool else which]
        return replace(self, frame=frame.reset_index(drop=True), lines=self.lines[which])

    def texts(self, field: Field) -> list[str]:
        """Give one column as texts without the space around them, "" where it is empty."""
        return [
            cell.strip() if isinstance(cell, str) else "" if _empty(cell) else str(cell)
            for cell in self.frame[field.at].tolist()
        ]

    def text(self, field: Field) -> pd.Series:
        """Give the same as a column of pandas."""
        return pd.Series(self.texts(field), dtype=object)

    def error(
        self, message: str, *, fix: str, row: int | None = None, key: str | None = None
    ) -> WeatherError:
        """Give an error of this file that names its row.

        Parameters
        ----------
        message, fix : str
            What is wrong, and the way out.
        row : int, optional
            Which row, from 0 [-].
        key : str, optional
            Which column.

        Returns
        -------
        WeatherError
            To be raised.
        """
        line = None
        if row is not None:
            line = int(self.lines[row])
            if self.row_word != "line":
                key = ", ".join(x for x in (f"{self.row_word} {line}", key) if x)
                line = None
        return WeatherError(message, fix=fix, file=self.file, line=line, key=key)


def _empty(cell: object) -> bool:
    """Say whether a cell holds nothing: None, or the number that is not itself."""
    return cell is None or cell != cell
