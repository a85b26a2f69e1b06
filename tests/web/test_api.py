"""The JSON interface: the same contracts as the command line, and plain errors."""

import datetime as dt
import json
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.specs.openapi.checks import positive_data_acceptance

from planner.job.jobfile import parse_job
from planner.plan.make import make_plan
from planner.report.record.windows import dumps, windows_1
from tests.web.made_app import COUNT, HOST, JOB, WEATHER, app_of, browser, demo_weather

TEXT = WEATHER.decode()
BOTH = {"job": JOB, "weather": TEXT}


@pytest.fixture(scope="module")
def client():
    return browser(app_of(Path(), job=None, given=None))


def test_windows_is_what_the_planner_makes(client):
    """The record of the command line, for the same job, file and options."""
    sent = client.post("/api/windows", json={**BOTH, "count": COUNT, "seed": 3})
    plan = make_plan(parse_job(JOB), demo_weather().weather, count=COUNT, seed=3)
    expected = json.loads(dumps(windows_1(plan)))
    record = sent.json()
    assert {**record, "notes": 0} == {**expected, "notes": 0}
    assert sent.headers["content-type"] == "application/json"


def test_options_of_windows_count(client):
    """People, day and time to plan from."""
    asked = {**BOTH, "count": 20, "people": 6, "on": "2026-05-06", "now": "2026-05-05 06:00"}
    record = client.post("/api/windows", json=asked).json()
    assert record["now"].startswith("2026-05-05T06:00")
    starts = {x["start"][:10] for step in record["steps"] for x in step["windows"]}
    assert starts == {"2026-05-06"}
    assert max(x["hands"] for x in record["steps"][0]["phases"]) == 6


def test_tension_and_inspect(client):
    """The chart alone, with a measured film; and what was found in either file or both."""
    record = client.post("/api/tension", json={"job": JOB, "film_temp_c": 48}).json()
    assert (record["schema"], record["now"]["film_temp_c"]) == ("tension/1", 48)
    assert record["course"] == []
    assert len(client.post("/api/tension", json=BOTH).json()["course"]) > 100
    both = client.post("/api/inspect", json=BOTH).json()
    assert (both["schema"], both["job"]["name"]) == ("inspect/1", "Larkfield house 2")
    for one in BOTH:
        record = client.post("/api/inspect", json={one: BOTH[one]}).json()
        assert {x for x in ("job", "weather") if record[x] is not None} == {one}
        assert record[one] == both[one]


@pytest.mark.parametrize(
    ("path", "asked", "key", "said"),
    [
        ("windows", {**BOTH, "job": JOB.replace('"20 ft"', "20")}, "house.width", "no unit"),
        ("windows", {**BOTH, "job": "\x00"}, None, "TOML"),
        ("windows", {**BOTH, "weather": ""}, None, "empty"),
        ("windows", {**BOTH, "zone": "Nowhere"}, "zone", "Nowhere"),
        ("windows", {**BOTH, "now": "soon"}, "now", "not a time"),
        ("windows", {**BOTH, "people": 0}, "people", "greater"),
        ("windows", {**BOTH, "count": 10**9}, "count", "less"),
        ("windows", {**BOTH, "on": "2031-01-01"}, "--on", "2031"),
        ("windows", {"job": JOB}, "weather", "required"),
        ("windows", {**BOTH, "wether": ""}, "wether", "not permitted"),
        ("tension", {"job": JOB, "film_temp_c": 90}, None, "90"),
        ("inspect", {}, None, "nothing"),
    ],
)
def test_errors_are_records(client, path, asked, key, said):
    """422 with what is wrong, where and what to do."""
    refused = client.post(f"/api/{path}", json=asked)
    assert refused.status_code == 422
    error = refused.json()
    assert error["schema"] == "error/1"
    assert said in error["message"]
    assert error["key"] == key
    assert error["fix"]
    assert "/tmp" not in refused.text


def test_what_is_no_json(client):
    """A torn body, a lone surrogate, and a path that is not there."""
    for body in (b"{", b"\xff\xfe", b'{"job": "\\ud800", "weather": ""}', b"[]", b""):
        refused = client.post(
            "/api/windows", content=body, headers={"content-type": "application/json"}
        )
        assert (refused.status_code, refused.json()["schema"]) == (422, "error/1")
    assert client.post("/api/nothing").json()["schema"] == "error/1"
    assert client.get("/api/windows").status_code == 405


schema = schemathesis.openapi.from_asgi(
    "/api/openapi.json", app_of(Path()), headers={"host": HOST}
)


@schema.parametrize()
@settings(
    max_examples=12,
    derandomize=True,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
def test_the_interface_keeps_its_own_description(case):
    """Whatever is sent, the answer is one that the description names."""
    # A text of the right kind is not always a job: that it is refused is no fault.
    case.call_and_validate(headers={"host": HOST}, excluded_checks=[positive_data_acceptance])


_WORD = (
    st.none() | st.text(max_size=8) | st.sampled_from(["2026-05-05 06:00", "UTC", "planner"])
)


@settings(max_examples=8)
@given(
    asked=st.fixed_dictionaries(
        {"count": st.just(20)},
        optional={
            **dict.fromkeys(("now", "issued", "zone", "format", "location"), _WORD),
            "on": st.dates(dt.date(2026, 5, 1), dt.date(2026, 5, 20)).map(str),
            "people": st.integers(1, 30),
            "days": st.integers(1, 60),
            "seed": st.integers(0, 2**31),
            "label": st.sampled_from(["start", "end", "closes"]),
            "kind": st.sampled_from(["forecast", "observed"]),
            "far": st.booleans(),
        },
    )
)
def test_any_options_with_a_real_job_and_weather(client, asked):
    """A plan or an error in words, never a failure."""
    answer = client.post("/api/windows", json={**BOTH, **asked})
    assert answer.status_code in {200, 422}
    assert answer.json()["schema"] == ("windows/1" if answer.status_code == 200 else "error/1")
