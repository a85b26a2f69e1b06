"""An uploaded weather file: read from memory, under the name it came with."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from planner.errors import PlannerError, WeatherError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.weather.table import Weather

#: How large an uploaded weather file may become unpacked [byte].
MOST_UNPACKED: Final = 64_000_000
#: What may be said about how a weather file is to be read, with its label and a hint.
READER: Final = {
    "zone": ("Time zone of times without an offset", "as America/Chicago or -05:00"),
    "label": ("What a time labels", ""),
    "format": ("Format, if it is not recognised", ""),
    "issued": ("When the forecast was made", "as 2026-05-04 04:00-05:00"),
    "kind": ("What it is", ""),
    "location": ("Which station or place of the file", ""),
    "model": ("Which model, where a file holds several", ""),
}
CHOICES: Final = {
    "label": ("start", "end", "closes"),
    "kind": ("forecast", "observed"),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Given:
    """A weather file as it was given, and what was read from it.

    ``options`` is what was said about how to read it; ``mark`` differs for any other file
    or options.
    """

    name: str
    data: bytes
    options: dict[str, str]
    weather: Weather
    mark: str


def read_given(data: bytes, name: str, options: Mapping[str, str]) -> Given:
    """Read a weather file that is held in memory.

    Parameters
    ----------
    data : bytes
        The file; .gz, and .zip with one table inside, are opened.
    name : str
        As its owner calls it, for messages.
    options : mapping of str to str
        Keys of ``READER``; blank ones count as not said.

    Returns
    -------
    Given
        The file with its weather.

    Raises
    ------
    WeatherError
        As ``read_weather``; messages speak of ``name``, and say what to fill in where the
        command line would name an option.
    """
    from planner.weather.file.packed import unpack
    from planner.weather.file.text import Raw
    from planner.weather.read import read_weather

    name = plain_name(name)
    said = {key: options[key].strip() for key in READER if options.get(key, "").strip()}
    try:
        weather = read_weather(
            Raw(name=name, data=unpack(data, name, most=MOST_UNPACKED)), **said
        )
    except PlannerError as error:
        raise _as_here(error, name) from error
    mark = hashlib.sha256(data + repr((name, sorted(said.items()))).encode()).hexdigest()
    return Given(
        name=name,
        data=data,
        options=said,
        weather=weather,
        mark=mark,
    )


def plain_name(name: str) -> str:
    """Give a file name that is no path, short, and of plain letters."""
    bare = re.split(r"[/\\]", name)[-1]
    bare = re.sub(r"[^\w. -]", "_", bare, flags=re.ASCII).strip(" .")
    return bare[-60:].strip(" .") or "weather.csv"


def _as_here(error: PlannerError, name: str) -> WeatherError:
    """Say an error of the reader as it fits a form: no path, no option of a command."""
    message, fix = (re.sub(r"--([a-z]+)", _label, x) for x in (error.message, error.fix))
    here = WeatherError(message, fix=fix, file=name, line=error.line, key=error.key)
    found = re.search(r"--([a-z]+)", f"{error.message} {error.fix}")
    if found and found.group(1) in READER:
        here.key = found.group(1)
    return here


def _label(found: re.Match[str]) -> str:
    """Name a reader option by the label of its field."""
    label = READER.get(found.group(1), (found.group(),))[0]
    return f'"{label}"'
