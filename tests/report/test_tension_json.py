"""The contract tension/1 and the table: every key, SI units, null for no data."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from pathlib import Path

import pytest

from planner.errors import UsageError
from planner.report.record.tension import chart_csv, tension_1
from planner.report.record.windows import dumps, windows_1
from planner.report.save import SUFFIXES, TENSION_SUFFIXES, check_suffixes, tension_file
from tests.report.conftest import forecast_plan, window, with_roof
from tests.report.made_tension import CASES, SPANS, now_at, with_course

#: Typed from the contract tension/1.
CONTRACT = {
    "": "stress_free_c spans chart course now warnings",
    "spans": "span length_mm",
    "chart": "film_temp_c pull_mm words",
    "course": "time film_temp_c slack_mm tension_n_per_m share_of_yield share_of_channel",
}


@pytest.mark.parametrize("path", CONTRACT)
def test_every_key_of_the_contract_is_there(path: str) -> None:
    """Keys may be added and never left out."""
    record = tension_1(with_course())
    records = record[path] if path else [record]
    assert records
    for row in records:
        assert set(CONTRACT[path].split()) <= set(row)


@pytest.mark.parametrize("name", CASES)
def test_every_plan_is_strict_json(name: str) -> None:
    """No NaN, no infinity, no nought with a sign: a strict reader gives it back unchanged."""
    record = tension_1(CASES[name]())

    def refuse(word: str) -> None:
        raise AssertionError(word)

    assert json.loads(dumps(record), parse_constant=refuse) == record
    assert "-0.0" not in dumps(record)


def test_without_weather_there_is_no_course() -> None:
    """The keys are there, with no rows and nothing named."""
    record = tension_1(now_at(8.0))
    assert record["course"] == record["warnings"] == []
    assert record["named"] is None


def test_now_is_null_without_a_measured_film() -> None:
    """Nothing is measured, so nothing is said about now."""
    assert tension_1(with_course())["now"] is None


def test_pull_is_rounded_to_5_mm_and_changes_its_sign() -> None:
    """38.1 mm past snug is 40, 25.4 mm of slack is -25."""
    cold, hot = (tension_1(now_at(temp)) for temp in (8.0, 48.0))
    assert cold["now"]["pull_mm"] == {"over the bows": 40, "end to end": 75}
    assert hot["now"]["pull_mm"] == {"over the bows": -25, "end to end": -50}
    assert [row["pull_mm"]["over the bows"] for row in cold["chart"]] == [40, -25]
    assert [row["words"] for row in cold["chart"]] == ["pull", "leave a hand's slack"]


def test_spans_are_in_millimetres() -> None:
    """7.0 m is 7000 mm."""
    spans = tension_1(now_at(8.0))["spans"]
    assert {x["span"]: x["length_mm"] for x in spans} == {
        span: 1000 * long for span, long in SPANS.items()
    }


def test_the_course_has_local_times_and_null_for_no_data() -> None:
    """3 am of the place is five hours behind in summer time; 3 pm holds no data."""
    record = tension_1(with_course())
    blank, cold = record["course"][8], record["course"][20]
    assert cold["time"] == record["named"]["coldest"] == "2031-05-07T03:00:00-05:00"
    assert dt.datetime.fromisoformat(cold["time"]).utcoffset() == dt.timedelta(hours=-5)
    assert cold["tension_n_per_m"] == [100.0, 110.0, 220.0]
    assert blank["film_temp_c"] is blank["share_of_channel"] is None
    assert blank["tension_n_per_m"] == blank["share_of_yield"] == [None] * 3


def test_warnings_say_when_and_how_much() -> None:
    """The one strain of the plan, in its own unit."""
    assert tension_1(with_course())["warnings"] == [
        {
            "code": "slack-hot",
            "at": "2031-05-07T14:00:00-05:00",
            "value": 31.0,
            "allowed": 28.0,
            "unit": "mm",
        }
    ]


def test_the_table_is_the_chart_without_weather() -> None:
    """One row a film temperature, spans as columns."""
    table = list(csv.DictReader(io.StringIO(chart_csv(now_at(8.0)))))
    assert [float(row["film_temp_c"]) for row in table] == [8.0, 48.0]
    assert [int(row["pull_over_the_bows_mm"]) for row in table] == [40, -25]
    assert [int(row["pull_end_to_end_mm"]) for row in table] == [75, -50]


def test_the_table_is_the_course_with_weather() -> None:
    """One row an hour; an hour without data is blank, not a word that no program reads."""
    text = chart_csv(with_course())
    table = list(csv.DictReader(io.StringIO(text)))
    assert len(table) == 48
    assert table[20]["tension_most_n_per_m"] == "220.0"
    assert table[31]["slack_over_the_bows_mm"] == "25.4"
    assert table[8]["film_temp_c"] == table[8]["share_of_yield_middle"] == ""
    assert "nan" not in text.lower()


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("suffix", TENSION_SUFFIXES)
def test_every_plan_can_be_saved(name: str, suffix: str) -> None:
    """Each suffix makes a file that begins as such a file does."""
    begins = {".json": b"{", ".csv": b"", ".svg": b"<?xml", ".png": b"\x89PNG"}[suffix]
    made = tension_file(CASES[name](), suffix.upper(), units="us")
    assert made.startswith(begins)
    assert suffix != ".csv" or b"film_temp_c" in made.partition(b"\n")[0]


def test_only_tension_is_saved_as_a_table(tmp_path: Path) -> None:
    """A table is refused where windows are saved, and a page where tension is."""
    check_suffixes([tmp_path / "x.csv"], TENSION_SUFFIXES)
    with pytest.raises(UsageError, match=r"\.csv"):
        check_suffixes([tmp_path / "x.csv"], SUFFIXES)
    with pytest.raises(UsageError, match=r"\.pdf"):
        check_suffixes([tmp_path / "x.pdf"], TENSION_SUFFIXES)


def test_windows_carry_what_the_locks_need() -> None:
    """Shaded side, first night, and what would leave the band."""
    from dataclasses import replace

    best = replace(
        window("2031-05-01 06:15"), film_temp_shaded=7.2, first_night=(50.0, 80.04, 190.0)
    )
    strains = with_course().course.beyond
    record = windows_1(replace(with_roof(forecast_plan(), (best,)), beyond=strains))
    roof = record["steps"][1]["windows"][0]
    assert roof["film_temp_shaded_c"] == 7.2
    assert roof["first_night_n_per_m"] == [50.0, 80.0, 190.0]
    assert [x["code"] for x in record["warnings"]] == ["slack-hot"]
    plain = windows_1(forecast_plan())
    assert plain["warnings"] == []
    assert plain["steps"][1]["windows"][0]["first_night_n_per_m"] is None
