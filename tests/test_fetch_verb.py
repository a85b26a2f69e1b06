"""The verb ``fetch``, against a server on this machine: what it writes, says, and refuses."""

import datetime as dt
import errno
import json
import os
import shutil
import socket
import tomllib
from pathlib import Path

import pytest
from werkzeug.serving import WSGIRequestHandler

from planner.weather.live.line import Line
from planner.weather.live.service import services
from planner.weather.read import read_weather
from tests.test_cli import planner, refused
from tests.weather.live.made_line import (
    BadServer,
    airport_reports,
    http_date,
    nws_grid,
    open_meteo_csv,
    whole_answer,
)

ROOT = Path(__file__).parents[1]


@pytest.fixture(autouse=True)
def at_home(tmp_path, monkeypatch):
    """A folder with a job, its own cache, no proxy, and nobody's contact."""
    for name in ("HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)
        monkeypatch.delenv(name.lower(), raising=False)
    monkeypatch.delenv("PLANNER_CONTACT", raising=False)
    monkeypatch.setenv("PLANNER_CACHE", str(tmp_path / "cache"))
    shutil.copy(ROOT / "data" / "larkfield.toml", tmp_path / "larkfield.toml")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        WSGIRequestHandler,
        "send_response",
        lambda self, code, message=None: self.send_response_only(code, message),
    )


def this_midnight():
    return dt.datetime.now(tz=dt.UTC).replace(hour=0, minute=0, second=0, microsecond=0)


@pytest.fixture
def address(httpserver, monkeypatch):
    """A server that gives a forecast of today, under the name of Open-Meteo."""
    body = open_meteo_csv(first=this_midnight())
    httpserver.expect_request("/v1/forecast").respond_with_data(body)
    base = httpserver.url_for("").rstrip("/")
    monkeypatch.setenv("PLANNER_ADDRESS_OPEN_METEO", base)
    return base


def fetch(*options):
    return planner("fetch", "larkfield.toml", "--from", *options)


def test_a_forecast_is_written_beside_the_job_and_planned_from(address):
    done = fetch("open-meteo")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    assert done.stdout.isascii()
    assert done.stdout.startswith("A forecast from Open-Meteo, for Larkfield house 2.\n")
    assert "just fetched" in done.stdout
    assert ", when this was first fetched" in " ".join(done.stdout.split())
    assert "Weather data by Open-Meteo.com, CC BY 4.0" in done.stdout
    assert "larkfield-forecast.source.toml" in done.stdout
    further = "planner windows larkfield.toml larkfield-forecast.csv"
    assert done.stdout.endswith(f"Next: {further}\n")
    weather = read_weather("larkfield-forecast.csv")
    assert weather.hours == 240
    told = tomllib.loads(Path("larkfield-forecast.source.toml").read_text(encoding="utf-8"))
    assert told["asked"][0].startswith(f"{address}/v1/forecast?latitude=44.02&longitude=-91.4&")
    planned = planner(*further.split()[1:], "--error", "none")
    assert planned.returncode == 0, planned.stderr


def test_the_record_says_the_same(address):
    done = fetch("open-meteo", "--json", "--save", "here.csv", "--days", "12")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["schema"] == "fetch/1"
    assert (told["service"], told["kind"], told["stale"]) == ("open-meteo", "forecast", False)
    assert (told["file"], told["source_file"]) == ("here.csv", "here.source.toml")
    assert "forecast_days=12" in told["asked"][0]
    assert told["hours"] == 240
    assert told["issued_from"] == "fetched"
    assert Path("here.csv").exists()


def test_a_second_fetch_is_a_copy_that_still_serves(address, httpserver):
    fetch("open-meteo")
    first = Path("larkfield-forecast.csv").read_bytes()
    done = fetch("open-meteo")
    assert "a copy of an answer that still serves" in done.stdout
    assert len(httpserver.log) == 1
    assert Path("larkfield-forecast.csv").read_bytes() == first


def test_offline_the_last_copy_is_used(address, monkeypatch):
    fetch("open-meteo")
    Path("larkfield-forecast.csv").unlink()

    def refuse(*_, **__):
        raise AssertionError("a connection was opened")

    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    done = fetch("open-meteo", "--offline")
    assert done.returncode == 0, done.stderr
    assert read_weather("larkfield-forecast.csv").hours == 240
    done = fetch("open-meteo", "--offline", "--days", "3")
    assert done.returncode == 0, done.stderr
    assert "asked for other days" in done.stdout
    assert read_weather("larkfield-forecast.csv").hours == 240
    refused(fetch("nws", "--offline", "--contact", "a@b.org"), 3, "no copy of an earlier")


def test_an_old_copy_says_so_first(address, httpserver, monkeypatch):
    """Six hours after the last fetching the service is out of order."""
    httpserver.clear()
    body = open_meteo_csv(first=this_midnight())
    before = http_date(dt.datetime.now(tz=dt.UTC) - dt.timedelta(hours=6))
    httpserver.expect_ordered_request("/v1/forecast").respond_with_data(
        body, headers={"Date": before}
    )
    for _ in range(4):
        httpserver.expect_ordered_request("/v1/forecast").respond_with_data("", status=500)
    monkeypatch.setitem(Line.__init__.__kwdefaults__, "pauses", (0.01,))
    assert "6 h ahead of the service's" in " ".join(fetch("open-meteo").stdout.split())
    done = fetch("open-meteo")
    assert done.returncode == 0
    first = " ".join(done.stdout.split("\n\n")[0].split())
    assert first == "OLD COPY, 6 h old, because localhost is out of order (500)."
    assert done.stderr == "localhost is out of order (500). Trying again in 0.01 s.\n"
    written = Path("larkfield-forecast.csv").read_text(encoding="utf-8")
    assert "# stale: localhost is out of order (500)" in written
    told = fetch("open-meteo", "--json")
    assert told.stderr == ""
    record = json.loads(told.stdout)
    assert (record["stale"], record["age_minutes"]) == (True, 360)
    assert record["why"] == "localhost is out of order (500)"


def test_a_line_that_fails_ends_with_three_and_leaves_the_old_file(tmp_path):
    Path("larkfield-forecast.csv").write_text("old", encoding="utf-8")
    with BadServer(lambda _, over: over.wait(3)) as server:
        done = fetch("open-meteo", "--address", server.base, "--deadline", "0.3")
    refused(done, 3, "open-meteo (127.0.0.1)", "within 0.3 s")
    assert Path("larkfield-forecast.csv").read_text(encoding="utf-8") == "old"
    assert sorted(path.name for path in tmp_path.glob("*.*")) == [
        "larkfield-forecast.csv",
        "larkfield.toml",
    ]


def test_errors_as_json_name_the_service():
    with BadServer(lambda caller, _: caller.sendall(whole_answer(b"<html>"))) as server:
        done = fetch("open-meteo", "--address", server.base, "--json")
    assert done.returncode == 3
    told = json.loads(done.stderr)
    assert (told["schema"], told["exit"]) == ("error/1", 3)
    assert told["file"] == "open-meteo (127.0.0.1)"
    assert "web page" in told["message"]


def test_a_full_disk_leaves_nothing_half_written(address, tmp_path, monkeypatch):
    Path("larkfield-forecast.csv").write_text("old", encoding="utf-8")
    plain = os.fdopen

    def full(handle, mode):
        file = plain(handle, mode)

        class Full:
            def __enter__(self):
                return self

            def __exit__(self, *_):
                file.close()

            def write(self, content):
                file.write(content[:100])
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        return Full()

    monkeypatch.setattr("planner.report.save.os.fdopen", full)
    refused(fetch("open-meteo"), 1, "larkfield-forecast.csv", "No space left on device")
    assert Path("larkfield-forecast.csv").read_text(encoding="utf-8") == "old"
    assert not list(tmp_path.glob("*.source.toml"))
    assert not list(tmp_path.glob(".larkfield*"))


@pytest.mark.parametrize("how", ["option", "environment", "job"])
def test_the_contact_comes_from_option_environment_or_job(httpserver, monkeypatch, how):
    grid = httpserver.url_for("/grid")
    httpserver.expect_request("/points/44.02,-91.4").respond_with_data(
        f'{{"properties": {{"forecastGridData": "{grid}"}}}}'
    )
    httpserver.expect_request("/grid").respond_with_data(nws_grid())
    monkeypatch.setenv("PLANNER_ADDRESS_NWS", httpserver.url_for("").rstrip("/"))
    job = Path("larkfield.toml")
    given = []
    if how == "option":
        given = ["--contact", "a@example.org"]
    if how != "job":
        monkeypatch.setenv("PLANNER_CONTACT", "b@example.org")
    text = job.read_text(encoding="utf-8")
    job.write_text('contact = "c@example.org"\n' + text, encoding="utf-8")
    done = fetch("nws", *given)
    assert done.returncode == 0, done.stderr
    who = {"option": "a", "environment": "b", "job": "c"}[how]
    for request, _ in httpserver.log:
        assert request.headers["User-Agent"].endswith(f" ({who}@example.org)")


def test_a_service_that_asks_for_no_contact_is_told_none(address, httpserver, monkeypatch):
    """Unless it was typed for this very question."""
    monkeypatch.setenv("PLANNER_CONTACT", "b@example.org")
    job = Path("larkfield.toml")
    text = job.read_text(encoding="utf-8")
    job.write_text('contact = "c@example.org"\n' + text, encoding="utf-8")
    for given in ([], ["--days", "3", "--contact", "a@example.org"]):
        done = fetch("open-meteo", *given)
        assert done.returncode == 0, done.stderr
    sent = [request.headers["User-Agent"] for request, _ in httpserver.log]
    assert "example.org" not in sent[0]
    assert sent[1].endswith(" (a@example.org)")


def test_the_doubts_of_a_service_are_told_and_written(address):
    done = fetch("open-meteo", "--json")
    told = json.loads(done.stdout)
    [doubt] = [note["text"] for note in told["notes"] if note["code"] == "from_service"]
    assert "some hours older" in " ".join(fetch("open-meteo").stdout.split())
    assert f"# doubt: {doubt}" in Path("larkfield-forecast.csv").read_text(encoding="utf-8")


def test_without_a_contact_the_way_to_give_one_is_told():
    refused(fetch("met-norway"), 1, "--contact", "PLANNER_CONTACT")


def test_airport_reports_are_written_as_what_was_measured(httpserver):
    httpserver.expect_request("/cgi-bin/request/asos.py").respond_with_data(airport_reports())
    done = fetch("iem", "--station", "KXYZ", "--address", httpserver.url_for("").rstrip("/"))
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("What a station measured from Iowa Environmental Mesonet")
    assert done.stdout.endswith("Next: planner inspect larkfield-observed.csv\n")
    assert read_weather("larkfield-observed.csv").kind == "observed"


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["open-metoe"], 1, ["no service", "open-meteo"]),
        (["open-meteo", "--save", "larkfield.toml"], 1, ['ending in ".toml"', ".csv"]),
        (["open-meteo", "--save", "nowhere/a.csv"], 1, ["no folder"]),
        (["open-meteo", "--address", "nonsense"], 1, ["--address", "not the address"]),
        (["open-meteo", "--days", "17"], 1, ["1 to 16 days"]),
        (["iem"], 1, ["--station"]),
    ],
)
def test_what_cannot_be_asked_is_refused_before_anything_is_done(
    options, code, words, tmp_path
):
    before = Path("larkfield.toml").read_bytes()
    refused(fetch(*options), code, *words)
    assert Path("larkfield.toml").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["larkfield.toml"]


def test_a_job_that_is_not_there_ends_with_two():
    refused(planner("fetch", "none.toml", "--from", "nws"), 2, "none.toml")


def test_the_help_names_every_service():
    """Whoever adds one names it there too."""
    said = planner("fetch", "--help").stdout
    assert all(name in said for name in services())


def test_the_line_of_the_readme(address):
    """`planner fetch JOB` and nothing else asks Open-Meteo, whose file `windows` reads."""
    done = planner("fetch", "larkfield.toml")
    assert done.returncode == 0, done.stderr
    assert "Open-Meteo" in done.stdout
    assert read_weather("larkfield-forecast.csv").issued_from == "fetched"
