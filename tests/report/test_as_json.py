"""The JSON contracts: every key, SI units, local offsets, null for no data."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace

import pytest

from planner.plan.records import Plan
from planner.report.record.inspect import inspect_1
from planner.report.record.windows import dumps, windows_1
from tests.report.made_chances import CASES, costs_less, go, left, missing, starts_later

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
ADDED = {
    "": "error order_missing make_safe_min warnings[]",
    "steps[].windows[]": "slow_chance leave_chance leave_gust_m_s leave_fails",
    "decision": "stands",
}
CHANCES = ["order", "order_missing", "chance_as_listed", "chance_all", "seed", "error"]
WEIGHED = "expected_loss_go expected_loss_wait loss_unit go_needs_chance would_change stands"


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
    names = f"{CONTRACT[path]} {ADDED.get(path, '')}".split()
    wanted = {name.removesuffix("[]") for name in names}
    for record in records:
        assert wanted <= set(record)


def test_one_certain_weather_has_no_chances(plan: Plan) -> None:
    """Keys without an answer are there and null."""
    record = windows_1(plan)
    assert [record[key] for key in CHANCES] == [None] * len(CHANCES)
    assert [record["decision"][key] for key in WEIGHED.split()] == [None] * 6


def test_order_and_both_chances() -> None:
    """Steps at their places, and where the chances were drawn from."""
    record = windows_1(starts_later())
    assert [x["step"] for x in record["order"]] == ["end wall south", "roof sheet"]
    assert record["order"][1] == {
        "step": "roof sheet",
        "start": "2031-05-01T06:15:00-05:00",
        "end": "2031-05-01T08:15:00-05:00",
        "chance": 0.81,
    }
    assert (record["chance_as_listed"], record["chance_all"]) == (0.61, 0.9)
    assert (record["seed"], record["error"]) == (7, "Quillet 2030")
    assert record["order_missing"] == []
    assert windows_1(missing())["order_missing"] == ["end wall south"]


def test_the_decision_is_weighed() -> None:
    """Costs with their money, the chance it takes, what would change it, what is up."""
    decision = windows_1(costs_less())["decision"]
    assert decision["stage"] == "start"
    assert (decision["expected_loss_go"], decision["expected_loss_wait"]) == (1872.0, 521.0)
    assert (decision["loss_unit"], decision["go_needs_chance"]) == ("$", 0.88)
    assert decision["would_change"] == [
        {"what": "people", "to": 7, "chance": 0.86},
        {"what": "chance", "to": 0.88, "chance": 0.64},
        {"what": "day", "to": "2031-05-02T06:30:00-05:00", "chance": 0.47},
    ]
    assert decision["stands"] is None
    assert windows_1(left(0.6))["decision"]["stands"] == 0.6


def test_an_unweighed_decision_has_no_money() -> None:
    """An ensemble without a table of errors has chances and no costs."""
    record = windows_1(CASES["unweighed"]())
    assert [record["decision"][key] for key in WEIGHED.split()] == [None] * 6
    assert (record["seed"], record["error"]) == (None, None)
    assert record["chance_all"] == 0.9


@pytest.mark.parametrize("name", CASES)
def test_chances_are_strict_json(name: str) -> None:
    """The same record comes back from a strict reader."""
    record = windows_1(CASES[name]())
    assert json.loads(dumps(record)) == record


def test_the_chosen_window_of_today_may_not_be_the_first() -> None:
    """Going today in the second best window: that one carries the answer."""
    plan = go()
    first, second = plan.decision.window, plan.steps[1].found.windows[1]
    chosen = replace(plan, decision=replace(plan.decision, window=second))
    windows = windows_1(chosen)["steps"][1]["windows"]
    assert first is not None
    assert {x["rank"]: x["answer"] for x in windows} == {first.rank: "hold", second.rank: "go"}


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
