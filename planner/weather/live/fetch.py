"""Fetch the weather of a place from a service, read it, and write it as a file."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from importlib import metadata
from typing import TYPE_CHECKING, Any, Final

from planner.errors import UsageError
from planner.weather.live.line import Line
from planner.weather.live.reading import Reading, check_follow, followed
from planner.weather.live.service import (
    Service,
    Wanted,
    address,
    apart_from_days,
    find_service,
)
from planner.weather.live.store import cache_file
from planner.weather.live.written import csv_text, source_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from planner.weather.live.line import Answer
    from planner.weather.table import Weather

_LONGEST_CONTACT: Final = 100  # letters


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fetched:
    """What came of fetching.

    Attributes
    ----------
    service : Service
        Who was asked.
    weather : Weather
        The table; its notes tell of old copies, clocks and cache too.
    answer : Answer
        When the answer was given, its age, and whether it is an old copy.
    asked : tuple of str
        Every address that was asked.
    csv : str
        The table in the planner's own format.
    source : str
        Where it is from, TOML.
    """

    service: Service
    weather: Weather
    answer: Answer
    asked: tuple[str, ...]
    csv: str
    source: str


def fetch(
    service: str,
    latitude: float,
    longitude: float,
    *,
    days: int | None = None,
    station: str = "",
    contact: str = "",
    base: str | None = None,
    cache: str | Path | None = None,
    offline: bool = False,
    deadline: float = 30.0,
    now: Callable[[], dt.datetime] | None = None,
    tell: Callable[[str], None] | None = None,
    **line: Any,
) -> Fetched:
    """Fetch the weather of a place from a service.

    Parameters
    ----------
    service : str
        Its name: "open-meteo", "open-meteo-ensemble", "nws", "met-norway" or "iem".
    latitude, longitude : float
        The place; only as many decimals are sent as the service asks for [deg].
    days : int, optional
        How many days ahead, or back for a station [-].
    station : str
        The airport, for services that are asked for one.
    contact : str
        Mail or web address by which the service can reach the user.
    base : str, optional
        Another address of the service, such as a test server.
    cache : path, optional
        Folder for copies of answers; the user's own folder for such things if left out.
    offline : bool
        Open no connection.
    deadline : float
        How long everything together may take [s].
    now : callable, optional
        Gives the time, UTC.
    tell : callable, optional
        Is given a line of text when something takes long.
    **line : Any
        Further arguments of ``Line``.

    Returns
    -------
    Fetched
        The table and how it is to be written; perhaps an old copy that says so.

    Raises
    ------
    WeatherError
        If there is neither an answer that can be read nor a copy of an earlier one.
    UsageError
        If the service, the days, the station or the contact cannot be used.
    """
    chosen = find_service(service)
    more: dict[str, Any] = {k: v for k, v in (("now", now), ("tell", tell)) if v is not None}
    today = (now() if now else dt.datetime.now(tz=dt.UTC)).date()
    wanted = Wanted(
        latitude=latitude, longitude=longitude, today=today, days=days, station=station
    )
    url = address(chosen, wanted, base=base)
    reading = Reading(chosen, wanted)
    with Line(
        service=chosen.name,
        agent=agent(chosen, contact),
        file=cache_file(cache),
        fresh=chosen.fresh,
        longest=chosen.longest,
        patient=chosen.patient,
        same=lambda asked: apart_from_days(chosen, asked),
        deadline=deadline,
        offline=offline,
        **more,
        **line,
    ) as opened:
        asked: tuple[str, ...] = (url,)
        if chosen.follow:
            first = opened.get(url, lambda data, _: check_follow(data, chosen, url))
            asked = (url, followed(first.data, chosen))
        answer = opened.get(asked[-1], reading.check)
    weather = reading.table(answer)
    return Fetched(
        service=chosen,
        weather=weather,
        answer=answer,
        asked=asked,
        csv=csv_text(weather, fetched=answer.fetched, stale=answer.why),
        source=source_text(chosen, answer, asked=asked, weather=weather),
    )


def agent(service: Service, contact: str) -> str:
    """Give who is asking, as the service is told.

    Parameters
    ----------
    service : Service
        Whether it must know whom to reach.
    contact : str
        Mail or web address, or "".

    Returns
    -------
    str
        As ``planner/0.1.0 (grower@example.org)``.

    Raises
    ------
    UsageError
        If the service asks for a contact and there is none, or it cannot be sent.
    """
    name = f"planner/{metadata.version('planner')}"
    contact = contact.strip()
    if not contact and not service.contact:
        return name
    if not contact:
        raise UsageError(
            f"{service.title} wants to know whom to reach if something goes wrong.",
            fix="Give your mail or web address once: --contact grower@example.org, or "
            "PLANNER_CONTACT in the environment, or `contact` in the job file.",
            key="--contact",
        )
    plain = contact.isascii() and contact.isprintable() and not set("()\\") & set(contact)
    if not plain or len(contact) > _LONGEST_CONTACT:
        raise UsageError(
            "The contact cannot be sent as it is.",
            fix="Write a mail or web address, in plain letters.",
            key="--contact",
        )
    return f"{name} ({contact})"
