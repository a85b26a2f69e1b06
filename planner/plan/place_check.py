"""Whether the weather file is of the place where the house stands."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Protocol

from planner.errors import WeatherError
from planner.reference.tables import value
from planner.weather.table import Note

if TYPE_CHECKING:
    from planner.job.records import Job
    from planner.weather.table import Weather, WeatherPlace


class Point(Protocol):
    """Anything with degrees north and east."""

    @property
    def latitude(self) -> float:
        """Degrees north."""
        ...

    @property
    def longitude(self) -> float:
        """Degrees east."""
        ...


_EARTH_RADIUS: Final = 6371.0


def place_notes(job: Job, weather: Weather, *, far: bool) -> tuple[Note, ...]:
    """Compare the place of the weather with the place of the house.

    Parameters
    ----------
    job : Job
        With the place of the house.
    weather : Weather
        With its own place, where the file says one.
    far : bool
        Whether weather of a place far away is accepted.

    Returns
    -------
    tuple of Note
        What a reader should know about the distance.

    Raises
    ------
    WeatherError
        If the places are too far apart and ``far`` is False.
    """
    there = weather.place
    apart = distance(job.place, there)
    if apart is None:
        return ()  # the reader has noted that the file does not say
    if not far:
        refuse_far(
            job.place,
            there,
            fix="Use a file of the house's own place, or --far if you mean it.",
        )
    notes = []
    if apart > value("planning", "weather_near"):
        notes.append(
            Note(
                code="place-far",
                text=f"The weather is for a place {apart:.0f} km away.",
                doubt=True,
            )
        )
    if job.place.elevation is not None and there.elevation is not None:
        higher = there.elevation - job.place.elevation
        if abs(higher) > value("planning", "weather_height"):
            side = "above" if higher > 0 else "below"
            text = f"The weather is for a place {abs(higher):.0f} m {side} the house."
            notes.append(Note(code="place-height", text=text, doubt=True))
    return tuple(notes)


def refuse_far(
    place: Point,
    there: WeatherPlace,
    *,
    what: str = "weather is",
    fix: str = "Use files of one place.",
) -> None:
    """Refuse weather of a place far away.

    Parameters
    ----------
    place : Place
        With degrees north and east.
    there : WeatherPlace
        Where the weather is for; nothing is refused if the file does not say.
    what, fix : str
        For the message.

    Raises
    ------
    WeatherError
        If they are farther apart than ``weather_farthest``.
    """
    apart = distance(place, there)
    if apart is not None and apart > value("planning", "weather_farthest"):
        raise WeatherError(
            f"The {what} for a place {apart:.0f} km from the one planned for.", fix=fix
        )


def distance(place: Point, there: WeatherPlace) -> float | None:
    """Great-circle distance between house and weather [km]; None where unknown."""
    if there.latitude is None or there.longitude is None:
        return None
    north, south = math.radians(place.latitude), math.radians(there.latitude)
    east = math.radians(there.longitude - place.longitude)
    half = (
        math.sin((south - north) / 2) ** 2
        + math.cos(north) * math.cos(south) * math.sin(east / 2) ** 2
    )
    return 2 * _EARTH_RADIUS * math.asin(math.sqrt(half))
