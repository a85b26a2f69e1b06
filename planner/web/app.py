"""The application: pages and JSON interface behind one door."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from planner.errors import PlannerError, UsageError
from planner.web import api, job_pages, plan_pages, tension_pages, weather_pages, what_if
from planner.web.desk import Desks, Lying
from planner.web.door import Address, Door
from planner.web.made import Maker
from planner.web.pages import words_page

if TYPE_CHECKING:
    from collections.abc import Mapping

_STATIC: Final = Path(__file__).parent / "static"
_COMMAND: Final = {
    " with --on": "",
    "or give the time to plan from with --now": "or fill in the time to plan from",
    "or --far if you mean it": "or tick the box that accepts weather from far away",
}
_WORDS: Final = {
    404: ("There is no such page.", "The pages there are stand at the top."),
    405: ("This page takes no such request.", "Open it from the links at the top."),
    400: ("What was sent cannot be read.", "Go back, load the page again and send it again."),
}


def make_app(
    lying: Lying | None = None,
    *,
    folder: Path,
    address: Address,
    options: Mapping[str, Any] | None = None,
) -> FastAPI:
    """Make the application.

    Parameters
    ----------
    lying : Lying, optional
        Job and weather that every desk starts with.
    folder : pathlib.Path
        Where job files are saved.
    address : Address
        Where it is to be found, and its key if it has one.
    options : mapping, optional
        Of ``make_plan``: ``count`` and ``seed`` of the possible weathers.

    Returns
    -------
    FastAPI
        An ASGI application.
    """
    app = FastAPI(
        title="planner",
        description="Which hours to put film on a hoop house. A plan is not permission.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.lying = lying or Lying()
    app.state.desks = Desks(app.state.lying)
    app.state.maker = Maker(options=dict(options or {}))
    app.state.folder = folder
    for pages in (job_pages, weather_pages, plan_pages, what_if, tension_pages, api):
        app.include_router(pages.router)
    app.mount("/static", StaticFiles(directory=_STATIC))
    app.add_exception_handler(PlannerError, _planner_error)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_middleware(Door, address=address)
    return app


def _is_api(request: Request) -> bool:
    return request.url.path.startswith("/api/")


def _planner_error(request: Request, error: Exception) -> Response:
    """Say what stops the planner: on a page of its own, or as a record."""
    assert isinstance(error, PlannerError)
    if _is_api(request):
        return api.as_record(error)
    fix = error.fix
    for command, words in _COMMAND.items():
        fix = fix.replace(command, words)
    where = ("/weather", "To the weather") if error.exit_code == 3 else ("/job", "To the job")
    return HTMLResponse(words_page(error.message, fix, link=where), status_code=422)


def _not_valid(request: Request, error: Exception) -> Response:
    """Say which part of a request is not what it must be."""
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    key = ".".join(str(part) for part in first["loc"][1:])
    said = UsageError(
        f"{first['msg']}.", fix="Compare it with /api/openapi.json.", key=key or None
    )
    if _is_api(request):
        return api.as_record(said)
    return HTMLResponse(words_page(*_WORDS[400]), status_code=422)


def _http_error(request: Request, error: Exception) -> Response:
    """Say in words what the address or the request lacks."""
    assert isinstance(error, HTTPException)
    message, fix = _WORDS.get(error.status_code, (str(error.detail), "Go back and try again."))
    if _is_api(request):
        response = api.as_record(UsageError(message, fix=fix), error.status_code)
    else:
        response = HTMLResponse(words_page(message, fix), status_code=error.status_code)
    response.headers.update(error.headers or {})
    return response
