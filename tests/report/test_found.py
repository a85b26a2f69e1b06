"""What inspect says about a weather file, an archive of forecasts and a job file."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.plan.records import Plan
from planner.report.record.inspect import inspect_1
from planner.report.record.windows import dumps
from planner.report.screen.found import weather_report
from planner.report.screen.found_archive import archive_report
from planner.report.screen.found_job import job_report
from planner.weather.archive import read_archive
from planner.weather.formats.maps import formats
from planner.weather.read import read_weather
from planner.weather.table import COLUMNS, Note, Weather, WeatherPlace
from tests.report.made_weather import weather_with

SAMPLES = Path(__file__).parents[2] / "data" / "samples"
HOURS = 48
BLANK = 9
FORBIDDEN = re.compile(r"\b(nan|members?|margin|p90|inf)\b", re.IGNORECASE)


@pytest.fixture
def weather() -> Weather:
    gust = np.full((1, HOURS), 5.0)
    gust[0, :BLANK] = np.nan
    values = {
        "temp_air": np.linspace(0.0, 20.0, HOURS)[None],
        "wind_speed": np.full((1, HOURS), 2.2352),
        "wind_gust": gust,
        "precipitation": np.zeros((1, HOURS)),
        "pressure": np.full((1, HOURS), np.nan),
    }
    times = pd.date_range("2031-04-29 05:00", periods=HOURS, freq="h", tz="UTC")
    return Weather(
        times=times,
        values=values,
        weights=np.ones(1),
        kind="forecast",
        origin={x.name: "given" if x.name in values else "missing" for x in COLUMNS},
        issued=times[2],
        issued_from="first hour",
        place=WeatherPlace(
            latitude=-44.0, longitude=93.0, elevation=290.0, name="Quillet Höhe"
        ),
        format="plain",
        credit="Quillet met office, CC BY 4.0",
        gust_meaning="hour maximum",
        gust_resolution=1.0,
        notes=(
            Note(code="impossible", text="Row 17: a wind of 468 m/s was left out.", doubt=True),
            Note(code="label", text="Times label the end of the hour and were shifted."),
        ),
    )


@pytest.mark.parametrize("units", ["us", "si"])
def test_weather_report_fits_a_terminal(weather: Weather, units: str) -> None:
    """80 columns of ASCII without the words kept for the code."""
    report = weather_report(weather, units=units, time_zone="America/Chicago")
    assert max(map(len, report.split("\n"))) <= 80
    assert report.isascii()
    assert not FORBIDDEN.findall(report)


def test_weather_report_says_what_was_found(weather: Weather) -> None:
    """Place, span, blanks with their share, doubts apart from notes, and the credit."""
    report = " ".join(weather_report(weather, units="us", time_zone="America/Chicago").split())
    assert "44.00 S 93.00 E" in report
    assert "48 hours, Tue Apr 29 2031 12:00 am to Wed Apr 30 2031 11:00 pm" in report
    assert "taken as its first hour" in report
    assert "9 of 48 gusts are blank (19 of 100)" in report
    assert "temp_air given 0 32 to 68 F" in report
    assert "wind_speed given 0 5.0 to 5.0 mph" in report
    assert "pressure given 48 no data" in report
    assert "Doubts Row 17" in report
    assert "Notes Times label" in report
    assert "CC BY 4.0" in report


def test_missing_columns_are_named(weather: Weather) -> None:
    """What the file does not have is listed."""
    report = weather_report(weather, units="si")
    missing = " ".join(report.split("Not there")[1].split("\n\n")[0].split())
    assert "ghi" in missing
    assert "temp_air" not in missing


def test_no_gusts_at_all(weather: Weather) -> None:
    """A file without gusts is said to have none, not to be calm."""
    values = {name: array for name, array in weather.values.items() if name != "wind_gust"}
    bare = replace(weather, values=values, origin=weather.origin | {"wind_gust": "missing"})
    report = weather_report(bare, units="si")
    assert "Gusts       The file has none: every gust is estimated" in report


def test_blank_gusts_are_said_once(weather: Weather) -> None:
    """The reader's own note on blank gusts is not printed beside their count."""
    note = Note(code="gusts_missing", text="9 gusts are missing.", doubt=True)
    assert note.text not in weather_report(replace(weather, notes=(note,)), units="si")


def test_weather_record(weather: Weather) -> None:
    """The same counts as the words, in SI and UTC; strict JSON."""
    record = inspect_1(weather=weather)
    assert record["job"] is None
    about = record["weather"]
    assert about["first"] == "2031-04-29T05:00:00+00:00"
    blank = {x["name"]: x["blank_hours"] for x in about["columns"]}
    assert (blank["wind_gust"], blank["temp_air"], blank["ghi"]) == (BLANK, 0, HOURS)
    assert json.loads(dumps(record)) == record


def test_archive_report_says_what_an_archive_holds() -> None:
    """How many, from when to when, at which hours and how far, in the clock asked for."""
    text = archive_report(
        read_archive(SAMPLES / "archive.csv"), units="us", time_zone="America/Chicago"
    )
    assert "archive of 3 forecasts" in text
    assert "Tue Apr 28 2026 5:00 am to Thu Apr 30 2026 5:00 am" in text
    assert "at 5:00 am" in " ".join(text.split())
    assert "48 in each" in text
    assert "Larkfield" in text
    assert max(map(len, text.splitlines())) <= 80
    assert text.isascii()


def test_archive_record() -> None:
    """Three forecasts of 48 hours, at 10:00 UTC day after day, as the file's rows say."""
    record = inspect_1(archive=read_archive(SAMPLES / "archive.csv"))
    assert (record["weather"], record["job"]) == (None, None)
    about = record["archive"]
    assert (about["issues"], about["hours"]) == (3, [48, 48])
    assert about["issue_hours"] == ["10:00"]
    assert about["first"] == "2026-04-28T10:00:00+00:00"
    assert about["last"] == "2026-04-30T10:00:00+00:00"
    assert "wind_gust" in about["columns"]
    assert "ghi" not in about["columns"]
    assert json.loads(dumps(record)) == record


def report_of(plan: Plan, units: str) -> str:
    limits = {x.step.name: x.found.limits for x in plan.steps}
    return job_report(
        plan.job, sheets=plan.sheets, hardware=plan.hardware, limits=limits, units=units
    )


@pytest.mark.parametrize("units", ["us", "si"])
def test_job_report_fits_a_terminal(plan: Plan, units: str) -> None:
    """80 columns of ASCII without the words kept for the code."""
    report = report_of(plan, units)
    assert max(map(len, report.split("\n"))) <= 80
    assert report.isascii()
    assert not FORBIDDEN.findall(report)


def test_job_report_in_both_units(plan: Plan) -> None:
    """30.5 m is 100.1 ft; 51.4 kg weighs 113 lb; 9 m/s is 20.1 mph."""
    us = " ".join(report_of(plan, "us").split())
    si = " ".join(report_of(plan, "si").split())
    assert "39.4 ft x 100.1 ft, 113 lb each" in us
    assert "12.0 m x 30.5 m, 51 kg each" in si
    assert "may be left up to 20.1 mph" in us
    assert "may be left up to 9.0 m/s" in si


def test_job_report_gives_every_phase_and_shared_limits_once(plan: Plan) -> None:
    """A limit that holds for every phase is one line, not six."""
    report = report_of(plan, "us")
    for step in plan.job.steps:
        for phase in step.phases:
            assert phase.name in report
    assert report.count("rain at most 0.004 in: every phase") == 1
    assert "yours; 5 people hold 5.1" in report


def test_limits_of_finished_steps_are_not_listed(plan: Plan) -> None:
    """Every phase means every phase that is still to do."""
    end_wall, roof = plan.job.steps
    job = replace(plan.job, steps=(replace(end_wall, done=True), roof))
    report = report_of(replace(plan, job=job), "us")
    assert "End wall south, done" in report
    assert "hang and top clips" not in report
    assert "rain at most 0.004 in: every phase" in report


def flat(text: str) -> str:
    return " ".join(text.split())


def test_files_are_named(weather: Weather) -> None:
    """One file by its name; several with their number, as one record."""
    assert weather_report(weather, units="si", files=("a.csv",)).startswith("File        a.csv")
    both = flat(weather_report(weather, units="si", files=("a.csv", "b.csv")))
    assert both.startswith("Files 2 read as one: a.csv, b.csv")


@pytest.mark.parametrize(
    ("zone", "label", "said"),
    [
        ("America/New_York", "start", "labels the start of its hour. Times without an offset "
         "were read in America/New_York."),
        ("", "end", "labels the end of its hour. Each time in the file has its offset"),
        ("UTC", "closes", "belongs to the hour that it closes. Times without an offset were "
         "read in UTC."),
    ],
)  # fmt: skip
def test_clock_and_label_are_said(weather: Weather, zone: str, label: str, said: str) -> None:
    """What a time labels, and on which clock bare times were read."""
    assert said in flat(weather_report(replace(weather, zone=zone, label=label), units="si"))


def test_a_known_format_has_its_title() -> None:
    """As the map of the format says it."""
    weather = read_weather(SAMPLES / "knmi.txt")
    assert formats()["knmi"].title in flat(weather_report(weather, units="si"))
    assert inspect_1(weather=weather)["weather"]["title"] == formats()["knmi"].title


def test_gaps_are_counted_and_the_longest_is_dated() -> None:
    """Two gaps by hand; the reader's own note on them is not said again."""
    there = np.ones(96, bool)
    there[[5, 40, 41, 42]] = False
    note = Note(code="gaps", text="4 hours not in the file.")
    made = weather_with({"wind_speed": there, "temp_air": np.ones(96)}, notes=(note,))
    report = weather_report(made, units="si")
    said = "Gaps 2 of 4 h together; the longest, 3 h, from Wed Apr 30 2031 21:00 UTC."
    assert said in flat(report)
    assert note.text not in report
    about = inspect_1(weather=made)["weather"]
    assert about["gaps"] == [
        {"first": "2031-04-29T10:00:00+00:00", "hours": 1},
        {"first": "2031-04-30T21:00:00+00:00", "hours": 3},
    ]
    assert about["longest_gap"] == about["gaps"][1]
    whole = weather_with({"wind_speed": np.ones(9)})
    assert "Not one: no hour from first to last" in weather_report(whole, units="si")
    assert inspect_1(weather=whole)["weather"]["longest_gap"] is None


def test_years_of_a_record_that_lack_hours() -> None:
    """Of three years the one without a hole is not listed; the record counts all three."""
    there, gusts = np.ones(1096 * 24, bool), np.ones(1096 * 24, bool)
    there[10:20] = gusts[10:20] = False
    gusts[-100:] = False
    made = weather_with({"wind_speed": there, "wind_gust": gusts}, first="2030-01-01 00:00")
    report = flat(weather_report(made, units="si"))
    assert (
        "Years 2030: 8760 hours, 10 not there. 2032: 8784 hours, 100 without a gust." in report
    )
    counted = inspect_1(weather=made)["weather"]["years"]
    assert [x["missing"] for x in counted] == [10, 0, 0]
    assert [x["blank_gusts"] for x in counted] == [10, 0, 100]


def test_what_was_mended_is_apart_from_notes_and_doubts(weather: Weather) -> None:
    """A doubt stays a doubt even if something was mended."""
    notes = (
        Note(code="sorted", text="The rows were sorted."),
        Note(code="clock_once", text="An hour stands once.", doubt=True),
        Note(code="anything", text="Something else."),
    )
    report = flat(weather_report(replace(weather, notes=notes), units="si"))
    assert "Doubts An hour stands once." in report
    assert "Repaired The rows were sorted." in report
    assert "Notes Something else." in report
