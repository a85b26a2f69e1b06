"""What each visitor has on the desk: a job, a weather file, and one step back.

Nothing of it is on disk. Two phones have two desks; two tabs of one phone share theirs.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from planner.web.job_edit import digest

if TYPE_CHECKING:
    from planner.web.uploaded import Given

#: How many desks are kept, and how much uploaded weather on all of them [byte].
DESKS: Final = 32
_MOST_WEATHER: Final = 200_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """What lies on a desk at one moment.

    Attributes
    ----------
    job : str or None
        The text of the job file.
    before : str or None
        The text before the last change, to go one step back.
    given : Given or None
        The weather file.
    now : str
        The time to plan from as typed, "" for the clock.
    far : bool
        Whether weather of a place more than 200 km away is accepted.
    """

    job: str | None = None
    before: str | None = None
    given: Given | None = None
    now: str = ""
    far: bool = False

    @property
    def mark(self) -> str:
        """The mark of the job's text, by which a form drawn from an older one is known."""
        return digest(self.job)


class Desk:
    """One visitor's desk; what lies on it is replaced whole, one change at a time."""

    def __init__(self, lying: Lying) -> None:
        self.lying = lying
        self._lock = threading.Lock()

    def change_job(self, text: str, *, drawn_from: str) -> bool:
        """Put another job on the desk, unless it changed since the form was drawn.

        Parameters
        ----------
        text : str
            The new text.
        drawn_from : str
            Mark of the text that the form was drawn from.

        Returns
        -------
        bool
            Whether it was put there.
        """
        with self._lock:
            if drawn_from != self.lying.mark:
                return False
            if text != self.lying.job:
                self.lying = replace(self.lying, job=text, before=self.lying.job)
            return True

    def put_back(self, *, drawn_from: str) -> bool:
        """Put the job back as it was before the last change; the next time, forth again.

        Parameters
        ----------
        drawn_from : str
            Mark of the text that the form was drawn from.

        Returns
        -------
        bool
            Whether it was put back.
        """
        with self._lock:
            if drawn_from != self.lying.mark or self.lying.before is None:
                return False
            self.lying = replace(self.lying, job=self.lying.before, before=self.lying.job)
            return True

    def take_weather(self, given: Given | None, *, now: str, far: bool) -> None:
        """Put another weather file on the desk, and how it is to be planned from.

        Parameters
        ----------
        given : Given or None
            The file.
        now : str
            The time to plan from as typed, "" for the clock.
        far : bool
            Whether weather of a place more than 200 km away is accepted.
        """
        with self._lock:
            self.lying = replace(self.lying, given=given, now=now, far=far)


class Desks:
    """The desks of all visitors; the one untouched for longest makes room for a new one."""

    def __init__(self, start: Lying, *, most: int = DESKS) -> None:
        self._start = start
        self._most = most
        self._desks: OrderedDict[str, Desk] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, visitor: str) -> Desk:
        """Give a visitor's desk, a new one at the first visit."""
        with self._lock:
            desk = self._desks.pop(visitor, None) or Desk(self._start)
            self._desks[visitor] = desk
            while len(self._desks) > self._most or (
                len(self._desks) > 1 and self._weather() > _MOST_WEATHER
            ):
                self._desks.popitem(last=False)
            return desk

    def _weather(self) -> int:
        """Add up the weather files, each counted once [byte]."""
        given = [x.lying.given for x in self._desks.values()]
        files = {id(x.data): len(x.data) for x in given if x is not None}
        return sum(files.values())
