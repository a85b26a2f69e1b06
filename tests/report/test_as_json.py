"""The JSON contracts: every key, SI units, local offsets, null for no data."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace

import pytest

from planner.plan.records import Plan
from planner.report.as_json import dumps, windows_1
from planner.report.inspect_json import inspect_1

#: Typed from the contract windows/1; a name with [] holds a list of such records.
CONTRACT = {
    "": "planner job now issued time_zone members seed weather columns[] notes[] limits[]"
    " steps[] order chance_as_listed chance_all decision sheets[] hardware",
    "weather": "format kind credit first last issued_from",
    "columns[]": "name origin hours",
    "notes[]": "code text",
    "limits[]": "step phase quantity side bound unit over kind source governs replaced_bound",
    "steps[]": "step phases[] windows[] none_because hours[]",
    "steps[].phases[]": "phase minutes hands loose_area_m2 drag gust_limit_m_s"
    " mean_limit_m_s governed_by leave_gust_m_s",
    "steps[].windows[]": "rank start earliest_start latest_start end down_by chance margin"
    " answer reason phases[] film_temp_c pull_mm",
    "steps[].windows[].reason": "quantity side value bound unit at share",
    "steps[].windows[].phases[]": "phase start end chance gust_at_sheet_m_s gust_limit_m_s",
    "steps[].hours[]": "time chance reason gust_at_sheet_m_s temp_air_c film_temp_c"
    " work_light_left_min",
    "decision": "answer stage step start expected_loss_go expected_loss_wait loss_unit"
    " look_again go_needs_chance would_change codes",
    "sheets[]": "sheet width_m length_m area_m2 mass_kg",
    "hardware": "channel throw_lines straps cord",
}
LATER = ["order", "chance_as_listed", "chance_all", "seed"]


def reach(record: object, path: str) -> list[dict]:
    """Give every record at a path of the contract."""
    found = [record]
    for name in path.split(".") if path else []:
        found = [x[name.removesuffix("[]")] for x in found]
        if name.endswith("[]"):
            found = [y for x in found for y in x]
    return found


@pytest.mark.parametrize("path", CONTRACT)
def test_every_key_of_the_contract_is_there(plan: Plan, path: str) -> None:
    """Keys may be added and never left out."""
    records = reach(windows_1(plan), path)
    assert records
    wanted = {name.removesuffix("[]") for name in CONTRACT[path].split()}
    for record in records:
        assert wanted <= set(record)


def test_what_later_work_fills_is_null(plan: Plan) -> None:
    """Keys without an answer yet are there and null."""
    record = windows_1(plan)
    assert [record[key] for key in LATER] == [None] * len(LATER)
    decision = record["decision"]
    assert decision["expected_loss_go"] is decision["would_change"] is None


def test_every_plan_is_strict_json(any_plan: Plan) -> None:
    """No NaN, no infinity: every plan survives a strict reader unchanged."""
    record = windows_1(any_plan)

    def refuse(word: str) -> None:
        raise AssertionError(word)

    assert json.loads(dumps(record), parse_constant=refuse) == record


def test_no_data_is_null(plan: Plan) -> None:
    """The day without data has null gusts, and the dark has no number of minutes."""
    hours = windows_1(plan)["steps"][1]["hours"]
    blank = [x for x in hours if x["time"].startswith("2031-05-05T09")]
    assert [x["gust_at_sheet_m_s"] for x in blank] == [None]
    dark = [x for x in hours if x["reason"]["quantity"] == "light"]
    assert {x["reason"]["value"] for x in dark} == {None}


def test_dumps_refuses_what_json_does_not_know() -> None:
    """A NaN that slipped through is an error, never a broken file."""
    with pytest.raises(ValueError, match="JSON"):
        dumps({"x": math.nan})


def test_times_carry_the_place_s_offset(plan: Plan) -> None:
    """6:15 am of the place is 11:15 UTC, five hours behind in summer time."""
    window = windows_1(plan)["steps"][1]["windows"][0]
    start = dt.datetime.fromisoformat(window["start"])
    assert window["start"] == "2031-05-01T06:15:00-05:00"
    assert start.utcoffset() == dt.timedelta(hours=-5)


def test_numbers_are_si(plan: Plan) -> None:
    """4 mph is 1.78816 m/s by definition of the mile."""
    record = windows_1(plan)
    pull_over = record["steps"][1]["phases"][1]
    assert pull_over["gust_limit_m_s"] == pytest.approx(4 * 1609.344 / 3600, abs=1e-3)
    assert pull_over["mean_limit_m_s"] == 2.0
    typed = [x for x in record["limits"] if x["kind"] == "yours"]
    assert [x["replaced_bound"] for x in typed] == [
        pytest.approx(5.1 * 1609.344 / 3600, abs=1e-3)
    ]


def test_only_the_chosen_window_has_the_answer(case) -> None:
    """Go for the window that was chosen; every other one waits."""
    record = windows_1(case("go"))
    answers = [x["answer"] for step in record["steps"] for x in step["windows"]]
    assert answers == ["hold", "go"]


def test_members_are_counted_where_there_are_many(case) -> None:
    """An ensemble says how many it holds."""
    assert windows_1(case("many weathers"))["members"] == 500


def test_unlimited_is_null(plan: Plan) -> None:
    """A phase in which the wind takes nothing has no number for its limit."""
    end_wall, roof = plan.steps
    window = roof.found.windows[0]
    free = replace(window.phases[0], gust_limit=math.inf)
    windows = (replace(window, phases=(free, *window.phases[1:])),)
    steps = (end_wall, replace(roof, found=replace(roof.found, windows=windows)))
    record = windows_1(replace(plan, steps=steps))
    phases = record["steps"][1]["windows"][0]["phases"]
    assert phases[0]["gust_limit_m_s"] is None


def test_inspect_of_a_job(plan: Plan) -> None:
    """A job's record has its steps, limits, sheets and hardware; weather is null."""
    limits = {x.step.name: x.found.limits for x in plan.steps}
    record = inspect_1(job=plan.job, sheets=plan.sheets, hardware=plan.hardware, limits=limits)
    assert record["weather"] is None
    assert [x["step"] for x in record["job"]["steps"]] == ["end wall south", "roof sheet"]
    assert record["job"]["hardware"]["throw_lines"]["count"] == 5
    assert json.loads(dumps(record)) == record
