"""How tight to lock: the film temperature typed or slid, the chart, the coming days."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from planner.errors import PlannerError, UsageError
from planner.web.drawing import DRAWING
from planner.web.pages import page
from planner.web.plan_pages import download
from planner.web.visit import Here, Visit, go_to

if TYPE_CHECKING:
    from planner.job.records import Job
    from planner.plan.records import ChartRow, TensionPlan

router = APIRouter(include_in_schema=False)

#: Ends of the slider by units, and where it stands before it is touched: degrees.
_SLIDE: Final = {"us": (20, 140, 70), "si": (-5, 60, 20)}
_UNIT: Final = {"us": "F", "si": "C"}
_BARE: Final = re.compile(r"[-+]?\d+(\.\d*)?")
_LONGEST: Final = 20
_SAVES: Final = {
    "picture": ("-tension.svg", ".svg"),
    "table": ("-tension.csv", ".csv"),
    "record": ("-tension.json", ".json"),
}


def _row(job: Job, typed: str) -> ChartRow | None:
    """Read a film temperature, a bare number in the job's units, and say what to do."""
    from planner.plan.pull import chart_row
    from planner.units import parse

    typed = typed.strip()[:_LONGEST]
    if not typed:
        return None
    if _BARE.fullmatch(typed):
        typed += _UNIT[job.units]
    return chart_row(job, round(parse(typed, "temperature"), 6))


def _now(job: Job, typed: str) -> dict[str, Any]:
    """Gather what is said about the film temperature that was typed."""
    from planner.report.words import Words
    from planner.report.yard.tension import to_do
    from planner.units import show as amount

    words = Words(units=job.units, time_zone=job.place.time_zone)
    found: dict[str, Any] = {"now": (), "degrees": "", "error": None}
    try:
        row = _row(job, typed)
    except PlannerError as error:
        return found | {"error": error}
    if row is None:
        return found
    degrees = amount(row.film_temp, "temperature", job.units, unit=False)
    return found | {"now": to_do(row, words), "degrees": degrees}


@router.get("/tension/now")
def now(visit: Here, film: str = "") -> Response:
    """Answer the slider with what to do at that film temperature."""
    if visit.lying.job is None:
        error = UsageError("There is no job yet.", fix="Fill in the job first.")
        return HTMLResponse(page("now.html", now=(), error=error))
    return HTMLResponse(page("now.html", **_now(visit.maker.job(visit.lying), film)))


@router.get("/tension")
def show(visit: Here, film: str = "") -> Response:
    """Show how tight to lock the film."""
    if visit.lying.job is None:
        return go_to("/job")
    plan, missing = visit.maker.tension(visit.lying)
    said = _now(plan.job, film)
    lowest, highest, middle = _SLIDE[plan.job.units]
    return visit.show(
        "tension.html",
        status=422 if said["error"] else 200,
        here="/tension",
        title=f"{plan.job.name}: how tight",
        film=film,
        unit=_UNIT[plan.job.units],
        lowest=lowest,
        highest=highest,
        slid=said["degrees"] or middle,
        query=f"?film={quote(film)}" if said["now"] else "",
        no_course=_no_course(visit, missing),
        **said,
        **_shown(plan),
    )


def _no_course(visit: Visit, missing: PlannerError | None) -> str:
    if missing is not None:
        return f"The coming days are not known: {missing.message} {missing.fix}"
    return "" if visit.lying.given else "With a weather file, the coming days are shown here."


def _shown(plan: TensionPlan) -> dict[str, Any]:
    """Gather what does not hang on the film temperature that was typed."""
    from planner.hours.house import hardware_for
    from planner.report.screen.tension import tension_screen
    from planner.report.words import Words
    from planner.report.yard.fine_print import cautions
    from planner.report.yard.tension import beyond, chart_cells, remedy
    from planner.units import show as amount

    job, units = plan.job, plan.job.units
    words = Words(units=units, time_zone=plan.time_zone)
    strains = () if plan.course is None else plan.course.beyond
    stress_free = amount(plan.chart.stress_free, "temperature", units)
    clear = hardware_for(job).keep_clear
    return {
        "about": f"{job.name}: {words.house(job)}, {job.house.frame} frame. Neither slack nor "
        f"tight at a film temperature of {stress_free}.",
        "spans": [(x, amount(m, "length", units)) for x, m in plan.chart.spans.items()],
        "rows": [
            (hand, [cells[:-1] for cells in group])
            for hand, group in groupby(
                (chart_cells(row, words) for row in plan.chart.rows), lambda cells: cells[-1]
            )
        ],
        "strains": [f"{beyond(x, words)}. {remedy(x)}".rstrip() for x in strains],
        "course": plan.course is not None,
        "alt": "The pull chart by film temperature"
        + (", and below it slack and tension of the coming days" if plan.course else "")
        + ". The same in words stands below.",
        "screen": tension_screen(plan, units=units),
        "cautions": cautions(job, keep_clear=clear, units=units),
        "credit": plan.credit,
    }


def _with_row(visit: Visit, film: str) -> TensionPlan:
    plan, _ = visit.maker.tension(visit.lying)
    return replace(plan, now=_row(plan.job, film))


def _file(plan: TensionPlan, suffix: str) -> bytes:
    from planner.report.save import tension_file

    with DRAWING:
        return tension_file(plan, suffix, units=plan.job.units)


@router.get("/tension.svg")
def picture(visit: Here, film: str = "") -> Response:
    """Draw the pull chart and the coming days."""
    if visit.lying.job is None:
        return go_to("/job")
    return Response(_file(_with_row(visit, film), ".svg"), media_type="image/svg+xml")


@router.get("/tension/{what}")
def save(visit: Here, what: str, film: str = "") -> Response:
    """Give how tight it is to be as a file."""
    if visit.lying.job is None:
        return go_to("/job")
    if what not in _SAVES:
        raise UsageError("There is no such file.", fix="Choose one below the pull chart.")
    plan = _with_row(visit, film)
    ending, suffix = _SAVES[what]
    return download(_file(plan, suffix), plan.job.name, ending, suffix)
