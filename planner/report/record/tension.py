"""The JSON contract ``tension/1``, and chart or course as a table: SI units, ISO times.

Keys may be added in later versions and are never renamed; no data is null, in the table
nothing. Beyond what the names say:

* ``pull_mm`` is past snug by span, negative to leave slack, rounded to the 5 mm that a
  hand can set; ``words`` is what the hand does over the bows.
* ``now`` is a row of the chart for the film temperature that was measured, else null.
* ``course`` has no rows without a weather file. Tension and share of yield are at least,
  in the middle and at most; ``share_of_channel`` is of the most.
* ``named`` gives the hours of the course that matter, null where there are none.
* ``curtain_mm`` is what a roll-up side grows from the coldest film to the hottest;
  ``film_temp_error_k`` one standard deviation of a film temperature that is worked out.
* ``choices`` says what other stress-free film temperatures would mean.
"""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Any

from planner.report.record.windows import iso, note_rows, number, strain_rows, version_here
from planner.report.words import to_5_mm
from planner.report.yard.tension import HAND

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from planner.plan.records import ChartRow, Consequence, Course, CourseHour, TensionPlan

    Record = dict[str, Any]

_MM = 1000.0  # millimetres in a metre, exact
_BAND = ("least", "middle", "most")


def tension_1(plan: TensionPlan) -> Record:
    """Give how tight the film is to be as the ``tension/1`` record, for programs.

    Parameters
    ----------
    plan : TensionPlan
        From ``make_tension``.

    Returns
    -------
    dict
        Every key of the contract; numbers in SI, times with the place's offset.
    """
    course, zone = plan.course, plan.time_zone
    return {
        "schema": "tension/1",
        "planner": version_here(),
        "job": plan.job.name,
        "time_zone": zone,
        "layers": plan.job.film.layers,
        "stress_free_c": number(plan.chart.stress_free),
        "spans": [
            {"span": span, "length_mm": number(length * _MM, 0)}
            for span, length in plan.chart.spans.items()
        ],
        "chart": [_row(x) for x in plan.chart.rows],
        "now": None if plan.now is None else _row(plan.now),
        "choices": [_choice(x) for x in plan.choices],
        "course": [] if course is None else [_hour(x, zone) for x in course.hours],
        "named": None if course is None else _named(course, zone),
        "inflation_n_per_m": number(plan.inflation, 1),
        "curtain_mm": number(plan.curtain, 0),
        "film_temp_error_k": {"day": number(plan.error[0]), "night": number(plan.error[1])},
        "channel": {
            "holds_n_per_m": number(plan.allowed, 1),
            "assumed": not plan.channel_known,
        },
        "warnings": strain_rows(() if course is None else course.beyond, zone),
        "notes": note_rows(plan.notes),
        "credit": plan.credit,
    }


def chart_csv(plan: TensionPlan) -> str:
    """Write the course of the coming days as a table, or the pull chart without one.

    One file holds one table: leave the weather file out for the chart.

    Parameters
    ----------
    plan : TensionPlan
        From ``make_tension``.

    Returns
    -------
    str
        Comma-separated lines under one line of names, which end in the unit.
    """
    course = plan.course
    if course is None:
        rows = [_flat(_row(x)) for x in plan.chart.rows]
    else:
        rows = [_flat(_hour(x, plan.time_zone)) for x in course.hours]
    text = io.StringIO()
    if rows:
        table = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(rows)
    return text.getvalue()


def _flat(record: Record) -> Record:
    """Give spans and bands columns of their own: ``pull_over_the_bows_mm``."""
    flat: Record = {}
    for key, value in record.items():
        parts = value
        if isinstance(value, list):
            parts = dict(zip(_BAND, value, strict=True))
        if not isinstance(parts, dict):
            flat[key] = value
            continue
        name, unit = _name_and_unit(key)
        for part, number_of in parts.items():
            flat[f"{name}_{part.replace(' ', '_')}{unit}"] = number_of
    return flat


def _name_and_unit(key: str) -> tuple[str, str]:
    """Split a key before its unit: ``pull_mm``, ``tension_n_per_m``."""
    for unit in ("_mm", "_n_per_m"):
        if key.endswith(unit):
            return key.removesuffix(unit), unit
    return key, ""


def _row(row: ChartRow) -> Record:
    return {
        "film_temp_c": number(row.film_temp),
        "pull_mm": {
            span: to_5_mm(mm) if math.isfinite(mm) else None for span, mm in row.pull.items()
        },
        "words": HAND[row.hand],
        "sag_mm": number(row.sag, 0),
        "lift_mm": number(row.lift, 0),
        "force_n_per_m": number(row.force, 1),
        "against": " ".join(row.against),
    }


def _choice(choice: Consequence) -> Record:
    return {
        "stress_free_c": number(choice.stress_free),
        "hot_film_c": number(choice.hot),
        "cold_film_c": number(choice.cold),
        "slack_mm": _spans(choice.slack),
        "tension_n_per_m": _three(choice.tension, 1),
        "beyond": list(choice.beyond),
    }


def _hour(hour: CourseHour, zone: str) -> Record:
    return {
        "time": iso(hour.time, zone),
        "film_temp_c": number(hour.film_temp),
        "slack_mm": _spans(hour.slack),
        "tension_n_per_m": _three(hour.tension, 1),
        "share_of_yield": _three(hour.share_of_yield, 4),
        "share_of_channel": number(hour.share_of_channel),
    }


def _named(course: Course, zone: str) -> Record:
    def time(at: int | None) -> str | None:
        return None if at is None else iso(course.hours[at].time, zone)

    return {
        "locked": iso(course.locked, zone),
        "hottest": time(course.hottest),
        "coldest": time(course.coldest),
        "first_night": time(course.first_night),
        "largest_gust": time(course.windiest),
        "gust_m_s": number(course.gust),
        "gust_tension_n_per_m": number(course.gust_tension, 1),
        "end_hoop_n": number(course.end_hoop, 0),
        "bow_c": number(course.bow),
    }


def _spans(lengths: Mapping[str, float]) -> dict[str, float | None]:
    return {span: number(mm, 1) for span, mm in lengths.items()}


def _three(values: Iterable[float], digits: int) -> list[float | None]:
    return [number(x, digits) for x in values]
