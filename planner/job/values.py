"""How one value of a job file is read: quantities, choices, dates, times of day.

Each function here makes a reader: it takes what the TOML reader found, gives it back in
the planner's own units, or raises ``Refused`` with the way out. Where in the file the
value stood is added later.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable
from typing import Any, Final

from planner.errors import UnitError, nearest
from planner.units import convert, parse, show


class Refused(ValueError):
    """A value that cannot be used, before its file, line and key are known."""

    def __init__(self, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.fix = fix


Reader = Callable[[object], Any]

WEEKDAYS: Final = (
    "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday",
)  # fmt: skip
_US: Final = re.compile(r"ft\b|feet|foot|inch|\d\s*in\b|mils?\b|mph|F\b|lbf|fc\b|['\"]")
_CLOCK: Final = re.compile(r"(\d{1,2})(?::(\d{2}))?\s*(am|pm|a\.m\.|p\.m\.)?", re.IGNORECASE)
_LONGEST_TEXT: Final = 80
_LARGEST_SHOWN: Final = 10**30


def speaks_us(text: object) -> bool:
    """Say whether a quantity is written in feet, inches, mph, degrees F and the like."""
    return isinstance(text, str) and bool(_US.search(text))


def quantity(dimension: str, low: float, high: float, *, words: tuple[str, ...] = ()) -> Reader:
    """Make a reader of a quantity between two bounds, or of one of a few words.

    Parameters
    ----------
    dimension : str
        One of ``units.DIMENSIONS``.
    low, high : float
        What is believed [the planner's unit of the dimension].
    words : tuple of str
        Words that may stand in its place; they come back as they are.

    Returns
    -------
    callable
        Reads one value, or raises ``Refused``.
    """

    def read(given: object) -> Any:
        if isinstance(given, str) and given.strip().lower() in words:
            return given.strip().lower()
        also = "".join(f' Or write "{word}".' for word in words)
        try:
            number = parse(given, dimension)
        except UnitError as err:
            raise Refused(err.message, err.fix + also) from err
        except (ValueError, OverflowError) as err:
            raise Refused(f"{_said(given)} cannot be read as a {dimension}.") from err
        if not low <= number <= high:
            system = "us" if speaks_us(given) else "si"
            bounds = f"{show(low, dimension, system)} and {show(high, dimension, system)}"
            raise Refused(
                f'"{given}" is out of range: it must lie between {bounds}.',
                f"Check the number and its unit.{also}",
            )
        return number

    return read


def film_thickness(given: object) -> float:
    """Read a film thickness [m]; the usual slip is a unit a thousand times off."""
    try:
        thickness = parse(given, "length")
    except UnitError as err:
        raise Refused(err.message, 'Write it as "6 mil" or "150 um".') from err
    except (ValueError, OverflowError) as err:
        raise Refused(f"{_said(given)} cannot be read as a thickness.") from err
    if 50e-6 <= thickness <= 510e-6:
        return thickness
    number = re.match(r"\s*[-+]?[\d.]+", str(given))
    try:
        size = float(number.group()) if number else 0.0
    except ValueError:
        size = 0.0
    if 2.0 <= size <= 20.0:
        guess = f'Did you mean "{size:g} mil"?'
    elif 50.0 <= size <= 500.0:
        guess = f'Did you mean "{size:g} um"?'
    else:
        guess = 'Did you mean mil, as in "6 mil"?'
    low, high = (convert(edge, "length", "mil") for edge in (50e-6, 510e-6))
    raise Refused(
        f'"{given}" is no thickness of film: it must lie between 50 and 500 um '
        f"({low:.0f} to {high:.0f} mil).",
        guess,
    )


def number(low: float, high: float, *, fix: str = "Check the number.") -> Reader:
    """Make a reader of a plain number between two bounds; ``fix`` is the way out."""

    def read(given: object) -> float:
        if isinstance(given, bool) or not isinstance(given, (int, float)):
            raise Refused(
                f"{_said(given)} is not a number.", "Write a plain number, no quotes."
            )
        if not low <= given <= high:
            raise Refused(f"{_said(given)} must lie between {low:g} and {high:g}.", fix)
        return float(given)

    return read


def whole(low: int, high: int) -> Reader:
    """Make a reader of a whole number between two bounds."""

    def read(given: object) -> int:
        if isinstance(given, bool) or not isinstance(given, int):
            raise Refused(f"{_said(given)} is not a whole number.", "Write it without quotes.")
        if not low <= given <= high:
            raise Refused(
                f"{_said(given)} must lie between {low} and {high}.", "Check the number."
            )
        return given

    return read


def choice(*allowed: str | int) -> Reader:
    """Make a reader of one of a few words or numbers."""

    def read(given: object) -> str | int:
        for one in allowed:
            if type(given) is type(one) and given == one:
                return one
        listed = " or ".join(_said(one) for one in allowed)
        near = nearest(str(given).lower(), [str(one) for one in allowed])
        hint = f' Did you mean "{near[0]}"?' if near and str(given) != near[0] else ""
        raise Refused(f"{_said(given)} is not a choice here.", f"Write {listed}.{hint}")

    return read


def yes_no(given: object) -> bool:
    """Read true or false."""
    if isinstance(given, bool):
        return given
    raise Refused(
        f"{_said(given)} is neither true nor false.", "Write true or false, no quotes."
    )


def text_line(given: object) -> str:
    """Read a short text on one line."""
    if not isinstance(given, str):
        raise Refused(f"{_said(given)} is not a text.", "Write it in quotes.")
    if not given.strip() or len(given) > _LONGEST_TEXT or not given.isprintable():
        raise Refused(
            "the text is empty, too long or not printable.",
            f"Write 1 to {_LONGEST_TEXT} letters on one line.",
        )
    return given.strip()


def list_of(read: Reader) -> Reader:
    """Make a reader of a list, each entry read the same way."""

    def read_all(given: object) -> tuple[Any, ...]:
        if not isinstance(given, list):
            raise Refused(f"{_said(given)} is not a list.", 'Write it as ["one", "two"].')
        return tuple(read(entry) for entry in given)

    return read_all


def calendar_date(given: object) -> dt.date:
    """Read a date without a time of day."""
    if isinstance(given, dt.date) and not isinstance(given, dt.datetime):
        return given
    raise Refused(
        f"{_said(given)} is not a date.", "Write year-month-day without quotes: 2026-05-09."
    )


def day_off(given: object) -> dt.date | str:
    """Read a date, or a day of the week in full."""
    if not isinstance(given, str):
        return calendar_date(given)
    day = given.strip().capitalize()
    if day in WEEKDAYS:
        return day
    near = nearest(day, WEEKDAYS)
    raise Refused(
        f'"{given}" is not a day of the week.',
        f"Did you mean {near[0]}?" if near else 'Write "Sunday", or a date without quotes.',
    )


def clock(word: str) -> Reader:
    """Make a reader of a time of day [minutes after midnight], or of one word."""

    def read(given: object) -> int | str:
        text = given.strip().lower() if isinstance(given, str) else ""
        if text == word:
            return word
        found = _CLOCK.fullmatch(text)
        if found:
            hour, minute = int(found.group(1)), int(found.group(2) or 0)
            half = (found.group(3) or "").replace(".", "")
            if half and 1 <= hour <= 12:
                hour = hour % 12 + (12 if half == "pm" else 0)
            elif half or found.group(2) is None:
                hour = 24
            if hour < 24 and minute < 60:
                return 60 * hour + minute
        raise Refused(
            f"{_said(given)} is not a time of day.",
            f'Write "6:30 am", "18:00" or "{word}", in quotes.',
        )

    return read


def quarters(given: object) -> int:
    """Spacing of the starts [min]."""
    minutes = quantity("duration", 15.0, 60.0)(given)
    if minutes % 15.0:
        raise Refused(
            f'"{given}" is not a quarter of an hour or a multiple of it.',
            'Write "15 min", "30 min", "45 min" or "60 min".',
        )
    return int(minutes)


def pair(dimension: str, low: float, high: float) -> Reader:
    """Make a reader of [at least, at most], either of which may be "off", or of "off".

    Parameters
    ----------
    dimension : str
        One of ``units.DIMENSIONS``.
    low, high : float
        What is believed of either [the planner's unit of the dimension].

    Returns
    -------
    callable
        Reads a pair, None for a side that is off, or the word "off".
    """
    read_one = quantity(dimension, low, high, words=("off",))

    def read(given: object) -> Any:
        if isinstance(given, str) and given.strip().lower() == "off":
            return "off"
        if not isinstance(given, list) or len(given) != 2:
            raise Refused(
                f"{_said(given)} is not a pair of {dimension}s.",
                'Write [at least, at most], as in ["41 F", "95 F"]; or "off".',
            )
        pair = tuple(None if one == "off" else one for one in map(read_one, given))
        if pair == (None, None):
            return "off"
        low_one, high_one = pair
        if low_one is not None and high_one is not None and low_one >= high_one:
            raise Refused(
                f"{_said(given)} leaves nothing between its two bounds.",
                "The lower bound comes first.",
            )
        return pair

    return read


def _said(given: object) -> str:
    """Give a value as the file wrote it, cut short."""
    if isinstance(given, int) and abs(given) >= _LARGEST_SHOWN:
        return "a number of many digits"
    text = f'"{given}"' if isinstance(given, str) else str(given)
    if isinstance(given, bool):
        text = text.lower()
    elif isinstance(given, float) and math.isnan(given):
        text = "nan"
    return text if len(text) <= _LONGEST_TEXT else text[:_LONGEST_TEXT] + " ..."
