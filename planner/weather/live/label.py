"""What the planner writes on a copy beside the headers of the service.

The service's headers say when it gave an answer or last said that it holds. A copy must
tell more: when this very body first came, when it came by the clock of this computer, and
what was asked. Each is a header of its own; one of that name from a service is dropped.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping, MutableMapping

ASKED: Final = "Planner-Asked"
_FIRST: Final = "Planner-First"
_CAME: Final = "Planner-Came"


def label(
    headers: MutableMapping[str, str], *, asked: str, first: dt.datetime, came: dt.datetime
) -> None:
    """Write on an answer what its copy must tell.

    Parameters
    ----------
    headers : mapping of str to str
        Of the answer.
    asked : str
        The address that was asked.
    first : datetime.datetime
        When this body was first received, by the service's clock.
    came : datetime.datetime
        When the answer came, by the clock of this computer.
    """
    headers[ASKED] = asked
    headers[_FIRST] = first.isoformat()
    headers[_CAME] = came.isoformat()


def first_received(headers: Mapping[str, str]) -> dt.datetime | None:
    """Give when a body was first received, by the service's clock; None if not said."""
    return _time(headers, _FIRST)


def came(headers: Mapping[str, str]) -> dt.datetime | None:
    """Give when an answer came, by the clock of this computer; None if not said."""
    return _time(headers, _CAME)


def _time(headers: Mapping[str, str], name: str) -> dt.datetime | None:
    text = headers.get(name)
    return None if text is None else dt.datetime.fromisoformat(text)
