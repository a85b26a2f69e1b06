"""The verb inspect: one file in full, many in a table, several as one; files it saves."""

import json
from pathlib import Path

import pytest

from tests.test_cli import FORECAST, JOB, planner, refused

ROOT = Path(__file__).parents[1]
SAMPLES = "data/samples"
HEAD = "time,temp_air,wind_speed,wind_gust,precipitation\n"


@pytest.fixture(autouse=True)
def in_the_checkout(monkeypatch):
    """Run from the top of the checkout, as the README does."""
    monkeypatch.chdir(ROOT)


def hours(day, rows, *, wind=3.0):
    """Give rows of a plain CSV, one an hour from the start of a day in June."""
    return [f"2031-06-{day + at // 24:02d}T{at % 24:02d}:00Z,12,{wind},{2 * wind + at % 3},0"
            for at in range(rows)]  # fmt: skip


@pytest.fixture
def files(tmp_path):
    """Two days each of one place, overlapping by a day, and one that is no weather."""
    north = HEAD + "\n".join(hours(1, 48)) + "\n"
    south = HEAD + "\n".join([*hours(2, 18), *hours(2, 48, wind=4.0)[18:]]) + "\n"
    for name, text in (("a.csv", north), ("b.csv", "what,is,this\n1,2,3\n"), ("c.csv", south)):
        (tmp_path / name).write_text("# kind: observed\n" * (name != "b.csv") + text)
    return tmp_path


def table(done):
    """Give the rows of the printed table."""
    return done.stdout.split("\n\n")[0].split("\n")[1:]


def test_many_files_make_a_table_and_a_refused_one_does_not_stop_it(files):
    """A row a file, the refused one in the middle; exit 3, and how to learn more."""
    done = planner("inspect", files / "a.csv", files / "b.csv", files / "c.csv")
    refused(done, 3, "1 of 3 was refused", "--full")
    first, middle, last = table(done)
    assert first.split()[:5] == ["a.csv", "planner", "2031-06-01", "2031-06-02", "48"]
    assert middle.startswith("b.csv")
    assert "refused: " in middle
    assert last.split()[:5] == ["c.csv", "planner", "2031-06-02", "2031-06-03", "48"]
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    assert done.stdout.isascii()
    assert "Columns" not in done.stdout


def test_full_prints_each_report_and_each_refusal(files):
    """As for one file, one after the other; the refused one says what to do."""
    names = [files / x for x in ("a.csv", "b.csv", "c.csv")]
    done = planner("inspect", "--full", *names)
    refused(done, 3, "b.csv")
    each = [planner("inspect", name) for name in names]
    assert done.stdout == f"{each[0].stdout}\n{each[2].stdout}"
    assert done.stderr == each[1].stderr
    assert [x.returncode for x in each] == [0, 3, 0]


def test_nothing_refused_is_exit_0(files):
    """Two good files: a table, nothing on the other channel."""
    done = planner("inspect", files / "a.csv", files / "c.csv")
    assert (done.returncode, done.stderr) == (0, "")
    assert len(table(done)) == 2


def test_all_refused_is_a_table_too(files):
    """Two that are no weather: two rows and exit 3."""
    (files / "d.csv").write_text("")
    done = planner("inspect", files / "b.csv", files / "d.csv")
    refused(done, 3, "2 of 2 were refused")
    assert all("refused: " in row for row in table(done))


def test_a_job_among_weather_files_is_reported_in_full(files):
    """Its report first, then the table; a refused job is exit 2, both are exit 3."""
    done = planner("inspect", files / "a.csv", JOB, files / "c.csv")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Job         Larkfield house 2")
    assert "\nfile " in done.stdout
    bad = files / "bad.toml"
    bad.write_text("name = 3\n")
    refused(planner("inspect", bad, files / "a.csv"), 2, "bad.toml")
    both = planner("inspect", bad, files / "b.csv")
    assert both.returncode == 3
    assert both.stderr.count("planner: ") == 2


def test_every_place_of_a_file_is_a_row():
    """Two airports in one sample, beside another file."""
    done = planner("inspect", f"{SAMPLES}/airports.csv", FORECAST)
    assert [row.split()[:2] for row in table(done)] == [
        ["airports.csv", "QXA"],
        ["airports.csv", "QXB"],
        ["forecast.csv", "planner"],
    ]


def test_as_one_joins_files_and_tells_the_overlap(files):
    """Three days from two times two; six hours of the day in both differ and are doubted."""
    done = planner("inspect", "--as-one", files / "a.csv", files / "c.csv")
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert text.startswith("Files 2 read as one: ")
    assert "72 hours, Sun Jun 1 2031 00:00 to Tue Jun 3 2031 23:00" in text
    assert "6 hours" in text.split("Doubts")[1]
    record = json.loads(
        planner("inspect", "--as-one", "--json", files / "a.csv", files / "c.csv").stdout
    )
    assert [Path(x).name for x in record["files"]] == ["a.csv", "c.csv"]
    assert record["weather"]["hours"] == 72
    refused(planner("inspect", "--as-one", files / "a.csv", files / "b.csv"), 3, "b.csv")


def test_json_is_a_line_a_file(files):
    """A record a file in order, the error's on the other channel; one file is indented."""
    names = [files / x for x in ("a.csv", "b.csv", "c.csv")]
    done = planner("inspect", "--json", JOB, *names)
    assert done.returncode == 3
    records = [json.loads(line) for line in done.stdout.splitlines()]
    assert [x["schema"] for x in records] == ["inspect/1"] * 3
    assert [Path(x["files"][0]).name for x in records] == ["larkfield.toml", "a.csv", "c.csv"]
    assert records[0]["job"]["name"] == "Larkfield house 2"
    assert [x["weather"]["hours"] for x in records[1:]] == [48, 48]
    error = json.loads(done.stderr)
    assert (error["schema"], error["exit"], Path(error["file"]).name) == ("error/1", 3, "b.csv")
    alone = planner("inspect", "--json", files / "a.csv").stdout
    assert json.loads(alone) == records[1]
    assert alone.startswith("{\n")


def test_save_draws_and_writes_the_availability(files):
    """Each suffix is what it says; the report is printed as without it."""
    names = [files / f"hours{x}" for x in (".png", ".svg", ".json")]
    saves = [word for name in names for word in ("--save", name)]
    done = planner("inspect", files / "a.csv", *saves)
    assert done.returncode == 0, done.stderr
    assert done.stdout == planner("inspect", files / "a.csv").stdout
    assert names[0].read_bytes().startswith(b"\x89PNG")
    assert "<svg" in names[1].read_text(encoding="utf-8")
    found = json.loads(names[2].read_text(encoding="utf-8"))["weather"]["availability"]
    assert found["rows"] == ["2031-06-01", "2031-06-02"]
    assert found["share"]["wind_gust"] == [[1.0] * 24] * 2


def test_save_is_of_one_weather(files):
    """Several files, no weather, several places, an archive, another suffix: exit 1."""
    picture = files / "hours.png"
    two = [files / "a.csv", files / "c.csv"]
    refused(planner("inspect", *two, "--save", picture), 1, "--as-one", "2 are named")
    refused(planner("inspect", JOB, "--save", picture), 1, "none is named")
    airports = f"{SAMPLES}/airports.csv"
    refused(planner("inspect", airports, "--save", picture), 1, "--location QXA")
    refused(planner("inspect", f"{SAMPLES}/archive.csv", "--save", picture), 1, "--issued")
    refused(planner("inspect", two[0], "--save", files / "hours.pdf"), 1, ".png")
    assert not picture.exists()
    assert planner("inspect", "--as-one", *two, "--save", picture).returncode == 0
    assert picture.exists()
    picture.unlink()
    one = ("--location", "QXA", "--save", picture)
    assert planner("inspect", airports, JOB, *one).returncode == 0
    assert picture.exists()
