"""The weather services the planner can ask: each is a map, not a program.

A map is one TOML file in ``planner/weather/live/services/``.

======================  =============================================================
key                     meaning
======================  =============================================================
name, title             for ``--from`` and for people
base, path, query       the address; ``{latitude}``, ``{longitude}``, ``{days}``,
                        ``{station}``, ``{first}`` and ``{end}`` (dates) are filled in
follow                  dotted key of a JSON answer that holds the address asked next
answer                  "json" or "csv"
format                  name of the weather format the answer is in
kind                    forecast, ensemble or observed
issued                  "answer": the answer says when it was made; "fetched": it does
                        not, the time of fetching stands for it; "": nothing to say
decimals                to which coordinates are rounded before they are sent [-]
fresh                   how long an answer serves where it does not say itself [min]
longest                 how long an answer serves at most, whatever it says [min]
patient                 whether its terms want no question before an answer's time is over
contact                 whether the service asks who is calling
station                 whether a station is asked for, not a place
days, most_days         days asked for if the user does not say, and at most; 0: the
                        service gives what it has [-]
doubt                   what is to be doubted of every answer, in words; "": nothing
credit, license         whom to name, and on what terms the data may be used
======================  =============================================================
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, Final, Literal
from urllib.parse import parse_qsl, urlencode, urlsplit

from planner.errors import UsageError, nearest

if TYPE_CHECKING:
    from planner.weather.table import WeatherKind

_STATION: Final = re.compile(r"[A-Za-z0-9_]{3,8}")
_OF_DAYS: Final = re.compile(r"\{(days|first|end)\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """A map: where a weather service is and what it is to be asked (see the module)."""

    name: str
    title: str
    base: str
    path: str
    answer: Literal["json", "csv"]
    format: str
    kind: WeatherKind
    issued: Literal["answer", "fetched", ""]
    decimals: int
    fresh: float
    contact: bool
    credit: str
    license: str
    follow: str = ""
    longest: float = 360.0
    patient: bool = False
    doubt: str = ""
    station: bool = False
    days: int = 0
    most_days: int = 0
    query: dict[str, str | list[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked of a service: a place [deg], days, a station, and today's date."""

    latitude: float
    longitude: float
    today: dt.date
    days: int | None = None
    station: str = ""


@cache
def services() -> dict[str, Service]:
    """Give every known service by its name."""
    folder = resources.files("planner.weather.live").joinpath("services")
    texts = [f.read_text("utf-8") for f in folder.iterdir() if f.name.endswith(".toml")]
    maps = [Service(**tomllib.loads(text)) for text in texts]
    return {each.name: each for each in sorted(maps, key=lambda each: each.name)}


def find_service(name: str) -> Service:
    """Look a service up by its exact name.

    Parameters
    ----------
    name : str
        As typed.

    Returns
    -------
    Service
        The service.

    Raises
    ------
    UsageError
        If there is none of that name; near ones are named.
    """
    known = services()
    if name not in known:
        near = nearest(name, known)
        raise UsageError(
            f'There is no service "{name}".',
            fix=f"Did you mean {near[0]}?" if near else f"Known: {', '.join(known)}.",
            key="--from",
        )
    return known[name]


def address(service: Service, wanted: Wanted, *, base: str | None = None) -> str:
    """Give the address at which a service is asked.

    Parameters
    ----------
    service : Service
        Its map.
    wanted : Wanted
        The place, or the station, and the days.
    base : str, optional
        Another address of the same service, such as a copy or a test.

    Returns
    -------
    str
        The whole address.

    Raises
    ------
    UsageError
        If the days, the station or ``base`` cannot be used.
    """
    days = _days(service, wanted.days)
    words: dict[str, Any] = {
        "latitude": rounded(wanted.latitude, service.decimals),
        "longitude": rounded(wanted.longitude, service.decimals),
        "days": days,
        "station": _station(service, wanted.station),
        "first": wanted.today - dt.timedelta(days=days),
        "end": wanted.today + dt.timedelta(days=1),
    }
    filled = {
        key: [each.format(**words) for each in ([text] if isinstance(text, str) else text)]
        for key, text in service.query.items()
    }
    whole = _base(base or service.base) + service.path.format(**words)
    return f"{whole}?{urlencode(filled, doseq=True, safe=',/')}" if filled else whole


def apart_from_days(service: Service, url: str) -> str:
    """Give what an address asks apart from the days: service, place or station, quantities.

    Parameters
    ----------
    service : Service
        Its map, which says what in a question is of the days.
    url : str
        The address.

    Returns
    -------
    str
        The same for two questions that differ in the days only.
    """
    parts = urlsplit(url)
    of_days = {
        key
        for key, text in service.query.items()
        if any(_OF_DAYS.search(each) for each in ([text] if isinstance(text, str) else text))
    }
    rest = [(key, text) for key, text in parse_qsl(parts.query) if key not in of_days]
    return parts._replace(query=urlencode(rest)).geturl()


def rounded(degrees: float, decimals: int) -> str:
    """Write a coordinate as a service wants it: rounded, without zeros at the end.

    Parameters
    ----------
    degrees : float
        The coordinate [deg].
    decimals : int
        How many decimals at most [-].

    Returns
    -------
    str
        As ``44.02``.
    """
    text = f"{degrees:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _days(service: Service, asked: int | None) -> int:
    if asked is None or not service.most_days:
        return service.days
    if not 1 <= asked <= service.most_days:
        raise UsageError(
            f"{service.title} gives 1 to {service.most_days} days, not {asked}.",
            fix=f"Ask for --days {service.most_days} at most.",
            key="--days",
        )
    return asked


def _station(service: Service, asked: str) -> str:
    if service.station != bool(asked):
        text = f"{service.title} is asked for a station, not for a place."
        fix = "Add --station with the airport's code, as in its METAR reports."
        if asked:
            text = f"{service.title} is asked for the place of the job, not for a station."
            fix = "Leave --station out."
        raise UsageError(text, fix=fix, key="--station")
    if asked and not _STATION.fullmatch(asked):
        text = f'"{asked}" is not the code of a station.'
        raise UsageError(text, fix="Write three to eight letters or digits.", key="--station")
    return asked.upper()


def _base(text: str) -> str:
    parts = urlsplit(text)
    if parts.scheme not in {"http", "https"} or not parts.hostname or parts.query:
        raise UsageError(
            f'"{text}" is not the address of a service.',
            fix="Write it as https://host or http://127.0.0.1:8000.",
            key="--address",
        )
    return text.rstrip("/")
