"""One answer over the line: whole, in time, not too large, from the host that was asked.

The timeout of ``requests`` bounds one read only, so a server that sends a byte every
second is never cut off. Here a thread does the reading, and whoever waits for it leaves
at the deadline, whatever the line is doing: looking the name up, shaking hands, sending
headers or sending the body.
"""

from __future__ import annotations

import io
import threading
import time
from dataclasses import dataclass, field
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urljoin, urlsplit

from requests import exceptions
from requests.adapters import HTTPAdapter
from requests_cache.session import CachedSession
from urllib3 import HTTPResponse
from urllib3.exceptions import DecodeError, HTTPError

if TYPE_CHECKING:
    from collections.abc import Callable

    from requests import PreparedRequest, Response

#: No forecast of one place is larger [byte].
MOST_BYTES: Final = 50_000_000
#: All that is ever sent, apart from the address.
SENT: Final = ("User-Agent", "Accept", "Accept-Encoding", "If-None-Match", "If-Modified-Since")
_PIECE: Final = 1 << 16  # byte
_LONG_WAIT: Final = 3.0  # s, after which the waiting is told
_DROPPED: Final = ("content-encoding", "transfer-encoding", "content-length", "set-cookie")


class Trouble(Exception):
    """What went wrong on the line, in words.

    Parameters
    ----------
    words : str
        What to say.
    fix : str
        What to do about it.
    passing : bool
        Whether asking again may help.
    wait : float
        How long the service asks to wait before that [s].
    """

    def __init__(
        self, words: str, *, fix: str = "", passing: bool = False, wait: float = 0.0
    ) -> None:
        super().__init__(words)
        self.words = words
        self.fix = fix
        self.passing = passing
        self.wait = wait


@dataclass(slots=True, kw_only=True)
class Bounds:
    """How long an answer may take, how large it may be, and who is told of waiting.

    ``seconds`` counts from the making of this record [s]; ``heard`` is given every answer
    before it is taken, and raises if it is not to be taken.
    """

    seconds: float
    heard: Callable[[Response], None]
    tell: Callable[[str], None]
    most: int = MOST_BYTES
    until: float = field(init=False)

    def __post_init__(self) -> None:
        self.until = time.monotonic() + self.seconds

    def left(self) -> float:
        """Give the seconds that are left [s]."""
        return self.until - time.monotonic()

    def late(self, host: str) -> Trouble:
        """Say that an answer did not come in time."""
        return Trouble(
            f"{host} did not give its whole answer within {self.seconds:g} s.",
            fix="Try again where the line is better, or allow more with --deadline.",
        )


class WholeAnswers(HTTPAdapter):
    """Ask, and give an answer only when all of it is there and in order.

    Parameters
    ----------
    bounds : Bounds
        Of time and size.
    """

    def __init__(self, bounds: Bounds) -> None:
        super().__init__()
        self.bounds = bounds

    def send(self, request: PreparedRequest, *args: Any, **options: Any) -> Response:
        """Ask in a thread and wait for it until the deadline."""
        host = urlsplit(request.url or "").hostname or ""
        asked = request.copy()
        sent = {name: request.headers[name] for name in SENT if name in request.headers}
        asked.headers.clear()
        asked.headers.update(sent)
        done: SimpleQueue[Response | Exception] = SimpleQueue()
        left_alone = threading.Event()

        def work() -> None:
            try:
                done.put(self._whole(asked, options, left_alone))
            except Exception as error:  # noqa: BLE001 - handed on to the one who waits
                done.put(error)

        threading.Thread(target=work, daemon=True, name=f"asking {host}").start()
        outcome = self._wait(done, left_alone, host)
        if isinstance(outcome, Exception):
            raise _in_words(outcome, host, self.bounds) from outcome
        self.bounds.heard(outcome)
        outcome.request = request
        return outcome

    def _wait(
        self, done: SimpleQueue[Response | Exception], left_alone: threading.Event, host: str
    ) -> Response | Exception:
        began = time.monotonic()
        while (left := self.bounds.left()) > 0:
            try:
                return done.get(timeout=min(left, _LONG_WAIT))
            except Empty:
                waited = time.monotonic() - began
                if self.bounds.left() > 0:
                    self.bounds.tell(f"Waiting for {host}, {waited:.0f} s.")
        left_alone.set()
        return self.bounds.late(host)

    def _whole(
        self, asked: PreparedRequest, options: dict[str, Any], left_alone: threading.Event
    ) -> Response:
        """Read the whole answer; runs in the thread."""
        left = max(self.bounds.left(), 0.001)
        answer = HTTPAdapter.send(self, asked, **{**options, "stream": True, "timeout": left})
        try:
            data = self._body(answer.raw, left_alone)
        finally:
            answer.close()
        kept = {k: v for k, v in answer.headers.items() if k.lower() not in _DROPPED}
        raw = HTTPResponse(
            body=io.BytesIO(data),
            headers=kept,
            status=answer.status_code,
            reason=answer.reason,
            preload_content=False,
            decode_content=False,
        )
        return self.build_response(asked, raw)

    def _body(self, raw: HTTPResponse, left_alone: threading.Event) -> bytes:
        length = raw.headers.get("Content-Length", "")
        if length.isdigit() and int(length) > self.bounds.most:
            raise self._too_large()
        data = bytearray()
        while piece := raw.read1(_PIECE, decode_content=True):
            data += piece
            if len(data) > self.bounds.most:
                raise self._too_large()
            if left_alone.is_set():
                break
        return bytes(data)

    def _too_large(self) -> Trouble:
        return Trouble(
            f"The answer is larger than {self.bounds.most / 1e6:.3g} MB.",
            fix="No forecast of one place is; the address may be wrong.",
        )


class OneHost(CachedSession):
    """A session that follows a redirect only to the host that was asked."""

    def get_redirect_target(self, resp: Response) -> str | None:
        """Give where an answer points to, refused where that is another host."""
        target = super().get_redirect_target(resp)
        if target is None:
            return None
        asked, there = urlsplit(resp.url), urlsplit(urljoin(resp.url, target))
        if there.hostname != asked.hostname or not _same_door(asked, there):
            raise Trouble(
                f"{asked.hostname} sends the question on to another host, {there.netloc}.",
                fix="A network that wants a login does this too: open any web page, then "
                "try again.",
            )
        return target


def _same_door(asked: Any, there: Any) -> bool:
    """Whether scheme and port are the same, or better: from http to https."""
    usual = {"http": 80, "https": 443}
    before = asked.port or usual.get(asked.scheme)
    after = there.port or usual.get(there.scheme)
    if asked.scheme == there.scheme:
        return bool(before == after)
    return bool((asked.scheme, before, there.scheme, after) == ("http", 80, "https", 443))


def _in_words(error: Exception, host: str, bounds: Bounds) -> Trouble:
    if isinstance(error, Trouble):
        return error
    if bounds.left() <= 0 or isinstance(error, exceptions.Timeout):
        return bounds.late(host)
    if isinstance(error, exceptions.SSLError) or "CERTIFICATE" in str(error):
        return Trouble(
            f"The certificate of {host} cannot be trusted.",
            fix="The clock of this computer may be wrong, or the network wants a login: "
            "open any web page.",
        )
    if isinstance(error, exceptions.ConnectionError):
        return Trouble(
            f"There is no line to {host}.",
            fix="Check the network and try again.",
            passing=True,
        )
    if isinstance(error, DecodeError):
        return Trouble(f"The answer of {host} is broken.", fix="Try again.", passing=True)
    refused = isinstance(error, exceptions.RequestException)
    if isinstance(error, (HTTPError, OSError)) and not refused:
        return Trouble(
            f"The line to {host} broke: only a part of the answer came.",
            fix="Try again.",
            passing=True,
        )
    return Trouble(f"{host} cannot be asked ({error}).", fix="Check the address.")
