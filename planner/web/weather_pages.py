"""The weather: a file taken, how it is to be read, and what was found in it."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from planner.errors import PlannerError, UsageError
from planner.web.made import planned_from
from planner.web.uploaded import CHOICES, READER, Given, read_given
from planner.web.visit import Form, Here, Visit, file_of, go_to, text_of

router = APIRouter(include_in_schema=False)


def _shown(
    visit: Visit,
    *,
    status: int = 200,
    typed: Mapping[str, str] | None = None,
    error: PlannerError | None = None,
) -> HTMLResponse:
    """Draw the page of the weather, with what was found in the file on the desk."""
    lying = visit.lying
    found, columns = ([], []) if lying.given is None else _found(visit, lying.given)
    if typed is None:
        said = {} if lying.given is None else lying.given.options
        typed = {**said, "now": lying.now, "far": "yes" if lying.far else ""}
    return visit.show(
        "weather.html",
        status=status,
        here="/weather",
        title="The weather",
        reader=READER,
        choices=CHOICES,
        formats=_formats(),
        typed=typed,
        error=error,
        found=found,
        columns=columns,
    )


def _formats() -> dict[str, str]:
    from planner.weather.formats.maps import formats

    return {name: one.title for name, one in formats().items()}


def _found(
    visit: Visit, given: Given
) -> tuple[list[tuple[str, str]], list[tuple[str, str, int, str]]]:
    """Say what was found in the file: by label, and column by column."""
    from planner.report.screen.found import weather_columns, weather_facts
    from planner.report.words import Words

    units, zone = "si", "UTC"
    if visit.lying.job is not None:
        job = visit.maker.job(visit.lying)
        units, zone = job.units, job.place.time_zone
    facts = weather_facts(given.weather, Words(units=units, time_zone=zone))
    found = [(label, " ".join(texts)) for label, texts in facts.items() if texts]
    return found, weather_columns(given.weather, units=units)


@router.get("/weather")
def show(visit: Here) -> Response:
    """Show the form, and what was found."""
    return _shown(visit)


@router.post("/weather")
def take(visit: Here, form: Form) -> Response:
    """Take a weather file, or read the one on the desk in another way."""
    typed = {key: text_of(form, key) for key in (*READER, "now", "far")}
    given = visit.lying.given
    try:
        found = file_of(form, "upload") or (None if given is None else (given.name, given.data))
        if found is None:
            raise UsageError(
                "No file was chosen.",
                fix="Choose the file that the weather service gave you.",
                key="upload",
            )
        read = read_given(found[1], found[0], typed)
        _check_time(visit, typed["now"], read)
    except PlannerError as error:
        return _shown(visit, status=422, typed=typed, error=error)
    visit.desk.take_weather(read, now=typed["now"].strip(), far=typed["far"] == "yes")
    return go_to("/weather#found")


def _check_time(visit: Visit, now: str, read: Given) -> None:
    """Refuse a time to plan from that is none."""
    zone = "UTC" if visit.lying.job is None else visit.maker.job(visit.lying).place.time_zone
    planned_from(now.strip(), zone, read.weather)
