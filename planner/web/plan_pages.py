"""The plan, and what of it can be taken along."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response
from markupsafe import Markup

from planner.errors import UsageError
from planner.web.drawing import DRAWING
from planner.web.saving import download_name
from planner.web.visit import Here, Visit, go_to

router = APIRouter(include_in_schema=False)

#: Address below /save: name of the link, ending of the file, suffix, paper.
SAVES: Final = {
    "page": ("Page for the phone", ".html", ".html", None),
    "card-letter": ("Crew card, Letter", "-letter.pdf", ".pdf", "letter"),
    "card-a4": ("Crew card, A4", "-a4.pdf", ".pdf", "a4"),
    "calendar": ("Calendar", ".ics", ".ics", None),
    "text": ("Crew card as text", ".txt", ".txt", None),
    "record": ("Record for programs", ".json", ".json", None),
}
_TYPES: Final = {
    ".html": "text/html; charset=utf-8",
    ".pdf": "application/pdf",
    ".ics": "text/calendar; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
    ".json": "application/json",
    ".toml": "application/toml",
    ".svg": "image/svg+xml",
    ".csv": "text/csv; charset=utf-8",
}


def _missing(visit: Visit) -> Response | None:
    """Go where what is missing is filled in."""
    if visit.lying.job is None:
        return go_to("/job")
    return go_to("/weather") if visit.lying.given is None else None


def download(data: bytes, job: str, ending: str, suffix: str) -> Response:
    """Answer with a file to keep.

    Parameters
    ----------
    data : bytes
        What is in it.
    job : str
        The job's name, from which that of the file is made.
    ending, suffix : str
        How its name ends, and what kind of file it is.

    Returns
    -------
    Response
        The file.
    """
    name = download_name(job, ending)
    return Response(
        data,
        media_type=_TYPES[suffix],
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.get("/plan")
def show(visit: Here) -> Response:
    """Show the plan of what lies on the desk."""
    from planner.report.page.page import plan_part

    missing = _missing(visit)
    if missing is not None:
        return missing
    plan = visit.maker.plan(visit.lying)
    part = Markup(plan_part(plan, units=plan.job.units))
    saves = [(f"/save/{key}", name) for key, (name, *_) in SAVES.items()]
    saves.append(("/save/job", "Job file"))
    return visit.show(
        "plan.html", here="/plan", title=f"{plan.job.name}: the plan", part=part, saves=saves
    )


@router.get("/save/job")
def job_file(visit: Here) -> Response:
    """Give the job file."""
    if visit.lying.job is None:
        return go_to("/job")
    name = visit.maker.job(visit.lying).name
    return download(visit.lying.job.encode(), name, ".toml", ".toml")


@router.get("/save/{what}")
def save(visit: Here, what: str) -> Response:
    """Give the plan as a file."""
    from planner.report.save import plan_file

    missing = _missing(visit)
    if missing is not None:
        return missing
    if what not in SAVES:
        raise UsageError("There is no such file.", fix="Choose one below the plan.")
    _, ending, suffix, paper = SAVES[what]
    plan = visit.maker.plan(visit.lying)
    with DRAWING:
        data = plan_file(plan, suffix, units=plan.job.units, paper=paper)
    return download(data, plan.job.name, ending, suffix)


@router.get("/page.css")
def style() -> Response:
    """Give the style sheet of the plan."""
    from planner.report.page.page import style as css

    return Response(css(), media_type="text/css")


@router.get("/page.js")
def script() -> Response:
    """Give the script of the plan."""
    from planner.report.page.page import script as text

    return Response(text(), media_type="text/javascript")
