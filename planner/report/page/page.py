"""The page for the yard: one self-contained file that works without a network."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from planner.plan.pull import pull_chart
from planner.report.answer.answer import answer
from planner.report.answer.heading import NOT_YET, about_weather, house_and_crew, use_until
from planner.report.answer.phase_rows import phase_rows
from planner.report.answer.starts import all_together, other_starts, step_rows
from planner.report.answer.why import why
from planner.report.page.rows import DEGREES, day_sheets, facts, limit_lines, pull_table
from planner.report.reader import words_for
from planner.report.words import Words, day
from planner.report.yard.checklists import at_first_light, evening_before
from planner.report.yard.daylight import in_hand, work_light
from planner.report.yard.fine_print import cautions, notes
from planner.report.yard.hardware import hardware_to_have, sheets_to_cut
from planner.report.yard.tension import beyond
from planner.report.yard.tonight import tonight
from planner.units import parse

if TYPE_CHECKING:
    import jinja2

    from planner.plan.records import Plan

_TEMPLATES: Final = Path(__file__).parent / "templates"
_NEXT: Final = 5


def page(plan: Plan, *, units: str) -> str:
    """Write the page: the answer, the hours, the pull, what to see to, as one file.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    str
        HTML that asks for nothing from outside, prints on one sheet, and works without
        its script.
    """
    return _template("page.html").render(
        title=f"{plan.job.name}: {answer(plan, words_for(plan, units)).word}",
        style=style(),
        script=script(),
        part=plan_part(plan, units=units),
    )


def plan_part(plan: Plan, *, units: str) -> str:
    """Write what stands on the page as a piece of HTML, for a page of another frame.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    str
        HTML that belongs inside ``<main>``.
    """
    return _template("plan.html").render(_shown(plan, words_for(plan, units)))


def style() -> str:
    """Give the page's style sheet.

    Returns
    -------
    str
        CSS.
    """
    return (_TEMPLATES / "page.css").read_text(encoding="utf-8")


def script() -> str:
    """Give the page's script: the typed film temperature, and the warning when it is old.

    Returns
    -------
    str
        JavaScript.
    """
    return (_TEMPLATES / "page.js").read_text(encoding="utf-8")


@cache
def _template(name: str) -> jinja2.Template:
    import jinja2

    frame = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    return frame.get_template(name)


def _shown(plan: Plan, words: Words) -> dict[str, Any]:
    """Gather what the template shows, everything in words."""
    units, window = words.units, plan.decision.window
    answered = answer(plan, words)
    first, last, _ = DEGREES[units]
    unit = "F" if units == "us" else "C"
    temps = [parse(f"{degree} {unit}", "temperature") for degree in range(first, last + 1)]
    return {
        "job": plan.job.name,
        "about": (house_and_crew(plan, words), about_weather(plan, words)),
        "use_until": use_until(plan, words),
        "until": plan.use_until.isoformat() if plan.use_until is not None else "",
        "answer": answered.word,
        "kind": answered.word.lower().replace(" ", "-"),
        "said": answered.lines,
        "not_yet": NOT_YET if window and plan.decision.answer != "go" else "",
        "last_start": window.latest_start.isoformat() if window and plan.use_until else "",
        "facts": facts(plan, words),
        "why": why(plan, words),
        "step": window.step if window else plan.decision.step or "",
        "day": day(words.date(window.start)) if window else "",
        "speed": "mph" if units == "us" else "m/s",
        "many": plan.weather.members > 1,
        "phases": phase_rows(plan, window, words) if window else (),
        "done": words.moment(window.end, on=words.date(window.start)) if window else "",
        "pull": pull_table(plan, pull_chart(plan.job, temps), words),
        "strains": [f"{beyond(x, words)}." for x in plan.beyond],
        "days": day_sheets(plan, words),
        "starts": other_starts(plan, words)[:_NEXT],
        "order": step_rows(plan, words),
        "together": all_together(plan, words),
        "tonight": (*work_light(plan, words), *in_hand(plan), *tonight(plan, words)),
        "sheets": sheets_to_cut(plan.sheets, units=units),
        "hardware": hardware_to_have(plan.hardware, units=units),
        "evening": evening_before(plan, words),
        "dawn": at_first_light(plan, words),
        "cautions": cautions(plan.job, keep_clear=plan.hardware.keep_clear, units=units),
        "assumed": plan.job.assumed,
        "notes": notes(plan),
        "limits": limit_lines(plan, words),
        "credit": plan.weather.credit,
    }
