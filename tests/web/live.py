"""The application answering on a free port of this computer, and the ways through it."""

from __future__ import annotations

import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn

from planner.web.app import make_app
from planner.web.desk import Lying
from planner.web.door import Address
from tests.browser import Watched
from tests.web.made_app import COUNT, DATA

FORECAST = DATA / "forecast.csv"
#: What is typed into the form, by label, in the order of its fields.
ANSWERS = {
    "What do you call the house?": "North tunnel",
    "Latitude, degrees": "44.02",
    "Longitude, degrees": "-91.40",
    "Width, foot to foot": "20 ft",
    "Length along the ridge": "48 ft",
    "People in the crew": "4",
}
WIDTHS = (390, 1280)
_PATIENCE = 60.0  # until the server answers, or has stopped [s]
#: Chromium's word on the console for an answer that a wrong form gets, as it should.
_REFUSED = re.compile(r"the server responded with a status of (422|409|404) ")


@dataclass(frozen=True)
class Site:
    """Where the application answers, the folder it was started in, and its end."""

    url: str
    folder: Path
    server: uvicorn.Server = field(repr=False)
    thread: threading.Thread = field(repr=False)

    def stop(self) -> None:
        self.server.should_exit = self.server.force_exit = True
        self.thread.join(_PATIENCE)
        assert not self.thread.is_alive()


@contextmanager
def served(folder: Path, lying: Lying | None = None) -> Iterator[Site]:
    """Start the application on a thread of its own, and stop it."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        host = f"127.0.0.1:{listening.getsockname()[1]}"
        app = make_app(
            lying,
            folder=folder,
            address=Address(hosts=frozenset({host})),
            options={"count": COUNT},
        )
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="error", lifespan="off", ws="none")
        )
        thread = threading.Thread(
            target=server.run, kwargs={"sockets": [listening]}, daemon=True
        )
        thread.start()
        until = time.monotonic() + _PATIENCE
        while not server.started and thread.is_alive() and time.monotonic() < until:
            time.sleep(0.01)
        assert server.started
        site = Site(f"http://{host}", folder, server, thread)
        try:
            yield site
        finally:
            site.stop()


@contextmanager
def visiting(browser: Any, site: Site, *, width: int = 390, **how: Any) -> Iterator[Any]:
    """Open a tab of a new visitor; nothing may be asked from outside or be heard."""
    context = browser.new_context(viewport={"width": width, "height": 844}, **how)
    context.set_default_timeout(15_000)
    watched = Watched(context, at_home=site.url)
    yield watched.page
    assert watched.outside == []
    assert [x for x in watched.errors if not _REFUSED.search(x)] == []
    context.close()


def fill_in(tab: Any, site: Site, **other: str) -> None:
    """Fill in the job form of an empty desk and send it."""
    tab.goto(f"{site.url}/job")
    for label, said in ANSWERS.items():
        tab.get_by_label(label).fill(said)
    for label, said in other.items():
        tab.get_by_label(label).fill(said)
    press(tab, "Keep this job")


def upload(tab: Any) -> None:
    """Give the demo's forecast, on the page of the weather."""
    tab.get_by_label("Weather file").set_input_files(FORECAST)
    press(tab, "Read this weather")


def press(tab: Any, name: str) -> None:
    """Press a button of a form, and wait for the page that answers."""
    with tab.expect_navigation():
        tab.get_by_role("button", name=name, exact=True).click()


def follow(tab: Any, name: str) -> None:
    """Follow a link, and wait for the page it leads to."""
    with tab.expect_navigation():
        tab.get_by_role("link", name=name, exact=True).click()


def download(tab: Any, name: str) -> bytes:
    """Take along what a link below the plan gives."""
    with tab.expect_download() as coming:
        tab.get_by_role("link", name=name, exact=True).click()
    return Path(coming.value.path()).read_bytes()


def with_plan(tab: Any, site: Site, **other: str) -> None:
    """Go from nothing to the plan."""
    fill_in(tab, site, **other)
    upload(tab)
    follow(tab, "See the plan")


def word(tab: Any) -> str:
    """Give the answer of the plan: GO, HOLD, NO-GO or NO DATA."""
    return str(tab.inner_text(".answer .word")).strip()
