"""The job: filled in, changed, its steps marked, taken from a file and saved to one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response
from starlette.datastructures import FormData

from planner.errors import JobError, PlannerError, UsageError
from planner.web.fields import FIELDS, MORE, QUESTIONS
from planner.web.job_edit import accepted, as_typed, described, to_text
from planner.web.saving import download_name, save_job
from planner.web.step_marks import STATES, step_states, with_states
from planner.web.visit import Form, Here, Visit, file_of, go_to, text_of

router = APIRouter(include_in_schema=False)

_LARGEST: Final = 200_000  # byte, of a job file
_DONE: Final = {
    "kept": "The job is kept on this desk. Save it by name to find it again tomorrow.",
    "back": "The job is back as it was before.",
    "steps": "The steps are marked.",
    "saved": "The job file is saved in the folder where the planner was started.",
}
_CHANGED: Final = (
    "The job was changed in another tab since this form was drawn. Nothing was overwritten. "
    "Check what is now against what you typed; send it again to keep what you typed."
)


def _shown(
    visit: Visit,
    *,
    status: int = 200,
    typed: Mapping[str, str] | None = None,
    errors: Mapping[str, PlannerError] | None = None,
    **more: Any,
) -> HTMLResponse:
    """Draw the page of the job; what was typed stays in its fields."""
    job, wrong = visit.lying.job, errors or {}
    values = {"done": "", "warning": "", "changed": (), "text": job or "", "file": "", **more}
    default = download_name(as_typed(job)["name"], ".toml") if job else "my-house.toml"
    return visit.show(
        "job.html",
        status=status,
        here="/job",
        title="The job",
        questions=QUESTIONS,
        more=MORE,
        fields=FIELDS,
        typed=as_typed(job) if typed is None else typed,
        errors=wrong,
        open={name for name, group in MORE.items() if any(x.key in wrong for x in group)},
        elsewhere=[
            (described(x) if isinstance(x, JobError) else x.message, x.fix)
            for key, x in wrong.items()
            if key not in FIELDS and key not in {"text", "file"}
        ],
        steps=step_states(job) if job else {},
        states=STATES,
        default_file=default,
        **values,
    )


@router.get("/")
def first(visit: Here) -> Response:
    """Go to what is to be done next."""
    if visit.lying.job is None:
        return go_to("/job")
    return go_to("/plan" if visit.lying.given is not None else "/weather")


@router.get("/job")
def show(visit: Here, done: str = "") -> Response:
    """Show the form, filled in with the job on the desk."""
    return _shown(visit, done=_DONE.get(done, ""))


@router.post("/job")
def change(visit: Here, form: Form) -> Response:
    """Take what was typed, or show it again with what is wrong beside it."""
    typed = {key: text_of(form, key) for key in FIELDS}
    text, errors = to_text(visit.lying.job, typed)
    if errors:
        return _shown(visit, status=422, typed=typed, errors=errors)
    if not visit.desk.change_job(text, drawn_from=text_of(form, "mark")):
        now = as_typed(visit.lying.job)
        changed = [
            (FIELDS[key].label, now[key] or "nothing", typed[key].strip() or "nothing")
            for key in FIELDS
            if now[key] != typed[key].strip()
        ]
        return _shown(visit, status=409, typed=typed, warning=_CHANGED, changed=changed)
    return go_to("/job?done=kept" if visit.lying.given is not None else "/weather")


@router.post("/job/steps")
def mark(visit: Here, form: Form) -> Response:
    """Mark steps as to do, done or left out."""
    if visit.lying.job is None:
        return go_to("/job")
    was = step_states(visit.lying.job)
    wanted = {name: text_of(form, f"step {name}") or state for name, state in was.items()}
    try:
        text = with_states(visit.lying.job, wanted)
    except JobError as error:
        return _shown(visit, status=422, errors={"steps": error})
    if not visit.desk.change_job(text, drawn_from=text_of(form, "mark")):
        changed = [(name, was[name], wanted[name]) for name in was if was[name] != wanted[name]]
        return _shown(visit, status=409, warning=_CHANGED, changed=changed)
    return go_to("/job?done=steps")


@router.post("/job/back")
def back(visit: Here, form: Form) -> Response:
    """Put the job back as it was before the last change."""
    if not visit.desk.put_back(drawn_from=text_of(form, "mark")):
        return _shown(visit, status=409, warning="There is nothing to put back from this page.")
    return go_to("/job?done=back")


@router.post("/job/file")
def take(visit: Here, form: Form) -> Response:
    """Take a whole job file, uploaded or typed."""
    text = text_of(form, "text").replace("\r\n", "\n")
    try:
        text = accepted(_uploaded(form) or text)
    except PlannerError as error:
        return _shown(visit, status=422, text=text, errors={"text": error})
    if not visit.desk.change_job(text, drawn_from=text_of(form, "mark")):
        return _shown(visit, status=409, text=text, warning=_CHANGED)
    return go_to("/job?done=kept")


def _uploaded(form: FormData) -> str | None:
    found = file_of(form, "upload")
    if found is None:
        return None
    _, data = found
    if len(data) > _LARGEST:
        raise UsageError("This is too large for a job file.", fix="Is it the weather file?")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UsageError(
            "This is not a text file.",
            fix="A job file is TOML text in UTF-8. Is it the weather file?",
        ) from error


@router.post("/job/save")
def save(visit: Here, form: Form) -> Response:
    """Save the job file by name where the planner was started."""
    job, name = visit.lying.job, text_of(form, "file")
    if job is None:
        return go_to("/job")
    if text_of(form, "mark") != visit.lying.mark:
        return _shown(visit, status=409, file=name, warning=_CHANGED)
    try:
        save_job(job, name, visit.folder, replace=text_of(form, "replace") == "yes")
    except PlannerError as error:
        return _shown(visit, status=422, file=name, errors={"file": error})
    return go_to("/job?done=saved")
