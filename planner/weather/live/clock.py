"""How old an answer is, and how long it serves, by the clock of the service."""

from __future__ import annotations

import datetime as dt
from email.utils import parsedate_to_datetime
from typing import TYPE_CHECKING, Final

from requests_cache.policy.directives import CacheDirectives

from planner.weather.table import Note

if TYPE_CHECKING:
    from collections.abc import Mapping

#: A clock that is further off is told of.
_OFF: Final = dt.timedelta(minutes=5)
#: A copy dated further ahead of now is no fresh one.
_AHEAD: Final = dt.timedelta(minutes=1)


def http_time(text: str | None) -> dt.datetime | None:
    """Read a time as it stands in a header.

    Parameters
    ----------
    text : str or None
        As ``Wed, 06 May 2026 09:00:00 GMT``.

    Returns
    -------
    datetime or None
        UTC; None if it is no time.
    """
    try:
        time = parsedate_to_datetime(text or "")
    except ValueError:
        return None
    return time.replace(tzinfo=dt.UTC) if time.tzinfo is None else time.astimezone(dt.UTC)


def service_time(headers: Mapping[str, str]) -> dt.datetime | None:
    """Give the service's own time when it answered: its date, and how long that lay between."""
    time = http_time(headers.get("Date"))
    lain = headers.get("Age", "")
    return time + dt.timedelta(seconds=int(lain)) if time and lain.isdigit() else time


def lifetime(headers: Mapping[str, str], usual: dt.timedelta) -> dt.timedelta:
    """Tell how long an answer serves: what the service says, else what is usual.

    Parameters
    ----------
    headers : mapping of str to str
        Of the answer.
    usual : datetime.timedelta
        Where it does not say.

    Returns
    -------
    datetime.timedelta
        From its date; never negative.
    """
    says = CacheDirectives.from_headers(dict(headers))
    made, expires = http_time(headers.get("Date")), http_time(says.expires)
    if says.no_cache:
        return dt.timedelta(0)
    if says.max_age is not None:
        return dt.timedelta(seconds=max(int(says.max_age), 0))
    if says.expires is not None and made is not None:
        return max(expires - made, dt.timedelta(0)) if expires else dt.timedelta(0)
    return usual


def is_fresh(age: dt.timedelta, life: dt.timedelta) -> bool:
    """Say whether a copy still serves; one dated in the future does not."""
    return -_AHEAD <= age < life


def clock_notes(ahead: dt.timedelta | None) -> tuple[Note, ...]:
    """Doubt a computer's clock that is far from the service's.

    Parameters
    ----------
    ahead : datetime.timedelta or None
        How far it is ahead; None if the service did not say.

    Returns
    -------
    tuple of Note
        Nothing to say, or one doubt.
    """
    if ahead is None or abs(ahead) <= _OFF:
        return ()
    way = "ahead of" if ahead > dt.timedelta(0) else "behind"
    text = (
        f"The clock of this computer is {in_words(abs(ahead))} {way} the service's; ages are "
        "told by the service's clock. Set it right: plans begin at its time."
    )
    return (Note(code="clock-off", text=text, doubt=True),)


def future_notes(age: dt.timedelta) -> tuple[Note, ...]:
    """Doubt a copy that is dated after now.

    Parameters
    ----------
    age : datetime.timedelta
        Of the copy.

    Returns
    -------
    tuple of Note
        Nothing to say, or one doubt.
    """
    if age >= -_AHEAD:
        return ()
    text = (
        f"The copy is dated {in_words(-age)} after the clock of this computer, so its age "
        "cannot be told; the clock is behind."
    )
    return (Note(code="copy-from-the-future", text=text, doubt=True),)


def in_words(span: dt.timedelta) -> str:
    """Write how long something is: ``35 min``, ``5 h 20 min``, ``3 d 4 h``."""
    minutes = round(span.total_seconds() / 60)
    days, hours, left = minutes // 1440, minutes % 1440 // 60, minutes % 60
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {left} min" if left else f"{hours} h"
    return f"{left} min"
