"""The verbs that go by past forecasts, on invented ones whose errors are known."""

import io
import json
import math
import os
import sys
import tomllib
from pathlib import Path
from unittest import mock

import numpy as np
import pandas as pd
import pytest

from tests.history import made_archive as made
from tests.test_cli import planner, refused

ROOT = Path(__file__).parents[1]
SHARED = Path(
    os.environ.get("FILM_WEATHER", Path(__file__).parents[2] / "shared" / "weather")
).resolve()
REAL = SHARED / "nyc_forecast_archive"
HERE = f"{made.LATITUDE},{made.LONGITUDE}"
CASE = ROOT / "tests" / "data" / "replay_case.toml"


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Forecasts and observations with their place, without it, and a job there."""
    folder = tmp_path_factory.mktemp("made")
    forecasts, came = made.made_tables()
    for name, table in (("forecasts", forecasts), ("came", came)):
        made.write_table(table, folder / f"{name}.csv")
        made.write_table(table, folder / f"{name}_nowhere.csv", placed=False)
    late = came.assign(time=came["time"] + pd.Timedelta(days=400))
    made.write_table(late, folder / "late.csv")
    made.write_table(came.drop(columns="wind_gust"), folder / "no_gusts.csv")
    made.write_table(came.iloc[:80], folder / "short.csv")
    one = forecasts[forecasts["issued"] == forecasts["issued"].iloc[0]]
    made.write_table(one, folder / "one.csv")
    lines = []
    for line in CASE.read_text(encoding="utf-8").splitlines():
        place = {"latitude": made.LATITUDE, "longitude": made.LONGITUDE}
        key = line.split(" ")[0]
        lines.append(f"{key} = {place[key]}" if key in place else line)
    (folder / "job.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def learned(files):
    """A table that stands alone, of every day: what it is in, and what was printed."""
    file = files / "learned.toml"
    done = planner("learn", files / "forecasts.csv", files / "came.csv", "--alone", "--json",
                   "--save", file)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return file, json.loads(done.stdout)


@pytest.fixture
def two(files):
    return files / "forecasts.csv", files / "came.csv"


@pytest.fixture(autouse=True)
def elsewhere(tmp_path, monkeypatch):
    """Run in an empty folder, so that what is written there is seen."""
    monkeypatch.chdir(tmp_path)


def clean(done):
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def test_learn_finds_the_errors_that_were_put_in(learned):
    """Bias and what is left of the error, in the square roots in which they were drawn."""
    table = tomllib.loads(learned[0].read_text(encoding="utf-8"))
    days = slice(0, 4)  # there are three days of leads
    assert table["gust"]["too_high"][days] == pytest.approx([made.TOO_HIGH] * 4, abs=0.05)
    assert table["gust"]["typical"][days] == pytest.approx([made.LEFT] * 4, rel=0.12)
    assert table["temp"]["too_high"][days] == pytest.approx([made.AIR_TOO_HIGH] * 4, abs=0.2)
    assert table["months"] == ["2030-03", "2030-04", "2030-05"]
    assert (table["latitude"], table["longitude"]) == (made.LATITUDE, made.LONGITUDE)
    assert table["name"] == "learned"
    assert table["source"] == "forecasts.csv against came.csv, 2030-03-03 to 2030-05-04"


def test_learn_says_in_json_what_it_found(learned):
    """A gust is the square of its root: its bias follows from the two spreads."""
    file, record = learned
    assert (record["schema"], record["file"], record["leans_on"]) == (
        "learn/1",
        str(file),
        None,
    )
    gust = made.TOO_HIGH**2 + 2 * made.TOO_HIGH * made.MEAN + made.ERROR**2
    of = {(x["quantity"], x["days_ahead"]): x for x in record["misses"]}
    assert of["gust", 1]["too_high"] == pytest.approx(gust, rel=0.12)
    assert of["gust", 1]["after"] < of["gust", 1]["as_it_comes"]
    assert of["gust", 5]["as_it_comes"] is None
    assert record["time_zone"] == made.ZONE
    assert (record["forecasts"], record["cases"]) == (120, 120 * made.LEADS)


def test_learn_writes_a_dated_table_here(two, tmp_path):
    """Named by the local day of the last pair; a terminal's page; never over another file."""
    text = clean(planner("learn", *two, "--units", "us"))
    assert [x.name for x in tmp_path.iterdir()] == ["forecast_error_2030-05-04.toml"]
    assert max(map(len, text.splitlines())) <= 80
    assert text.isascii()
    assert "Gust, mph" in text
    assert "--error forecast_error_2030-05-04.toml" in text
    assert "leans on" in text
    before = next(tmp_path.iterdir()).read_bytes()
    refused(planner("learn", *two), 1, "there already", "--save")
    assert [x.read_bytes() for x in tmp_path.iterdir()] == [before]


def test_learn_takes_the_days_it_is_told(two, tmp_path):
    """Issues of the local days, both included; no hour after the last of them."""
    options = ("--alone", "--json", "--from", "2030-03-10", "--to", "2030-03-31")
    record = json.loads(clean(planner("learn", *two, *options)))
    assert record["forecasts"] == 2 * 22
    assert record["first"] == "2030-03-10T06:00:00-05:00"
    assert record["last"] == "2030-03-31T23:00:00-05:00"
    assert record["months"] == ["2030-03"]
    assert record["cases"] == sum(
        min(made.LEADS, 24 * (22 - day) - hour) for day in range(22) for hour in (6, 18)
    )
    assert [x.name for x in tmp_path.iterdir()] == ["forecast_error_2030-03-31.toml"]


def test_where_the_place_comes_from(files):
    """By the job, as typed, by the file; if nobody says, the way out is told."""
    nowhere = [files / f"{name}_nowhere.csv" for name in ("forecasts", "came")]
    few = ("--alone", "--json", "--to", "2030-03-20")
    refused(planner("learn", *nowhere), 1, "where it is for", "--at", "--job")
    zones = [
        json.loads(clean(planner("learn", *nowhere, *few, *how)))["time_zone"]
        for how in (
            ("--at", HERE, "--save", "a.toml"),
            ("--at", "-33.9, 18.6", "--save", "b.toml"),
            ("--job", files / "job.toml", "--save", "c.toml"),
        )
    ]
    assert zones == [made.ZONE, "Africa/Johannesburg", made.ZONE]


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["--at", "here"], 1, ("--at", "not a place")),
        (["--at", "91,0"], 1, ("--at", "no place")),
        (["--at", "nan,nan"], 1, ("--at", "no place")),
        (["--at", "0,-30"], 1, ("at sea", "place.time_zone")),
        (["--at", HERE, "--job", "x.toml"], 1, ("--job and --at",)),
        (["--job", "none.toml"], 2, ("none.toml",)),
        (["--from", "May"], 1, ("--from", "not a date", "2026-05-09")),
        (["--to", "2030-02-30"], 1, ("--to", "not a date")),
        (["--from", "2030-04-02", "--to", "2030-04-01"], 1, ("comes before",)),
        (["--from", "2031-01-01"], 1, ("No forecast was issued", "2030-05-01")),
        (["--save", "table.csv"], 1, (".toml",)),
        (["--save", "no/folder/table.toml"], 1, ("no folder",)),
        (["--truth", "guess"], 1, ("--truth",)),
        (["--label", "closes"], 3, ("whole hours",)),
        (["--location", "K1"], 3, ("does not name it",)),
        (["--to", "2030-03-04"], 3, ("hours have both",)),
    ],
)
def test_learn_refuses(two, tmp_path, options, code, words):
    """One plain message, the right code, and no file."""
    refused(planner("learn", *two, *options), code, *words)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("forecasts", "observed", "words"),
    [
        ("forecasts.csv", "late.csv", ("do not overlap", "2030-03-03", "2031-06-08")),
        ("forecasts.csv", "no_gusts.csv", ("forecast gust and an observed one",)),
        ("came.csv", "forecasts.csv", ("came.csv", "no archive", "issued")),
        ("one.csv", "came.csv", ("one.csv", "one forecast only")),
        ("forecasts.csv", "forecasts.csv", ("120 forecasts", "one is wanted")),
        ("none.csv", "came.csv", ("none.csv",)),
    ],
)
def test_files_that_do_not_serve(files, tmp_path, forecasts, observed, words):
    """Both verbs say which file is wrong and why."""
    both = files / forecasts, files / observed
    for verb in (("learn", *both), ("replay", files / "job.toml", *both, "--blocked")):
        refused(planner(*verb), 3, *words)
    assert list(tmp_path.iterdir()) == []


def test_too_few_observations(files, tmp_path):
    """Eighty hours teach nothing; of one month only, there is no other to learn from."""
    both = files / "forecasts.csv", files / "short.csv"
    refused(planner("learn", *both), 3, "234 hours", "480 are needed")
    done = planner("replay", files / "job.toml", *both, "--blocked")
    refused(done, 3, "2030-03", "two months")
    assert list(tmp_path.iterdir()) == []


def test_a_place_is_chosen_in_the_file_that_has_several(files):
    """--location is for the station's file; the archive has one place and names none."""
    airports = ROOT / "data" / "samples" / "airports.csv"
    both = files / "forecasts.csv", airports
    refused(planner("learn", *both), 3, "--location")
    names = pd.read_csv(airports, comment="#")["origin"].unique()
    refused(planner("learn", *both, "--location", names[0]), 3, "do not overlap")
    refused(planner("learn", *both, "--location", "K1"), 3, "K1", names[0])


QUICK = ("--count", "40", "--to", "2030-03-25")


def test_replay_refuses_the_months_that_a_table_knows(files, two, learned):
    """The message names them and the three ways out."""
    done = planner("replay", files / "job.toml", *two, "--error", learned[0])
    refused(done, 1, "2030-03 to 2030-05", "--blocked", "--own-months", "--error")
    one = ("--to", "2030-03-20")
    done = planner("replay", files / "job.toml", *two, "--error", learned[0], *one)
    refused(done, 1, ": 2030-03.")


def test_replay_scores_own_months_if_told_and_says_so(files, two, learned):
    """The page warns; the record says it too."""
    run = ("replay", files / "job.toml", *two, "--error", learned[0], "--own-months", *QUICK)
    text = clean(planner(*run))
    assert "fitted on months that are scored here" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80
    record = json.loads(clean(planner(*run, "--json")))
    assert (record["own_months"], record["error"]) == (True, "learned")


def test_replay_blocked_runs_and_beats_the_plain_forecast(files, two):
    """Forecasts 0.3 too high are set right by what the other months teach."""
    record = json.loads(
        clean(planner("replay", files / "job.toml", *two, "--blocked", "--json", *QUICK))
    )
    assert record["schema"] == "replay/1"
    assert record["own_months"] is False
    assert record["fitted_on"] == "the other months of this archive"
    assert record["last"].startswith("2030-03-25")
    for day in record["by_day"]:
        assert day["brier"]["planner"] < day["brier"]["plain_forecast"]


def test_replay_takes_a_table_of_other_months(files, two):
    """Learned up to the end of March, scored from April on: nothing to refuse."""
    alone = ("--alone", "--to", "2030-03-31", "--save", "march.toml")
    clean(planner("learn", *two, *alone))
    april = ("--from", "2030-04-01", "--to", "2030-04-20", "--count", "40")
    text = clean(planner("replay", files / "job.toml", *two, "--error", "march.toml", *april))
    assert "fitted on months" not in text
    assert "march" in text


def test_replay_with_the_shipped_table_says_it_is_of_another_place(files, two):
    """Months of another place are not these months."""
    record = json.loads(clean(planner("replay", files / "job.toml", *two, "--json", *QUICK)))
    assert record["own_months"] is False
    assert record["error"] == "the table that comes with the planner"
    assert record["fitted_on"].endswith(", at another place")


def test_replay_draws_the_same_from_the_same_seed(files, two):
    """Another seed, other chances; the same seed, the same page."""
    run = ("replay", files / "job.toml", *two, *QUICK, "--to", "2030-03-14")
    pages = [clean(planner(*run, "--seed", seed)) for seed in (1, 1, 2)]
    assert pages[0] == pages[1] != pages[2]


def test_replay_is_saved_as_the_suffix_says(files, two, tmp_path):
    """Three files, whole, and nothing beside them."""
    names = ["chances.json", "chances.svg", "chances.png"]
    saves = [x for name in names for x in ("--save", name)]
    text = clean(planner("replay", files / "job.toml", *two, *QUICK, "--json", *saves))
    assert {x.name for x in tmp_path.iterdir()} == set(names)
    assert json.loads(Path(names[0]).read_text(encoding="utf-8")) == json.loads(text)
    assert "<svg" in Path(names[1]).read_text(encoding="utf-8")
    assert Path(names[2]).read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["--blocked", "--own-months"], 1, ("--blocked", "--own-months")),
        (["--blocked", "--error", "x.toml"], 1, ("--blocked", "--error")),
        (["--error", "none.toml"], 3, ("none.toml",)),
        (["--error", "job.toml"], 3, ("job.toml", "planner learn")),
        (["--save", "chances.pdf", "--error", "none.toml"], 1, (".svg",)),
        (["--save", "no/folder/chances.svg"], 1, ("no folder",)),
        (["--count", "3"], 1, ("--count",)),
        (["--from", "2029-01-01", "--to", "2029-01-31"], 1, ("No forecast was issued",)),
        (["--to", "2030-03-03"], 3, ("windows", "needed")),
    ],
)
def test_replay_refuses(files, two, tmp_path, options, code, words):
    """One plain message, the right code, and no file."""
    options = [files / x if x == "job.toml" else x for x in options]
    refused(planner("replay", files / "job.toml", *two, *options), code, *words)
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_left_over_where_writing_fails(files, two, tmp_path):
    """A folder that stands in the way: one message, no half-written file."""
    (tmp_path / "chances.json").mkdir()
    done = planner("replay", files / "job.toml", *two, *QUICK, "--save", "chances.json")
    refused(done, 1, "Cannot be written")
    (tmp_path / "table.toml").mkdir()
    refused(planner("learn", *two, "--save", "table.toml"), 1, "there already")
    assert {x.name for x in tmp_path.iterdir()} == {"chances.json", "table.toml"}
    assert not any(list(x.iterdir()) for x in tmp_path.iterdir())


class Terminal(io.StringIO):
    """Where somebody is looking."""

    def isatty(self):
        return True


def test_progress_is_shown_to_a_person_only(two):
    """A bar on standard error of a terminal; elsewhere nothing, and never on the page."""
    from planner import history_verbs

    run = ("learn", *two, "--alone", "--json", "--to", "2030-03-20")
    shown = Terminal()
    with mock.patch.object(history_verbs, "sys", mock.Mock(wraps=sys, stderr=shown)):
        done = planner(*run)
    assert "100%" in shown.getvalue()
    assert json.loads(done.stdout)["schema"] == "learn/1"
    assert clean(planner(*run, "--save", "other.toml"))


def test_inspect_says_what_an_archive_holds(files):
    """Its forecasts in words and as a record, where another verb wants one of them."""
    text = clean(planner("inspect", files / "forecasts.csv"))
    assert "archive of 120 forecasts" in text
    assert "11:00, 23:00" in text
    record = json.loads(clean(planner("inspect", files / "forecasts.csv", "--json")))
    assert record["weather"] is None
    assert record["archive"]["issues"] == 120
    assert record["archive"]["hours"] == [made.LEADS, made.LEADS]
    one = ("--issued", "2030-03-03T11:00Z")
    text = clean(planner("inspect", files / "forecasts.csv", *one))
    assert f"{made.LEADS} hours" in text
    refused(planner("windows", files / "job.toml", files / "forecasts.csv"), 3, "--issued")


@pytest.mark.skipif(
    not REAL.is_dir(), reason=f"no archive of real forecasts in {SHARED}; set FILM_WEATHER"
)
def test_real_forecasts_are_learned_from_and_scored(tmp_path):
    """Learned up to the end of a year, scored in the next: not refused, and better than luck.

    Luck is climatology: the share of windows that held in the other months.
    """
    both = (
        REAL / "forecasts_2023-10_2024-12.csv.gz",
        REAL / "analysis_2023-10_2025-01.csv.gz",
        *("--label", "start"),
    )
    place = ("--job", CASE, "--truth", "analysis", "--alone", "--to", "2023-12-31")
    found = json.loads(clean(planner("learn", *both, *place, "--json")))
    assert found["months"] == ["2023-10", "2023-11", "2023-12"]
    misses = {(x["quantity"], x["days_ahead"]): x for x in found["misses"]}
    raw = [misses["gust", days]["as_it_comes"] for days in (0, 1, 2, 3, 5)]
    assert raw == sorted(raw)
    assert all(x["after"] <= x["as_it_comes"] for x in misses.values())
    days = ("--from", "2024-01-01", "--to", "2024-02-15", "--count", "100")
    text = clean(planner("replay", CASE, *both, "--error", found["file"], *days, "--json"))
    record = json.loads(text)
    assert (record["issues"], record["own_months"]) == (46, False)
    near = [x["brier"] for x in record["by_day"][:4]]
    assert all(x["planner"] < x["climatology"] for x in near)
    assert math.fsum(x["planner"] for x in near) < math.fsum(x["plain_forecast"] for x in near)
    assert np.isfinite([x["cost"] for x in record["policies"]]).all()
    assert [x.name for x in tmp_path.iterdir()] == ["forecast_error_2023-12-31.toml"]
