"""Every error a user can meet, each with its exit code.

The tree::

    PlannerError                    exit 1   anything that stops a verb
    ├── UsageError                  exit 1   an option or argument that cannot be used
    ├── OutOfRange                  exit 1   a number outside the range a formula was fitted on
    ├── UnitError                   exit 1   a quantity whose unit is missing or wrong
    ├── ReferenceTableError         exit 1   a key that is not in a reference table
    ├── JobError                    exit 2   the job file
    └── WeatherError                exit 3   the weather file
        ├── UnknownFormat           exit 3   no format, or more than one, fits the file
        ├── MissingColumn           exit 3   a column that the planner cannot do without
        ├── GapTooLong              exit 3   too little data where it is needed
        ├── SeveralPlaces           exit 3   more than one place in a file that must hold one
        └── SeveralIssues           exit 3   many forecasts in a file that must hold one

A message says what is wrong and where; ``fix`` says what to do about it.
"No window found" is an answer and never an error.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> tuple[str, ...]:
    """Give up to three known words that look like ``word``, best first."""
    import difflib

    return tuple(difflib.get_close_matches(word, list(known), n=3, cutoff=0.55))


class PlannerError(Exception):
    """Anything that stops a verb, in words for the person at the keyboard.

    Parameters
    ----------
    message : str
        What is wrong.
    fix : str
        What to do about it.
    file : str, optional
        The file it was found in.
    line : int, optional
        The line of that file, from 1.
    key : str, optional
        The dotted key or the column.
    """

    exit_code = 1

    def __init__(
        self,
        message: str,
        *,
        fix: str = "",
        file: str | None = None,
        line: int | None = None,
        key: str | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.fix = fix
        self.file = file
        self.line = line
        self.key = key

    def __str__(self) -> str:
        where = ", ".join(
            part
            for part in (
                self.file,
                f"line {self.line}" if self.line is not None else None,
                self.key,
            )
            if part
        )
        text = f"{where}: {self.message}" if where else self.message
        return f"{text}\n{self.fix}" if self.fix else text

    def as_dict(self) -> dict[str, object]:
        """Give the ``error/1`` record that ``--json`` prints."""
        return {
            "schema": "error/1",
            "exit": self.exit_code,
            "file": self.file,
            "line": self.line,
            "key": self.key,
            "message": self.message,
            "fix": self.fix,
        }


class UsageError(PlannerError):
    """An option or argument that cannot be used as it stands."""


class OutOfRange(PlannerError, ValueError):
    """A number outside the range in which a formula or table is meant to be used.

    Parameters
    ----------
    name : str
        What the number is.
    value, low, high : float
        The number and the range it must lie in [``unit``].
    unit : str
        Unit of the three.
    """

    def __init__(
        self, name: str, *, value: float, low: float, high: float, unit: str, fix: str = ""
    ) -> None:
        super().__init__(
            f"{name} is {value:g} {unit}; it must lie between {low:g} and {high:g} {unit}.",
            fix=fix,
        )
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit


class UnitError(PlannerError, ValueError):
    """A quantity without a unit, or with a unit of the wrong kind."""


class ReferenceTableError(PlannerError, LookupError):
    """A key that is not in a reference table.

    Parameters
    ----------
    table, key : str
        Where it was looked for, and what.
    suggestions : tuple of str
        Keys that look like it.
    """

    def __init__(self, table: str, key: str, suggestions: tuple[str, ...]) -> None:
        near = f" Near it: {', '.join(suggestions)}." if suggestions else ""
        super().__init__(f'The reference table "{table}" has no row "{key}".{near}', key=key)
        self.suggestions = suggestions


class JobError(PlannerError):
    """The job file says something that cannot be planned."""

    exit_code = 2


class WeatherError(PlannerError):
    """The weather file says something that cannot be used."""

    exit_code = 3


class UnknownFormat(WeatherError):
    """No known format fits the file, or more than one does."""


class MissingColumn(WeatherError):
    """A column that the planner cannot do without is not in the file."""


class GapTooLong(WeatherError):
    """Too few hours of data where they are needed."""


class SeveralPlaces(WeatherError):
    """More than one place in a file of which one is wanted.

    Parameters
    ----------
    message, fix, file : str
        As in ``PlannerError``.
    places : tuple of str
        Those to choose from.
    """

    def __init__(self, message: str, *, fix: str, file: str, places: tuple[str, ...]) -> None:
        super().__init__(message, fix=fix, file=file, key="location")
        self.places = places


class SeveralIssues(WeatherError):
    """Forecasts of many issue times in a file of which one is wanted."""
