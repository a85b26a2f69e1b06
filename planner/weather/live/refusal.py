"""What a service said instead of an answer: why not, and when to ask again."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

from planner.weather.live.age import http_time, whole_seconds
from planner.weather.live.wire import Trouble

if TYPE_CHECKING:
    import requests

_BUSY: Final = 429
_OUT_OF_ORDER: Final = 500  # and above
_LONGEST_WAIT: Final = dt.timedelta(days=365)


def refused(answer: requests.Response) -> Trouble:
    """Say what a service said instead of an answer.

    Parameters
    ----------
    answer : requests.Response
        With a status that is not that of an answer.

    Returns
    -------
    Trouble
        Passing where the service is busy or out of order.
    """
    code, host = answer.status_code, urlsplit(answer.url).hostname
    if code == _BUSY:
        text = f"{host} is asked too often (429)."
        return Trouble(text, fix="Try again later.", passing=True, wait=_wait_of(answer))
    if code >= _OUT_OF_ORDER:
        text = f"{host} is out of order ({code})."
        return Trouble(text, fix="Try again later.", passing=True, wait=_wait_of(answer))
    said = _reason(answer)
    text = f"{host} refuses the question ({code}{': ' if said else ''}{said})."
    return Trouble(text, fix="Check the place; the service may not cover it.")


def _wait_of(answer: requests.Response) -> float:
    """Give how long a service asks to wait [s]; a date counts from its own."""
    text = answer.headers.get("Retry-After", "").strip()
    wait = whole_seconds(text, most=_LONGEST_WAIT)
    if wait is not None:
        return wait.total_seconds()
    until, from_then = http_time(text), http_time(answer.headers.get("Date"))
    if until is None or from_then is None:
        return 0.0
    return max((until - from_then).total_seconds(), 0.0)


def _reason(answer: requests.Response) -> str:
    """Give the reason in the words of the service, if it gives one."""
    try:
        told = answer.json()
    except ValueError:
        return ""
    if not isinstance(told, dict):
        return ""
    said = told.get("reason") or told.get("detail") or told.get("title") or ""
    return str(said).rstrip(".")[:200]
