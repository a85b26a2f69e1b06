"""Where answers are kept: one SQLite file that may be locked, broken or on a full disk.

The cache of ``requests-cache`` over a storage of our own, since its SQLite storage waits
for a locked or unwritable file without end, and unpickles what it finds. Here answers are
JSON, every step has a time limit, and what cannot be kept is only noted.
"""

from __future__ import annotations

import datetime as dt
import logging
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from requests_cache.backends.base import BaseCache, BaseStorage
from requests_cache.models.response import CachedResponse
from requests_cache.policy.directives import CacheDirectives
from requests_cache.serializers.preconf import json_serializer

from planner.weather.live.label import ASKED
from planner.weather.table import Note

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from requests import Response

FILE: Final = "weather.sqlite"
_MOST: Final = 200  # answers kept, the last ones [-]
_WAIT: Final = 1.0  # for another program that holds the file [s]
_TABLE: Final = "CREATE TABLE IF NOT EXISTS answers (key TEXT PRIMARY KEY, answer TEXT)"
_ASKED: Final = (
    "SELECT key, CASE WHEN json_valid(answer) THEN json_extract(answer, ?) END FROM answers"
)
_FORGET: Final = "DELETE FROM answers WHERE rowid <= (SELECT max(rowid) FROM answers) - ?"


logging.getLogger("requests_cache").addHandler(logging.NullHandler())  # told in words here


class Kept(BaseStorage[str, CachedResponse]):
    """Answers by their key, in a file.

    Parameters
    ----------
    file : pathlib.Path
        The file; it and its folder are made when first written.
    wait : float
        How long to wait for another program that holds it [s].
    """

    def __init__(self, file: Path, *, wait: float = _WAIT) -> None:
        super().__init__(serializer=json_serializer)
        self.file = file
        self.wait = wait
        self.notes: list[Note] = []
        self._off = False

    def connect(self) -> sqlite3.Connection:
        """Open the file."""
        self.file.parent.mkdir(parents=True, exist_ok=True)
        return sqlite3.connect(self.file, timeout=self.wait)

    def _ask(self, sql: str, *words: Any) -> list[tuple[Any, ...]]:
        """Run one statement; what the file refuses is noted, and it is left alone after."""
        if self._off:
            return []
        try:
            with closing(self.connect()) as file, file:
                file.execute(_TABLE)
                return file.execute(sql, words).fetchall()
        except (sqlite3.OperationalError, OSError) as error:
            self._without(str(error))
        except sqlite3.DatabaseError as error:
            self._put_aside(str(error))
        return []

    def _without(self, why: str) -> None:
        self._off = True
        text = f"Nothing is kept for later and no earlier copy is used: {self.file}: {why}."
        self.notes.append(Note(code="cache-off", text=text))

    def _put_aside(self, why: str) -> None:
        """Keep a broken file under another name; the next statement makes a new one."""
        now = dt.datetime.now(tz=dt.UTC)
        aside = self.file.with_name(f"{self.file.stem}-broken-{now:%Y%m%dT%H%M%S%f}.sqlite")
        try:
            self.file.replace(aside)
            for ending in ("-journal", "-wal"):
                beside = self.file.with_name(self.file.name + ending)
                if beside.exists():
                    beside.replace(aside.with_name(aside.name + ending))
        except OSError as error:
            self._without(f"{why}; {error}")
            return
        text = f"The store of earlier answers was broken ({why}); it is kept as {aside}."
        self.notes.append(Note(code="cache-broken", text=text))

    def __getitem__(self, key: str) -> CachedResponse:
        for (answer,) in self._ask("SELECT answer FROM answers WHERE key = ?", key):
            found = self.deserialize(key, answer)
            if isinstance(found, CachedResponse):
                return found
        raise KeyError(key)

    def __setitem__(self, key: str, value: CachedResponse) -> None:
        answer = self.serialize(value)
        self._ask("INSERT OR REPLACE INTO answers VALUES (?, ?)", key, answer)
        self._ask(_FORGET, _MOST)

    def __delitem__(self, key: str) -> None:
        if key not in self:
            raise KeyError(key)
        self._ask("DELETE FROM answers WHERE key = ?", key)

    def __iter__(self) -> Iterator[str]:
        return iter([key for (key,) in self._ask("SELECT key FROM answers")])

    def __len__(self) -> int:
        return len(list(iter(self)))

    def alike(self, fits: Callable[[str], bool]) -> list[CachedResponse]:
        """Give every answer whose question fits.

        Parameters
        ----------
        fits : callable
            Is given the address that was asked.

        Returns
        -------
        list of CachedResponse
            In no order.
        """
        rows = self._ask(_ASKED, f'$.headers."{ASKED}"')
        found = [self.get(key) for key, asked in rows if asked and fits(asked)]
        return [each for each in found if each is not None]

    def clear(self) -> None:
        """Forget every answer."""
        self._ask("DELETE FROM answers")


class Cache(BaseCache):
    """The cache of answers; where a redirect led is not kept, nor what must not be.

    How long an answer serves is not asked of it: each is kept to fall back on.

    Parameters
    ----------
    kept : Kept
        The storage.
    """

    def __init__(self, kept: Kept) -> None:
        super().__init__(cache_name=str(kept.file))
        self.responses = kept

    def save_response(self, response: Response, *args: Any, **options: Any) -> None:
        """Keep an answer, unless the service forbids it."""
        if not CacheDirectives.from_headers(response.headers).no_store:
            super().save_response(response, *args, **options)


def cache_file(folder: str | Path | None = None) -> Path:
    """Give the file of answers in a folder, or in the user's own folder for such things.

    Parameters
    ----------
    folder : path, optional
        Another folder.

    Returns
    -------
    pathlib.Path
        The file; it need not be there.
    """
    if folder is not None:
        return Path(folder) / FILE
    from platformdirs import user_cache_path

    return user_cache_path("planner", appauthor=False) / FILE
