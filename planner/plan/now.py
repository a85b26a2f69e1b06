"""The time a plan is made from: as typed, the clock's, or the file's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from planner.errors import UsageError, WeatherError

if TYPE_CHECKING:
    from planner.weather.table import Weather


def time_to_plan_from(
    text: str | None,
    zone: str,
    weather: Weather,
    *,
    clock: pd.Timestamp,
    key: str = "now",
) -> pd.Timestamp | None:
    """Give the time to plan from: as typed, else the clock, else the file's own time.

    Parameters
    ----------
    text : str or None
        An ISO date or time, with or without an offset.
    zone : str
        Time zone of the place, for a text without an offset.
    weather : Weather
        The file: a record or an example is planned as of its own time.
    clock : pandas.Timestamp
        What the clock says, UTC.
    key : str
        What the time was typed for, for messages.

    Returns
    -------
    pandas.Timestamp or None
        UTC; None for the file's own time. The clock's time where a forecast has run out,
        so that it is refused.

    Raises
    ------
    UsageError
        If the text is no time, or one that the clock shows twice or never.
    WeatherError
        If a record holds hours that are still to come.
    """
    if weather.kind == "observed" and weather.times[-1] > clock:
        raise WeatherError(
            f"This record goes on to {weather.times[-1]:%Y-%m-%d %H:%M} UTC, after now: hours "
            "to come were measured by nobody.",
            fix="Take them out, or read it with --kind forecast if that is what it is.",
            key="kind",
        )
    if text is None:
        timeless = weather.kind == "observed" or "example" in {x.code for x in weather.notes}
        return None if timeless else clock
    now = pd.to_datetime(text, format="ISO8601", errors="coerce")
    if not text[:4].isdigit() or "-" not in text or not isinstance(now, pd.Timestamp):
        raise UsageError(
            f'"{text}" is not a time.', fix='Write it as "2026-05-04 06:00".', key=key
        )
    if now.tzinfo is None:
        try:
            now = now.tz_localize(zone)
        except ValueError as error:
            raise UsageError(
                f"{text} comes twice, or not at all, by the clock of {zone}.",
                fix=f'Add the offset from UTC, as "{text}-05:00".',
                key=key,
            ) from error
    return now.tz_convert("UTC")
