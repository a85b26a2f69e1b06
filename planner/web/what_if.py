"""What if: the plan as it is beside one with other people, day, wind or tension."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response

from planner.errors import PlannerError, UsageError
from planner.web.fields import FIELDS, Field
from planner.web.job_edit import as_typed, to_text
from planner.web.visit import Here, Visit, go_to

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.plan.records import Plan

router = APIRouter(include_in_schema=False)

_DAY: Final = Field(
    key="on", label="Only starts on this day", kind="date", hint="blank: any day"
)
#: What can be asked, and the words for it over the column.
_ASKED: Final = {
    "crew.people": "{} people",
    "on": "starts on {} only",
    "place.gust_at_sheet": "{} of the gust at 10 m at the sheet",
    "film.stress_free": "film stress-free at {}",
}


@router.get("/what-if")
def show(visit: Here, request: Request) -> Response:
    """Show the plan as it is, and beside it the one that was asked for."""
    if visit.lying.job is None:
        return go_to("/job")
    if visit.lying.given is None:
        return go_to("/weather")
    own = {key: as_typed(visit.lying.job).get(key, "") for key in _ASKED}
    typed = {key: request.query_params.get(key, own[key])[:80].strip() for key in _ASKED}
    changed = {key for key in _ASKED if typed[key] != own[key]}
    plans = [visit.maker.plan(visit.lying)]
    other, errors = _asked_for(visit, typed) if changed else (None, {})
    if other is not None:
        plans.append(other)
    else:
        changed = set()
    return _shown(visit, plans, typed=typed, errors=errors, changed=changed)


def _asked_for(
    visit: Visit, typed: Mapping[str, str]
) -> tuple[Plan | None, dict[str, PlannerError]]:
    """Make the other plan, or say what is wrong with what was asked."""
    job = visit.lying.job
    text, wrong = to_text(job, {**as_typed(job), **typed})
    errors: dict[str, PlannerError] = dict(wrong)
    day = None
    if typed["on"]:
        try:
            day = dt.date.fromisoformat(typed["on"])
        except ValueError:
            errors["on"] = UsageError(
                f'"{typed["on"]}" is not a date.', fix="Write year-month-day: 2026-05-09."
            )
    if errors:
        return None, errors
    try:
        return visit.maker.plan(replace(visit.lying, job=text), on=day), {}
    except PlannerError as error:
        about_day = day is not None and ("--on" in error.fix or error.key == "--on")
        fix = error.fix.replace(" with --on", "")
        return None, {"on" if about_day else "": UsageError(error.message, fix=fix)}


def _shown(
    visit: Visit,
    plans: list[Plan],
    *,
    typed: Mapping[str, str],
    errors: Mapping[str, PlannerError],
    changed: set[str],
) -> Response:
    from planner.report.answer.heading import about_job, about_weather, use_until
    from planner.report.answer.side_by_side import side_by_side
    from planner.report.reader import words_for
    from planner.report.yard.fine_print import cautions

    plan = plans[0]
    job = plan.job
    words = [words_for(x, job.units) for x in plans]
    clear = plan.hardware.keep_clear
    said = [
        text.format(typed[key] or "the planner's own")
        for key, text in _ASKED.items()
        if key in changed
    ]
    return visit.show(
        "what_if.html",
        status=422 if errors else 200,
        here="/what-if",
        title=f"{job.name}: what if",
        about=(about_job(plan, words[0]), about_weather(plan, words[0])),
        use_until=use_until(plan, words[0]),
        asked=[_DAY if key == "on" else FIELDS[key] for key in _ASKED],
        typed=typed,
        errors=errors,
        elsewhere=[(x.message, x.fix) for key, x in errors.items() if key not in _ASKED],
        changes=", ".join(said),
        rows=side_by_side(list(zip(plans, words, strict=True))),
        cautions=cautions(job, keep_clear=clear, units=job.units),
        credit=plan.weather.credit,
    )
