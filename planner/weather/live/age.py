"""How old an answer is, and how long it serves, by the clock of the service."""

from __future__ import annotations

import datetime as dt
from email.utils import parsedate_to_datetime
from typing import TYPE_CHECKING, Final

from requests_cache.policy.directives import CacheDirectives

from planner.weather.hourly.issued import age_of
from planner.weather.table import Note

if TYPE_CHECKING:
    from collections.abc import Mapping

#: A clock that is further off is told of.
_OFF: Final = dt.timedelta(minutes=5)
#: A copy dated further ahead of now is no fresh one.
_AHEAD: Final = dt.timedelta(minutes=1)
#: No answer serves longer, whatever the service says: no forecast is new after that.
LONGEST: Final = dt.timedelta(hours=6)
#: After that the service is asked whether a copy changed, where that can be asked.
_LOOK_AGAIN: Final = dt.timedelta(minutes=30)


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
        return time.replace(tzinfo=dt.UTC) if time.tzinfo is None else time.astimezone(dt.UTC)
    except (ValueError, OverflowError):
        return None


def whole_seconds(text: str, *, most: dt.timedelta) -> dt.timedelta | None:
    """Read a number of seconds as it stands in a header.

    Parameters
    ----------
    text : str
        As ``120``.
    most : datetime.timedelta
        A larger number counts as this.

    Returns
    -------
    datetime.timedelta or None
        The span; None if it is no such number.
    """
    if not (text.isascii() and text.isdigit()):
        return None
    return dt.timedelta(seconds=min(int(text[:20]), int(most.total_seconds())))


def service_time(headers: Mapping[str, str]) -> dt.datetime | None:
    """Give the service's own time when it answered: its date, and how long that lay between."""
    time = http_time(headers.get("Date"))
    lain = whole_seconds(headers.get("Age", ""), most=dt.timedelta(days=365))
    try:
        return time + lain if time and lain else time
    except OverflowError:
        return time


def lifetime(
    headers: Mapping[str, str],
    usual: dt.timedelta,
    *,
    longest: dt.timedelta = LONGEST,
    patient: bool = False,
) -> dt.timedelta:
    """Tell how long an answer serves: what the service says, else what is usual, in bounds.

    A clock that fell behind makes a copy look new, and only the service can tell. So where
    it can be asked whether a copy changed, which costs it next to nothing, it is asked after
    half an hour, unless it wants no question before the time it said.

    Parameters
    ----------
    headers : mapping of str to str
        Of the answer.
    usual : datetime.timedelta
        Where it does not say.
    longest : datetime.timedelta
        A longer one is cut down to this.
    patient : bool
        Whether the service wants no question before the time it said.

    Returns
    -------
    datetime.timedelta
        From its date; never negative.
    """
    if not patient and can_be_compared(headers):
        longest = min(longest, _LOOK_AGAIN)
    return min(_said(headers, usual), longest)


def can_be_compared(headers: Mapping[str, str]) -> bool:
    """Say whether a service can be asked whether an answer changed."""
    return "ETag" in headers or "Last-Modified" in headers


def _said(headers: Mapping[str, str], usual: dt.timedelta) -> dt.timedelta:
    says = CacheDirectives.from_headers(dict(headers))
    made, expires = http_time(headers.get("Date")), http_time(says.expires)
    if says.no_cache:
        return dt.timedelta(0)
    if says.max_age is not None:
        return dt.timedelta(seconds=min(max(says.max_age, 0), int(LONGEST.total_seconds())))
    if says.expires is not None and made is not None:
        return max(expires - made, dt.timedelta(0)) if expires else dt.timedelta(0)
    return usual


def is_fresh(age: dt.timedelta, life: dt.timedelta) -> bool:
    """Say whether a copy still serves; one dated in the future does not."""
    return not is_ahead(age) and age < life


def is_ahead(age: dt.timedelta) -> bool:
    """Say whether something is dated in the future; clocks may differ a little."""
    return age < -_AHEAD


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
        f"The clock of this computer is {age_of(abs(ahead))} {way} the service's; ages are "
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
    if not is_ahead(age):
        return ()
    text = (
        f"The copy is dated {age_of(-age)} after the clock of this computer, so its age "
        "cannot be told; the clock is behind."
    )
    return (Note(code="copy-from-the-future", text=text, doubt=True),)
