"""One polite question to a weather service, with a copy of the last answer to fall back on.

What the service says of freshness counts, within bounds: an answer that still serves is not
asked for again, one that does not is only asked whether it changed. Where the line or the
service fails, the last copy is given and says how old it is and why. Nothing is sent but
the address and who is asking.
"""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Self
from urllib.parse import urlsplit

import requests

from planner.errors import PlannerError, WeatherError
from planner.weather.hourly.issued import age_of
from planner.weather.live.age import (
    LONGEST,
    can_be_compared,
    clock_notes,
    future_notes,
    http_time,
    is_ahead,
    is_fresh,
    lifetime,
    service_time,
)
from planner.weather.live.label import came, first_received, label
from planner.weather.live.refusal import refused
from planner.weather.live.store import Cache, Kept
from planner.weather.live.wire import MOST_BYTES, Bounds, OneHost, Trouble, WholeAnswers
from planner.weather.table import Note

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from requests_cache.models.response import CachedResponse

    Check = Callable[[bytes, dt.datetime], None]

_PAUSES: Final = (0.5, 1.0, 2.0)  # before the next try, if the service does not say [s]
_MOST_REDIRECTS: Final = 5
_UNCHANGED: Final = 304
_GOOD: Final = 200
_GIVEN_UP: Final = 203  # MET Norway's word for an address that will soon be gone


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """What a service said.

    Attributes
    ----------
    data : bytes
        The body.
    url : str
        The address asked.
    fetched : datetime.datetime
        When the service gave it, or last said that it holds, UTC by the service's clock.
    first : datetime.datetime
        When this very body was first received, UTC by the service's clock.
    age : datetime.timedelta
        How long ago that was.
    kept : bool
        Whether it is a copy from the cache.
    stale : bool
        Whether it is a copy that no longer serves, given because nothing better was to be had.
    why : str
        Why it is stale, in words.
    notes : tuple of Note
        What is doubted of clocks and cache.
    """

    data: bytes
    url: str
    fetched: dt.datetime
    first: dt.datetime
    age: dt.timedelta
    kept: bool = False
    stale: bool = False
    why: str = ""
    notes: tuple[Note, ...] = ()


def _silent(text: str) -> None:
    """Tell nobody."""


def _now() -> dt.datetime:
    return dt.datetime.now(tz=dt.UTC)


class Line:
    """A line to one service, open for one fetching.

    Parameters
    ----------
    service : str
        Name of the service, for messages.
    agent : str
        Who asks: the User-Agent.
    file : pathlib.Path
        Where answers are kept.
    fresh : float
        How long an answer serves that does not say itself [min].
    longest : float
        How long an answer serves at most [min].
    patient : bool
        Whether the service wants no question before an answer's time is over.
    same : callable
        Gives what an address asks apart from the days; of copies that are the same in that
        the newest is fallen back on.
    deadline : float
        How long everything together may take [s].
    offline : bool
        Open no connection at all.
    most : int
        How large an answer may be [byte].
    pauses : tuple of float
        Before each further try [s].
    now : callable
        Gives the time of this computer, UTC.
    tell : callable
        Is given a line of text when something takes long.
    """

    def __init__(
        self,
        *,
        service: str,
        agent: str,
        file: Path,
        fresh: float = 30.0,
        longest: float = LONGEST / dt.timedelta(minutes=1),
        patient: bool = False,
        same: Callable[[str], str] = str,
        deadline: float = 30.0,
        offline: bool = False,
        most: int = MOST_BYTES,
        pauses: tuple[float, ...] = _PAUSES,
        now: Callable[[], dt.datetime] = _now,
        tell: Callable[[str], None] = _silent,
    ) -> None:
        self.service = service
        self.usual = dt.timedelta(minutes=fresh)
        self.longest = min(dt.timedelta(minutes=longest), LONGEST)
        self.patient = patient
        self.same = same
        self.offline = offline
        self.pauses = pauses
        self.now = now
        self.tell = tell
        self.kept = Kept(file)
        self.ahead: dt.timedelta | None = None
        self.copy: CachedResponse | None = None
        self.bounds = Bounds(seconds=deadline, heard=self._hear, tell=tell, most=most)
        self.session = OneHost(
            backend=Cache(self.kept),
            expire_after=self.usual,
            allowable_codes=(_GOOD, _GIVEN_UP),
        )
        self.session.max_redirects = _MOST_REDIRECTS
        self.session.headers.clear()
        self.session.headers.update({"User-Agent": agent, "Accept-Encoding": "gzip, deflate"})
        for scheme in ("http://", "https://"):
            self.session.mount(scheme, WholeAnswers(self.bounds))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.session.close()  # type: ignore[no-untyped-call]

    def get(self, url: str, check: Check) -> Answer:
        """Ask, or give the copy that still serves.

        Parameters
        ----------
        url : str
            The address.
        check : callable
            Is given the body before it is taken, and when the service gave it; raises
            ``Trouble`` or ``PlannerError`` if it is not what was asked for. Such a body is
            not kept.

        Returns
        -------
        Answer
            Perhaps a stale copy, which says so.

        Raises
        ------
        WeatherError
            If there is no answer and no copy of an earlier one.
        """
        self.url, self.check = url, check
        found: CachedResponse | None = self.session.cache.get_response(self._key(url))
        self.copy = copy = found if found is not None and self._in_order(found) else None
        if copy is not None and self._serves(copy):
            return self._given(copy, url, kept=True)
        if self.offline:
            stays = Trouble(
                "There is no copy of an earlier answer, and --offline was asked for.",
                fix="Fetch once with a line, or leave --offline out.",
            )
            return self._fall_back(url, stays, why="no line was to be used (--offline)")
        try:
            return self._given(self._tries(url), url)
        except Trouble as trouble:
            return self._fall_back(url, trouble, why=trouble.words.rstrip("."))

    def _in_order(self, copy: CachedResponse) -> bool:
        try:
            self.check(copy.content, self._first(copy))
        except (Trouble, PlannerError):
            return False
        return True

    def _serves(self, copy: CachedResponse) -> bool:
        """Say whether a copy is fresh by its date and by when it came here."""
        says = copy.headers
        life = lifetime(says, self.usual, longest=self.longest, patient=self.patient)
        changed = http_time(says.get("Last-Modified"))
        if changed is not None and is_ahead(self._age(changed)):
            return False
        here = came(says)
        ages = [self._age(self._made(copy)), *([self.now() - here] if here else [])]
        return all(is_fresh(age, life) for age in ages)

    def _made(self, answer: requests.Response | CachedResponse) -> dt.datetime:
        """Give when the service made an answer, by its own clock if it says so."""
        made = http_time(answer.headers.get("Date")) or came(answer.headers)
        return made or getattr(answer, "created_at", None) or self.now()

    def _first(self, answer: requests.Response | CachedResponse) -> dt.datetime:
        """Give when a body was first received."""
        return first_received(answer.headers) or self._made(answer)

    def _age(self, made: dt.datetime) -> dt.timedelta:
        """Give how long ago something was by the service's clock, if it was heard of."""
        return self.now() - (self.ahead or dt.timedelta(0)) - made

    def _age_of(self, answer: requests.Response | CachedResponse) -> dt.timedelta:
        """Give the age of an answer; where no service tells the time, the larger of two."""
        age, here = self._age(self._made(answer)), came(answer.headers)
        if self.ahead is None and here is not None:
            age = max(age, self.now() - here)
        return max(age, dt.timedelta(0))

    def _hear(self, answer: requests.Response) -> None:
        """Take the service's time, look the body over, and label it for its copy."""
        theirs = service_time(answer.headers)
        if theirs is not None:
            self.ahead = self.now() - theirs
        given = first = http_time(answer.headers.get("Date")) or self.now()
        if self.copy is not None and (
            answer.status_code == _UNCHANGED or answer.content == self.copy.content
        ):
            first = self._first(self.copy)
        label(answer.headers, asked=self.url, first=first, came=self.now())
        if answer.status_code in (_GOOD, _GIVEN_UP):
            self.check(answer.content, given)

    def _tries(self, url: str) -> requests.Response:
        """Ask until there is an answer, another try cannot help, or the time is up."""
        for pause in self.pauses:
            try:
                return self._once(url)
            except Trouble as trouble:
                wait = max(pause, trouble.wait)
                if not trouble.passing:
                    raise
                if wait >= self.bounds.left():
                    raise self._no_time_for(trouble, wait) from trouble
                self.tell(f"{trouble.words} Trying again in {wait:.3g} s.")
                time.sleep(wait)
        return self._once(url)

    def _no_time_for(self, trouble: Trouble, wait: float) -> Trouble:
        if not trouble.wait:
            return trouble
        asked = age_of(dt.timedelta(seconds=wait)) if wait >= 60 else f"{wait:.3g} s"
        return Trouble(f"{trouble.words} It asks to wait {asked}.", fix="Try again after that.")

    def _once(self, url: str) -> requests.Response:
        asks = self.copy is not None and can_be_compared(self.copy.headers)
        how = {"refresh": True} if asks else {"force_refresh": True}
        try:
            answer: requests.Response = self.session.get(url, **how)
        except requests.RequestException as error:
            words = f"{urlsplit(url).hostname} cannot be asked ({error})."
            raise Trouble(words, fix="Check the address.") from error
        except PlannerError as error:  # what came is not weather
            what = ": ".join(part for part in (error.key, error.message) if part)
            words = f"{urlsplit(url).hostname} gave an answer that cannot be read: {what}"
            raise Trouble(words, fix=error.fix) from error
        if answer.status_code in (_GOOD, _GIVEN_UP):
            return answer
        raise refused(answer)

    def _key(self, url: str) -> str:
        return self.session.cache.create_key(requests.Request("GET", url))

    def _given(
        self, answer: requests.Response | CachedResponse, url: str, *, kept: bool = False
    ) -> Answer:
        made = self._made(answer)
        notes = [*self.kept.notes, *clock_notes(self.ahead)]
        if answer.status_code == _GIVEN_UP:
            text = f"{self.service} will soon be asked at another address; update the planner."
            notes.append(Note(code="service-changes", text=text))
        return Answer(
            data=answer.content,
            url=url,
            fetched=made,
            first=self._first(answer),
            age=self._age_of(answer),
            kept=kept,
            notes=tuple(notes),
        )

    def _fall_back(self, url: str, trouble: Trouble, *, why: str) -> Answer:
        """Give the last copy, saying why, or the error."""
        self.pauses = ()  # a second question over this line is not tried at length
        copy = self._newest(url)
        if copy is None:
            where = f"{self.service} ({urlsplit(url).hostname})"
            raise WeatherError(trouble.words, fix=trouble.fix, file=where) from trouble
        made = self._made(copy)
        notes = [*self.kept.notes, *clock_notes(self.ahead), *future_notes(self._age(made))]
        stale = True
        if copy is not self.copy:
            stale = not self._serves(copy)
            text = "The last copy was asked for other days; all of its hours are given."
            notes.append(Note(code="other-days", text=text))
        return Answer(
            data=copy.content,
            url=url,
            fetched=made,
            first=self._first(copy),
            age=self._age_of(copy),
            kept=True,
            stale=stale,
            why=why if stale else "",
            notes=tuple(notes),
        )

    def _newest(self, url: str) -> CachedResponse | None:
        """Give the newest copy for the same service and place, whatever the days."""
        asked = self.same(url)
        others = self.kept.alike(lambda each: each != url and self.same(each) == asked)
        copies = [*([self.copy] if self.copy is not None else []), *others]
        copies.sort(key=self._made, reverse=True)
        return next((each for each in copies if self._in_order(each)), None)
