"""One polite question to a weather service, with a copy of the last answer to fall back on.

What the service says of freshness counts: an answer that still serves is not asked for
again, one that does not is only asked whether it changed. Where the line or the service
fails, the last copy is given and says how old it is and why. Nothing is sent but the
address and who is asking.
"""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Self
from urllib.parse import urlsplit

import requests
from requests_cache.policy.directives import CacheDirectives

from planner.errors import PlannerError, WeatherError
from planner.weather.live.clock import (
    clock_notes,
    future_notes,
    http_time,
    in_words,
    is_fresh,
    lifetime,
    service_time,
)
from planner.weather.live.store import Cache, Kept
from planner.weather.live.wire import MOST_BYTES, Bounds, OneHost, Trouble, WholeAnswers
from planner.weather.table import Note

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from requests_cache.models.response import CachedResponse

_PAUSES: Final = (0.5, 1.0, 2.0)  # before the next try, if the service does not say [s]
_MOST_REDIRECTS: Final = 5
_BUSY: Final = 429
_OUT_OF_ORDER: Final = 500  # and above
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
        deadline: float = 30.0,
        offline: bool = False,
        most: int = MOST_BYTES,
        pauses: tuple[float, ...] = _PAUSES,
        now: Callable[[], dt.datetime] = _now,
        tell: Callable[[str], None] = _silent,
    ) -> None:
        self.service = service
        self.usual = dt.timedelta(minutes=fresh)
        self.offline = offline
        self.pauses = pauses
        self.now = now
        self.tell = tell
        self.kept = Kept(file)
        self.ahead: dt.timedelta | None = None
        self.bounds = Bounds(
            seconds=deadline, check=_nothing_to_check, heard=self._hear, tell=tell, most=most
        )
        self.session = OneHost(
            backend=Cache(self.kept),
            cache_control=True,
            expire_after=self.usual,
            allowable_codes=(200, _GIVEN_UP),
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

    def get(self, url: str, check: Callable[[bytes], None]) -> Answer:
        """Ask, or give the copy that still serves.

        Parameters
        ----------
        url : str
            The address.
        check : callable
            Is given the body before it is taken; raises ``Trouble`` or ``PlannerError`` if it
            is not what was asked for. Such a body is not kept.

        Returns
        -------
        Answer
            Perhaps a stale copy, which says so.

        Raises
        ------
        WeatherError
            If there is no answer and no copy of an earlier one.
        """
        self.bounds.check = check
        copy = self._copy(url, check)
        if copy is not None and self._serves(copy):
            return self._given(copy, url, kept=True)
        if self.offline:
            stays = Trouble(
                "There is no copy of an earlier answer, and --offline was asked for.",
                fix="Fetch once with a line, or leave --offline out.",
            )
            return self._fall_back(copy, url, stays, why="no line was to be used (--offline)")
        try:
            return self._given(self._tries(url, copy), url)
        except Trouble as trouble:
            return self._fall_back(copy, url, trouble, why=trouble.words.rstrip("."))

    def _copy(self, url: str, check: Callable[[bytes], None]) -> CachedResponse | None:
        """Give the copy of an earlier answer, if there is one and it is in order."""
        found: CachedResponse | None = self.session.cache.get_response(self._key(url))
        if found is None:
            return None
        try:
            check(found.content)
        except (Trouble, PlannerError):
            return None
        return found

    def _serves(self, copy: CachedResponse) -> bool:
        return is_fresh(self._age(self._made(copy)), lifetime(copy.headers, self.usual))

    def _made(self, answer: requests.Response | CachedResponse) -> dt.datetime:
        """Give when the service made an answer, by its own clock if it says so."""
        made = http_time(answer.headers.get("Date"))
        return made or getattr(answer, "created_at", None) or self.now()

    def _age(self, made: dt.datetime) -> dt.timedelta:
        """Give how long ago something was by the service's clock, if it was heard of."""
        return self.now() - (self.ahead or dt.timedelta(0)) - made

    def _hear(self, headers: Mapping[str, str]) -> None:
        theirs = service_time(headers)
        if theirs is not None:
            self.ahead = self.now() - theirs

    def _tries(self, url: str, copy: CachedResponse | None) -> requests.Response:
        """Ask until there is an answer, another try cannot help, or the time is up."""
        for pause in self.pauses:
            try:
                return self._once(url, copy)
            except Trouble as trouble:
                wait = max(pause, trouble.wait)
                if not trouble.passing:
                    raise
                if wait >= self.bounds.left():
                    raise self._no_time_for(trouble, wait) from trouble
                self.tell(f"{trouble.words} Trying again in {wait:.3g} s.")
                time.sleep(wait)
        return self._once(url, copy)

    def _no_time_for(self, trouble: Trouble, wait: float) -> Trouble:
        if not trouble.wait:
            return trouble
        asked = in_words(dt.timedelta(seconds=wait)) if wait >= 60 else f"{wait:.3g} s"
        return Trouble(f"{trouble.words} It asks to wait {asked}.", fix="Try again after that.")

    def _once(self, url: str, copy: CachedResponse | None) -> requests.Response:
        asks = copy is not None and {"ETag", "Last-Modified"} & {*copy.headers}
        again = {"refresh": True} if asks else {"force_refresh": True}
        try:
            answer: requests.Response = self.session.get(url, **(again if copy else {}))
        except requests.RequestException as error:
            words = f"{urlsplit(url).hostname} cannot be asked ({error})."
            raise Trouble(words, fix="Check the address.") from error
        except PlannerError as error:  # what came is not weather
            what = ": ".join(part for part in (error.key, error.message) if part)
            words = f"{urlsplit(url).hostname} gave an answer that cannot be read: {what}"
            raise Trouble(words, fix=error.fix) from error
        if answer.status_code in (200, _GIVEN_UP):
            self._keep(answer, url)
            return answer
        raise self._refused(answer)

    def _keep(self, answer: requests.Response, url: str) -> None:
        """Keep an answer that serves no longer than now too, to fall back on."""
        told = CacheDirectives.from_headers(dict(answer.headers))
        if getattr(answer, "cache_key", None) is None and not told.no_store:
            self.session.cache.save_response(answer, self._key(url))

    def _key(self, url: str) -> str:
        return self.session.cache.create_key(requests.Request("GET", url))

    def _refused(self, answer: requests.Response) -> Trouble:
        """Say what a service said instead of an answer."""
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
            age=max(self._age(made), dt.timedelta(0)),
            kept=kept,
            notes=tuple(notes),
        )

    def _fall_back(
        self, copy: CachedResponse | None, url: str, trouble: Trouble, *, why: str
    ) -> Answer:
        """Give the last copy, saying why, or the error."""
        self.pauses = ()  # a second question over this line is not tried at length
        if copy is None:
            where = f"{self.service} ({urlsplit(url).hostname})"
            raise WeatherError(trouble.words, fix=trouble.fix, file=where) from trouble
        made = self._made(copy)
        age = self._age(made)
        return Answer(
            data=copy.content,
            url=url,
            fetched=made,
            age=max(age, dt.timedelta(0)),
            kept=True,
            stale=True,
            why=why,
            notes=(*self.kept.notes, *clock_notes(self.ahead), *future_notes(age)),
        )


def _nothing_to_check(data: bytes) -> None:
    """Take any body."""


def _wait_of(answer: requests.Response) -> float:
    """Give how long a service asks to wait [s]; a date counts from its own."""
    text = answer.headers.get("Retry-After", "").strip()
    if text.isdigit():
        return float(text)
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
