"""What a service answered, read into the table and looked over before it is taken."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

import pandas as pd

from planner.errors import WeatherError
from planner.weather.file.text import Raw
from planner.weather.hourly.issued import age_of
from planner.weather.live.service import rounded
from planner.weather.live.wire import Trouble
from planner.weather.live.written import FETCHED, STALE, rounded_weather
from planner.weather.read import read_weather
from planner.weather.table import Note, WeatherPlace

if TYPE_CHECKING:
    from planner.weather.live.line import Answer
    from planner.weather.live.service import Service, Wanted
    from planner.weather.table import Weather

_FARTHEST: Final = 100.0  # km from the place asked; the coarsest grids are 50 km
_KM_A_DEGREE: Final = 111.2
_PAGE: Final = "A web page came where weather was asked for."
_LOGIN: Final = "The network may want a login: open any web page, then try again."


class Reading:
    """Answers of one service, read into the table; the last one read is kept.

    Parameters
    ----------
    service : Service
        Whose answers.
    wanted : Wanted
        What it was asked.
    """

    def __init__(self, service: Service, wanted: Wanted) -> None:
        self.service = service
        self.wanted = wanted
        self._last: tuple[bytes, Weather] | None = None

    def check(self, data: bytes, given: dt.datetime) -> None:
        """Refuse a body that is no weather of this place, or ended before it was given.

        Parameters
        ----------
        data : bytes
            The body.
        given : datetime.datetime
            When the service gave it.

        Raises
        ------
        Trouble, PlannerError
            If it is to be refused.
        """
        end = self._read(data).times[-1]
        if self.service.issued == FETCHED and _made(given) > end:
            raise Trouble(
                f"The forecast of {self.service.title} ends {end:%Y-%m-%d %H:%M} UTC, before "
                "it was made.",
                fix="Try again, or another service.",
            )

    def _read(self, data: bytes) -> Weather:
        if self._last is not None and self._last[0] == data:
            return self._last[1]
        check_body(data, self.service)
        raw = Raw(name=f"the answer of {self.service.name}", data=data)
        weather = read_weather(raw, format=self.service.format)
        self._check_place(weather)
        self._last = (data, weather)
        return weather

    def _check_place(self, weather: Weather) -> None:
        there = weather.place
        if self.service.station or there.latitude is None or there.longitude is None:
            return
        north = there.latitude - self.wanted.latitude
        east = (there.longitude - self.wanted.longitude + 180.0) % 360.0 - 180.0
        east *= math.cos(math.radians(self.wanted.latitude))
        apart = math.hypot(north, east) * _KM_A_DEGREE
        if apart > _FARTHEST:
            raise WeatherError(
                f"The answer is for a place {apart:.0f} km from the one asked for.",
                fix="Check latitude and longitude in the job file.",
            )

    def table(self, answer: Answer) -> Weather:
        """Give the table of an answer that was checked, with what is to be noted of it."""
        weather = self._placed(self._read(answer.data))
        notes = [*weather.notes, *answer.notes]
        if self.service.issued == FETCHED:
            weather = replace(weather, issued=_made(answer.first), issued_from=FETCHED)
            notes = [note for note in notes if note.code != "issued_assumed"]
            notes.append(_issued_note(self.service))
        if self.service.doubt:
            notes.append(Note(code="from_service", text=self.service.doubt, doubt=True))
        if answer.stale:
            notes.append(_stale_note(answer))
        weather = replace(
            weather, notes=tuple(notes), credit=weather.credit or self.service.credit
        )
        return rounded_weather(self._of_the_days(weather))

    def _placed(self, weather: Weather) -> Weather:
        """Give the table the place that was asked for, where the answer names none."""
        if weather.place.latitude is not None or self.service.station:
            return weather
        notes = tuple(note for note in weather.notes if note.code != "place_unknown")
        return replace(weather, place=self._asked_place(), notes=notes)

    def _asked_place(self) -> WeatherPlace:
        sent = [
            float(rounded(degrees, self.service.decimals))
            for degrees in (self.wanted.latitude, self.wanted.longitude)
        ]
        return WeatherPlace(latitude=sent[0], longitude=sent[1])

    def _of_the_days(self, weather: Weather) -> Weather:
        """Cut off what was not asked for, where the service gives all it has."""
        if self.wanted.days is None or self.service.most_days:
            return weather
        first = weather.times[0]
        return weather.between(first, first + dt.timedelta(days=self.wanted.days))


def _made(first: dt.datetime) -> pd.Timestamp:
    """Give the time at which a forecast was first received as that of its issue."""
    return pd.Timestamp(first).floor("min").as_unit("ns")


def _issued_note(service: Service) -> Note:
    text = (
        f"{service.title} does not say when its models ran; the time of fetching stands for it."
    )
    return Note(code="issued_fetched", text=text)


def _stale_note(answer: Answer) -> Note:
    text = f"An old copy, {age_of(answer.age)} old, because {answer.why}."
    return Note(code=STALE, text=text, doubt=True)


def check_body(data: bytes, service: Service) -> None:
    """Refuse a body that is a web page, is empty or is cut off.

    Parameters
    ----------
    data : bytes
        The body.
    service : Service
        Whether JSON is expected.

    Raises
    ------
    Trouble
        If it is.
    """
    start = data[:200].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith(b"<"):
        raise Trouble(_PAGE, fix=_LOGIN)
    if not start:
        raise Trouble("The answer is empty.", fix="Try again.", passing=True)
    if service.answer == "csv":
        return
    try:
        json.loads(data)
    except ValueError as error:
        raise Trouble(
            "The answer is not whole: it is no JSON.", fix="Try again.", passing=True
        ) from error


def followed(data: bytes, service: Service) -> str:
    """Give the address that an answer names.

    Parameters
    ----------
    data : bytes
        The answer, JSON.
    service : Service
        Its map, for the key ``follow``.

    Returns
    -------
    str
        The address, "" if there is none.
    """
    found = json.loads(data)
    for key in service.follow.split("."):
        found = found.get(key) if isinstance(found, dict) else None
    return found if isinstance(found, str) else ""


def check_follow(data: bytes, service: Service, url: str) -> None:
    """Refuse an answer that names no further address, or one of another host.

    Parameters
    ----------
    data : bytes
        The answer.
    service : Service
        Its map.
    url : str
        The address that was asked.

    Raises
    ------
    Trouble
        If it does.
    """
    check_body(data, service)
    there, asked = urlsplit(followed(data, service)), urlsplit(url)
    if not there.hostname:
        raise Trouble(
            f"{service.title} has no forecast for this place.", fix="Try another service."
        )
    if (there.scheme, there.netloc) != (asked.scheme, asked.netloc):
        raise Trouble(
            f"{asked.hostname} names another host, {there.netloc}, to be asked.",
            fix="Only the host that was asked is trusted.",
        )
