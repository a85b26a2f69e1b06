"""What every page needs of one visit: the visitor's desk, and who makes the plans."""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.datastructures import FormData, UploadFile

from planner.web.desk import Desk, Lying
from planner.web.made import Maker
from planner.web.pages import page


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One request: the desk, what lay on it when it began, and where files are saved."""

    desk: Desk
    lying: Lying
    maker: Maker
    folder: Path

    def show(self, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
        """Answer with a page."""
        return HTMLResponse(page(template, lying=self.lying, **values), status_code=status)


def _visit(request: Request) -> Visit:
    state = request.app.state
    desk = state.desks.of(request.state.visitor)
    return Visit(desk=desk, lying=desk.lying, maker=state.maker, folder=state.folder)


async def _form(request: Request) -> AsyncIterator[FormData]:
    async with request.form(max_files=2, max_fields=300) as form:
        yield form


Here = Annotated[Visit, Depends(_visit)]
Form = Annotated[FormData, Depends(_form)]


def text_of(form: FormData, key: str) -> str:
    """Give what one field of a form holds, "" where it is not there."""
    value = form.get(key)
    return value if isinstance(value, str) else ""


def file_of(form: FormData, key: str) -> tuple[str, bytes] | None:
    """Give name and content of an uploaded file, None where none was chosen."""
    value = form.get(key)
    if not isinstance(value, UploadFile) or not value.filename:
        return None
    return value.filename, value.file.read()


def go_to(path: str) -> RedirectResponse:
    """Answer a form that was taken by going on to a page."""
    return RedirectResponse(path, status_code=303)
