"""The application on the demo's job and weather, and a browser without a script."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from starlette.testclient import TestClient

from planner.web.app import make_app
from planner.web.desk import Lying
from planner.web.door import Address
from planner.web.uploaded import Given, read_given

DATA = Path(__file__).parents[2] / "data"
HOST = "127.0.0.1:8765"
JOB = (DATA / "larkfield.toml").read_text(encoding="utf-8")
WEATHER = (DATA / "forecast.csv").read_bytes()
COUNT = 40  # possible weathers: enough to go through every line, few enough to be quick


@cache
def demo_weather() -> Given:
    return read_given(WEATHER, "forecast.csv", {})


def app_of(
    folder=Path(), *, job=JOB, given: Given | str | None = "demo", key=None, hosts=(HOST,)
):
    weather = demo_weather() if given == "demo" else given
    return make_app(
        Lying(job=job, given=weather),
        folder=folder,
        address=Address(hosts=frozenset(hosts), key=key),
        options={"count": COUNT},
    )


def browser(app) -> TestClient:
    """A visitor with cookies of their own, who follows where forms lead."""
    return TestClient(app, base_url=f"http://{HOST}")


@dataclass
class Drawn:
    """A form as a page drew it: where it goes, and what its fields hold."""

    action: str
    fields: dict[str, str] = field(default_factory=dict)


def forms(text: str) -> dict[str, Drawn]:
    """Read every form of a page by its action, with plain patterns of our own templates."""
    found = {}
    for action, inside in re.findall(
        r'<form [^>]*?action="([^"]+)"[^>]*>(.*?)</form>', text, re.S
    ):
        drawn = Drawn(action)
        for tag in re.findall(r"<input [^>]*>", inside, re.S):
            name = re.search(r'name="([^"]*)"', tag)
            value = re.search(r'value="([^"]*)"', tag)
            kind = re.search(r'type="([^"]*)"', tag)
            if name and (kind is None or kind.group(1) not in {"file", "checkbox"}):
                drawn.fields[html.unescape(name.group(1))] = html.unescape(
                    value.group(1) if value else ""
                )
        for name, options in re.findall(
            r'<select [^>]*?name="([^"]*)".*?>(.*?)</select>', inside, re.S
        ):
            chosen = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', options)
            drawn.fields[html.unescape(name)] = (
                html.unescape(chosen.group(1) or chosen.group(2)) if chosen else ""
            )
        found.setdefault(action, drawn)
    return found


def send(client: TestClient, action: str, page: str | None = None, **typed: str):
    """Fill in a form of a page as drawn, but for what is typed, and send it."""
    text = client.get(page or action).text
    drawn = forms(text)[action]
    return client.post(action, data={**drawn.fields, **typed})


def beside(text: str, field_id: str) -> str:
    """Give the error that stands beside one field, "" if none does."""
    found = re.search(rf'id="{field_id}-wrong">(.*?)</p>', text, re.S)
    return html.unescape(re.sub(r"<[^>]+>", "", found.group(1))) if found else ""
