"""The JSON contract ``windows/1``: SI units, ISO times, null for no data.

Keys may be added in later versions and are never renamed. A key that this version
cannot fill is there and null.

``windows/1``, beyond what the names say:

* ``job`` is the job's name; ``weather.last`` is the end of the last hour.
* ``members`` counts possible weathers, 1 where one forecast is taken as it comes; ``seed``
  is that of those drawn and ``error`` the name of the table they were drawn from, both
  null where none were drawn.
* ``slow_chance`` is the chance in the slowest fifth of the possible paces.
* ``leave_gust_m_s`` is what the state after it survives alone, ``leave_chance`` how likely
  that is enough until the crew is back; ``leave_fails`` when more comes.
* ``windows[].answer`` is the decision's for the window it chose, else "hold".
* ``order[]`` has each step at its place and the chance that it holds there, ``order_missing``
  those without one; all null where only one day was looked at or there is no window.
  ``chance_as_listed``: every step holds there and what is up stands every wait between.
  ``chance_all``: there are hours enough, each possible weather with its own starts.
* ``decision.stage`` is the price that waiting has: "call" the crew the evening before,
  "start" or send it home, "leave" what is up.
* ``decision.expected_loss_go`` is what going in the decision's window costs on average, days
  waited until then included, ``expected_loss_wait`` what not going today costs; both in
  ``loss_unit``, the job file's money. ``go_needs_chance`` is the chance at which going
  costs no more than waiting, or the least on which anybody is sent out. Null where nothing
  was weighed: no window, or one certain weather.
* ``decision.would_change[]``: ``what`` is "people" (``to`` so many), "day" (``to`` that
  start) or "chance" (``to`` the chance that a go needs); ``chance`` goes with it.
* ``decision.stands`` is the chance that what is up already stands until the window, null
  where nothing is up.
* ``reason.value`` is null without data, and where light is over before the phase begins.
* ``first_night_n_per_m`` is the tension at least, in the middle and at most.
* ``warnings[]`` are of a roof sheet locked in its best window.
* ``columns[].hours`` counts the hours that were filled, not the hours that were given.
"""

from __future__ import annotations

import datetime as dt
import json
import math
from typing import TYPE_CHECKING, Any

from planner.job.records import QUANTITIES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd

    from planner.film.sheet import Hardware, Sheet
    from planner.hours.records import HourRow, PhaseTime, Reason, Window
    from planner.job.records import Limit, Phase
    from planner.plan.records import Change, Plan, Sequence, StepPlan, Strain
    from planner.weather.table import Note

    Record = dict[str, Any]
    Limits = Mapping[str, Mapping[str, tuple[Limit, ...]]]


def windows_1(plan: Plan) -> Record:
    """Give a plan as the ``windows/1`` record, for programs.

    Parameters
    ----------
    plan : Plan
        The finished plan.

    Returns
    -------
    dict
        Every key of the contract; numbers in SI, times with the place's offset.
    """
    zone = plan.time_zone
    weather = plan.weather
    return {
        "schema": "windows/1",
        "planner": version_here(),
        "job": plan.job.name,
        "now": iso(plan.now, zone),
        "issued": iso(weather.issued, zone),
        "use_until": iso(plan.use_until, zone),
        "time_zone": zone,
        "members": weather.members,
        "seed": plan.seed,
        "error": plan.error or None,
        "weather": {
            "format": weather.format,
            "kind": weather.kind,
            "credit": weather.credit,
            "first": iso(weather.first, zone),
            "last": iso(weather.last, zone),
            "issued_from": weather.issued_from,
            "fetched": iso(weather.fetched, zone),
            "stale": weather.stale or None,
        },
        "columns": [
            {"name": x.name, "origin": x.origin, "hours": x.hours} for x in weather.columns
        ],
        "notes": note_rows(plan.notes),
        "limits": [row for x in plan.steps for row in limit_rows(x.step.name, x.found.limits)],
        "steps": [_step(x, plan) for x in plan.steps],
        **_order(plan.order, zone),
        "decision": _decision(plan, zone),
        "sheets": sheet_rows(plan.sheets),
        "hardware": hardware_row(plan.hardware),
        "make_safe_min": number(plan.make_safe),
        "warnings": strain_rows(plan.beyond, zone),
    }


def dumps(record: Record) -> str:
    """Write a record as JSON text; no number that JSON does not know gets through.

    Parameters
    ----------
    record : dict
        From ``windows_1`` or ``inspect_1``.

    Returns
    -------
    str
        Indented JSON.
    """
    return json.dumps(record, indent=2, allow_nan=False, ensure_ascii=False)


def version_here() -> str:
    """Give the version of the package that is installed."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("planner")
    except PackageNotFoundError:
        return "not installed"


def iso(time: pd.Timestamp | None, zone: str = "UTC") -> str | None:
    """Write a time with the offset of a zone; null stays null."""
    return None if time is None else time.tz_convert(zone).isoformat(timespec="seconds")


def number(value: float | None, digits: int = 4) -> float | None:
    """Round for reading; null where it is no finite number."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0  # nought has no sign


def note_rows(notes: Iterable[Note]) -> list[Record]:
    """Give notes as the contracts write them."""
    return [{"code": x.code, "text": x.text, "doubt": x.doubt} for x in notes]


def strain_rows(strains: Iterable[Strain], zone: str) -> list[Record]:
    """Give what is beyond well: code, when it is worst, value and what is allowed."""
    return [
        {
            "code": x.code,
            "at": iso(x.at, zone),
            "value": number(x.value, 1),
            "allowed": number(x.allowed, 1),
            "unit": x.unit,
        }
        for x in strains
    ]


def limit_rows(step: str, limits: Mapping[str, tuple[Limit, ...]]) -> list[Record]:
    """Give the limits of a step, one record a limit and phase."""
    return [
        {
            "step": step,
            "phase": phase,
            "quantity": x.quantity,
            "side": x.side,
            "bound": number(x.bound),
            "unit": QUANTITIES.get(x.quantity, ("-", 0.0))[0],
            "over": x.over,
            "kind": x.kind,
            "source": x.source,
            "governs": x.governs,
            "replaced_bound": number(x.replaced),
        }
        for phase, limits_of in limits.items()
        for x in limits_of
    ]


def _step(here: StepPlan, plan: Plan) -> Record:
    zone, found = plan.time_zone, here.found
    return {
        "step": here.step.name,
        "phases": [phase_row(x, found.limits.get(x.name, ())) for x in here.step.phases],
        "windows": [_window(x, plan) for x in found.windows],
        "none_because": _reason(found.none_because, zone),
        "hours": [_hour(x, zone) for x in found.hours],
    }


def phase_row(phase: Phase, limits: tuple[Limit, ...]) -> Record:
    """Give one phase: minutes, hands, sail, and the wind limits that govern."""
    governing = {x.quantity: x for x in limits if x.governs and x.side == "at most"}
    gust, mean = governing.get("gust"), governing.get("mean_wind")
    return {
        "phase": phase.name,
        "minutes": number(phase.minutes),
        "hands": phase.hands,
        "loose_area_m2": number(phase.loose_area),
        "drag": number(phase.drag),
        "gust_limit_m_s": number(gust.bound) if gust else None,
        "mean_limit_m_s": number(mean.bound) if mean else None,
        "governed_by": gust.source if gust else None,
        "leave_gust_m_s": number(phase.leave_gust),
    }


def _window(window: Window, plan: Plan) -> Record:
    zone, chosen = plan.time_zone, plan.decision.window
    mine = chosen is not None and (chosen.step, chosen.rank) == (window.step, window.rank)
    pull, night = window.pull, window.first_night
    return {
        "rank": window.rank,
        "start": iso(window.start, zone),
        "earliest_start": iso(window.earliest_start, zone),
        "latest_start": iso(window.latest_start, zone),
        "end": iso(window.end, zone),
        "down_by": iso(window.down_by, zone),
        "last_down_by": iso(window.last_down_by, zone),
        "chance": number(window.chance),
        "slow_chance": number(window.slow_chance),
        "margin": number(window.margin),
        "answer": plan.decision.answer if mine else "hold",
        "reason": _reason(window.reason, zone),
        "phases": [_phase_time(x, zone) for x in window.phases],
        "film_temp_c": number(window.film_temp),
        "film_temp_shaded_c": number(window.film_temp_shaded),
        "pull_mm": None if pull is None else {k: number(mm, 1) for k, mm in pull.items()},
        "first_night_n_per_m": None if night is None else [number(x, 1) for x in night],
        "swing_k": number(window.swing),
        "heat_index_c": number(window.heat_index),
        "leave_gust_m_s": number(window.leave_gust),
        "leave_chance": number(window.leave_chance),
        "leave_worst_m_s": number(window.leave_worst),
        "leave_fails": iso(window.leave_fails, zone),
    }


def _phase_time(phase: PhaseTime, zone: str) -> Record:
    return {
        "phase": phase.phase,
        "start": iso(phase.start, zone),
        "end": iso(phase.end, zone),
        "chance": number(phase.chance),
        "gust_at_sheet_m_s": [number(x) for x in phase.gust],
        "gust_limit_m_s": number(phase.gust_limit),
        "hand_limit_m_s": number(phase.hand_limit),
        "beaufort": number(phase.beaufort),
        "hand_mean_limit_m_s": number(phase.hand_mean_limit),
    }


def _reason(reason: Reason | None, zone: str) -> Record | None:
    if reason is None:
        return None
    return {
        "quantity": reason.quantity,
        "side": reason.side,
        "value": number(reason.value),
        "bound": number(reason.bound),
        "unit": reason.unit,
        "at": iso(reason.at, zone),
        "share": number(reason.share),
        "phase": reason.phase,
    }


def _hour(row: HourRow, zone: str) -> Record:
    return {
        "time": iso(row.time, zone),
        "chance": number(row.chance),
        "reason": _reason(row.reason, zone),
        "gust_at_sheet_m_s": number(row.gust_at_sheet),
        "temp_air_c": number(row.temp_air),
        "film_temp_c": number(row.film_temp),
        "work_light_left_min": number(row.work_light_left, 1),
    }


def _order(order: Sequence | None, zone: str) -> Record:
    if order is None:
        return dict.fromkeys(("order", "order_missing", "chance_as_listed", "chance_all"))
    return {
        "order": [
            {
                "step": x.step,
                "start": iso(x.start, zone),
                "end": iso(x.end, zone),
                "chance": number(x.chance),
            }
            for x in order.steps
        ],
        "order_missing": list(order.missing),
        "chance_as_listed": number(order.chance_as_listed),
        "chance_all": number(order.chance_all),
    }


def _decision(plan: Plan, zone: str) -> Record:
    decision = plan.decision
    window = decision.window
    weighed = decision.go_cost is not None or decision.wait_cost is not None
    return {
        "answer": decision.answer,
        "stage": decision.stage,
        "step": decision.step,
        "start": iso(window.start, zone) if window else None,
        "expected_loss_go": number(decision.go_cost, 2),
        "expected_loss_wait": number(decision.wait_cost, 2),
        "loss_unit": plan.job.stakes.money if weighed else None,
        "look_again": iso(decision.look_again, zone),
        "go_needs_chance": number(decision.needs_chance),
        "would_change": [_change(x, zone) for x in decision.would_change] if weighed else None,
        "stands": number(decision.stands),
        "codes": list(decision.codes),
    }


def _change(change: Change, zone: str) -> Record:
    to: Any = change.to
    if isinstance(change.to, dt.datetime):
        to = iso(change.to, zone)
    elif isinstance(change.to, float):
        to = number(change.to)
    return {"what": change.what, "to": to, "chance": number(change.chance)}


def sheet_rows(sheets: tuple[Sheet, ...]) -> list[Record]:
    """Give the sheets to cut."""
    return [
        {
            "sheet": x.sheet,
            "count": x.count,
            "width_m": number(x.width),
            "length_m": number(x.length),
            "area_m2": number(x.area),
            "mass_kg": number(x.mass),
        }
        for x in sheets
    ]


def hardware_row(hardware: Hardware | None) -> Record | None:
    """Give channel, throw lines, straps and cord."""
    if hardware is None:
        return None
    return {
        "channel": {
            "sides_m": number(hardware.channel_sides),
            "end_hoops_m": number(hardware.channel_end_hoops),
            "end_walls_m": number(hardware.channel_end_walls),
        },
        "throw_lines": {
            "count": hardware.throw_lines,
            "length_m": number(hardware.throw_line_length),
            "keep_clear_m": number(hardware.keep_clear),
        },
        "straps": {"count": hardware.straps, "length_m": number(hardware.strap_length)},
        "cord": {"per_side_m": number(hardware.cord_per_side)},
    }
