"""What a weather file, or an option, says of the whole: kind, label, place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, cast, get_args

import numpy as np

from planner.errors import WeatherError, nearest
from planner.weather.formats.maps import LABELS, Label
from planner.weather.table import LONGEST_FORECAST, Note, WeatherKind, WeatherPlace

if TYPE_CHECKING:
    from planner.weather.hourly.rows import Rows

KINDS: Final[tuple[str, ...]] = get_args(WeatherKind)
EXAMPLE: Final = "example"  # a kind that only a file may claim: a forecast out of time


def check_word(key: str, word: str | None, known: tuple[str, ...], *, file: str | None) -> None:
    """Refuse a word that is not one of a few.

    Parameters
    ----------
    key : str
        What the word is for.
    word : str or None
        The word; None passes.
    known : tuple of str
        What it may be.
    file : str or None
        Where it stands, None for an option.

    Raises
    ------
    WeatherError
        If it is another word; the nearest is named.
    """
    if word is not None and word not in known:
        near = nearest(word, known)
        raise WeatherError(
            f'"{word}" is not one of {", ".join(known)}.',
            fix=f"Did you mean {near[0]}?" if near else f"Write {known[0]}.",
            file=file,
            key=key,
        )


def choose_label(
    asked: str | None, meta: dict[str, str], file: str, *, default: Label
) -> Label:
    """Tell what a row's time says: the option, the file, the format.

    Parameters
    ----------
    asked : str or None
        The option.
    meta : dict of str to str
        What stands above the table.
    file : str
        For the error message.
    default : str
        The format's rule.

    Returns
    -------
    {"start", "end", "closes"}
        The rule.

    Raises
    ------
    WeatherError
        If the file says another word.
    """
    word = asked or meta.get("label") or default
    check_word("label", word, LABELS, file=file)
    return cast("Label", word)


def choose_kind(
    asked: str | None,
    meta: dict[str, str],
    rows: Rows,
    *,
    default: WeatherKind,
    notes: list[Note],
) -> WeatherKind:
    """Tell what the numbers are: the option, the file, the format.

    Parameters
    ----------
    asked : str or None
        The option.
    meta : dict of str to str
        What stands above the table.
    rows : Rows
        Several members make it an ensemble; over 35 days make a forecast doubtful.
    default : str
        The format's rule.
    notes : list of Note
        A doubt is added here.

    Returns
    -------
    {"forecast", "ensemble", "observed"}
        The kind.

    Raises
    ------
    WeatherError
        If the file says another word.
    """
    word = asked or meta.get("kind") or default
    if word == EXAMPLE:
        word = "forecast"
        text = "An example file with invented weather, planned as of its own time."
        notes.append(Note(code=EXAMPLE, text=text))
    check_word("kind", word, KINDS, file=rows.files[0])
    if rows.members > 1:
        return "ensemble"
    days = (rows.labels.max() - rows.labels.min()) / np.timedelta64(1, "D")
    if word != "observed" and days > LONGEST_FORECAST:
        text = f"{days:.0f} days are too long for a forecast; for a record add --kind observed."
        notes.append(Note(code="long_forecast", text=text, doubt=True))
    return cast("WeatherKind", word)


def number_above(meta: dict[str, str], key: str, file: str) -> float | None:
    """Read a number that stands above the table.

    Parameters
    ----------
    meta : dict of str to str
        What stands above the table.
    key : str
        "latitude", "longitude", "elevation" or "gust_resolution".
    file : str
        For the error message.

    Returns
    -------
    float or None
        The number, None where it is not there [deg, m or m/s].

    Raises
    ------
    WeatherError
        If it is no number or cannot be what it says.
    """
    if key not in meta:
        return None
    try:
        number = float(meta[key].split(" ")[0])
    except ValueError:
        number = float("nan")
    low, high = {
        "latitude": (-90.0, 90.0),
        "longitude": (-180.0, 360.0),
        "gust_resolution": (0.0, 10.0),
    }.get(key, (-500.0, 9000.0))
    if not low <= number <= high:
        text = f'"{meta[key]}" cannot be the {key.replace("_", " ")}.'
        raise WeatherError(text, fix="Mend that line.", file=file, key=key)
    return number


def place_of(meta: dict[str, str], name: str, file: str, *, notes: list[Note]) -> WeatherPlace:
    """Tell where the weather is for.

    Parameters
    ----------
    meta : dict of str to str
        What stands above the table.
    name : str
        The place chosen among several, or "".
    file : str
        For the error message.
    notes : list of Note
        That the file does not say is added here.

    Returns
    -------
    WeatherPlace
        The place; what the file does not say is None.

    Raises
    ------
    WeatherError
        If a number there cannot be a place.
    """
    latitude, longitude, elevation = (
        number_above(meta, key, file) for key in ("latitude", "longitude", "elevation")
    )
    if latitude is None or longitude is None:
        text = "The file does not say where it is for; check that it fits the job's place."
        notes.append(Note(code="place_unknown", text=text, doubt=True))
    return WeatherPlace(
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        name=meta.get("name") or name,
    )
